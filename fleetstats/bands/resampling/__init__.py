"""Limits from refits of reweighted or simulated fleets."""
