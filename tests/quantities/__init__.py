"""Tests of units, spans and months."""
