"""Two studies of one fleet: what changed, and what each change did."""
