"""What chunks of columns ask of pyarrow beyond its own functions."""
