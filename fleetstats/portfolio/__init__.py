"""Many component families, studied and ranked."""
