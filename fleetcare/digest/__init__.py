"""Values in, letters out: HTML and its plain twin."""
