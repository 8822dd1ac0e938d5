"""Work that was done, and what was found while doing it."""
