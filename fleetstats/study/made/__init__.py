"""Settings that come from no study file."""
