"""Limits from the likelihood itself."""
