"""A study from records to results; two studies compared."""
