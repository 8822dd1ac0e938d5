"""Tests of the room intake."""
