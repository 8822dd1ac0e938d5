"""Tests of the languages: catalogues, the language in force, and that no words of our own stand outside of them."""
