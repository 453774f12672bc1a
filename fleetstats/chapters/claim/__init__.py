"""What may be claimed at given hours."""
