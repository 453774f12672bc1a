"""Every failure, one line each."""
