"""Slips in a study file: where they stand, and what was likely meant."""
