"""Fleets that are only supposed, and by what they differ from the one that is known."""
