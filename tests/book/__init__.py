"""Tests of the interval book."""
