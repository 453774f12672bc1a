"""What counts as the failure."""
