"""Answers to a bay problem: whole visits chosen by linear and integer programming, and the minutes of each."""
