"""Estimates by counting alone, with no family assumed."""
