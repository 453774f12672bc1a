"""What may be quoted of lives that come as arrays."""
