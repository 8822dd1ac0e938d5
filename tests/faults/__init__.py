"""Faults of the outside, played by real servers and processes: what may go wrong does, and nothing is lost by it."""
