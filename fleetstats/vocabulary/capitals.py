"""Capital and small first letters, for sentences only; words are compared by `fold`."""

from __future__ import annotations


def capital(text: str) -> str:
    """Return a text with a capital first letter; the others stay as they are."""
    return text[:1].upper() + text[1:]


def small(text: str) -> str:
    """Return a text with a small first letter, to follow within a sentence."""
    return text[:1].lower() + text[1:]
