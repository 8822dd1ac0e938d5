"""Whether due windows can be trusted: invented worlds of private cars, real aircraft, scores and tables."""
