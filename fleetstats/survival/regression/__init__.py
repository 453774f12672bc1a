"""Covariates and trends."""
