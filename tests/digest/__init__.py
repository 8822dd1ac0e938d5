"""Letters: what concerns whom, how it is said, when it is due."""
