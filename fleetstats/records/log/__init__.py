"""Rows of events, replayed into lives."""
