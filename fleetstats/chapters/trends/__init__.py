"""What checks show over time."""
