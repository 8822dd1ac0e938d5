"""Letters going out."""
