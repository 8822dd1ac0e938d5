"""Checks of the dial and the readings."""
