"""Settings and the shipped and own configuration, read once, checked and frozen."""
