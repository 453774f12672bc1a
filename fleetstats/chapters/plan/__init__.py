"""What it would take to show more."""
