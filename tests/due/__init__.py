"""Checks of due windows."""
