"""Life against stress on the bench."""
