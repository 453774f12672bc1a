"""Mends: cells and rows of record files corrected beside them, and applied as they are read."""
