"""Rows of the table of speed: our call and theirs on the same data, and how both are timed."""
