"""Tests of the room `work`."""
