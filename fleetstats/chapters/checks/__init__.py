"""Are the checks frequent enough."""
