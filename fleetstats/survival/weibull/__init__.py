"""The Weibull maximum, for every kind of life."""
