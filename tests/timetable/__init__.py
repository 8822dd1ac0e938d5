"""Tests of the timetable."""
