"""Readings, fleets and whole garages coming in and going out as files."""
