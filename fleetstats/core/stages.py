"""Stages of a long run, named to whoever wants to show them."""

from __future__ import annotations


def silent(_stage: str) -> None:
    """Show nothing."""
