"""Tests of the nouns."""
