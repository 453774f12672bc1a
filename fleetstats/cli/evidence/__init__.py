"""Verbs on evidence that leaves the house: brief, bundle, its check, declarations, the selftest."""
