"""One suite for each port, run on everything that implements it."""
