"""From wear to days: the due window and its limiting cause."""
