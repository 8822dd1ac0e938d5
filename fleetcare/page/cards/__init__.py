"""Cards: frozen values with exactly what a page shows, made from the facts by pure functions."""
