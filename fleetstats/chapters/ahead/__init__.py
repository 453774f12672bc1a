"""What comes: each engine, the fleet, and the look back."""
