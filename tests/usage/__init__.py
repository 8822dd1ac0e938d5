"""Checks of pace and forecast."""
