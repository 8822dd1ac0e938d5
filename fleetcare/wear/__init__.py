"""From pace and duty to the share of the interval used up."""
