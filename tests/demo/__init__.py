"""Tests of the invented garage, read as files."""
