"""Fit, families, routes and their sensitivity."""
