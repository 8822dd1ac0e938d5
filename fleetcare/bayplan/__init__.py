"""From due days to bay days: the problem, its prices, plans, what is wrong with them and why they are as they are."""
