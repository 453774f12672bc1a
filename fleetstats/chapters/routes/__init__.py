"""Several routes to one answer."""
