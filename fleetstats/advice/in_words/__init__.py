"""Failures whose hours are told in words: what a quoted edge makes of them."""
