"""Fleets made up on the design of one in hand: its ages and labels, lives under a stated law."""
