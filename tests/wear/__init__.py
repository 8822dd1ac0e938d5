"""Checks of the share of an interval used up."""
