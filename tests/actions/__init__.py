"""Tests of the actions."""
