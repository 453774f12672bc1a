"""Lives from a table of any length, by chunks, put together where they are equal."""
