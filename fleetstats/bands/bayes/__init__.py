"""Limits from priors and mixtures over shape."""
