"""Tests mirror the rooms of fleetcare; see DEVELOPERS.md."""
