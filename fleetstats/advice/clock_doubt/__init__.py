"""Quoted bounds under a stated doubt of the clocks."""
