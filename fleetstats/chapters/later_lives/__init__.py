"""Lives after an overhaul beside first lives."""
