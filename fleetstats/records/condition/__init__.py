"""Checks, leak-down readings and bench runs."""
