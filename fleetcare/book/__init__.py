"""The interval book: services, interval rules and where each figure is from. Files are read in `settings`."""
