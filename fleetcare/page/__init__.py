"""Values in, what a screen or a sheet of paper shows."""
