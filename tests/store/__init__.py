"""The store on real databases: what it keeps, and what it survives."""
