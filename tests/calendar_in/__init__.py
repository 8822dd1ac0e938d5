"""Tests of reading other people's calendars."""
