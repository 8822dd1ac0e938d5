"""Checks of the page room."""
