"""Values in, letters out: what concerns one person, as HTML and as plain text, and when it is due."""
