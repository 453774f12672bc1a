"""Rows of lives, read and checked."""
