"""What fails, and what an overhaul mends of it."""
