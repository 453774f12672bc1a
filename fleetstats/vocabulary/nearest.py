"""The nearest known word to one that is not known."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from fleetstats.vocabulary.fold import fold


def nearest(word: str, known: Iterable[str], *, cutoff: float = 0.6) -> str:
    """Return the nearest known word, or an empty text when none is near."""
    folded = {fold(k): k for k in known}
    close = difflib.get_close_matches(fold(word), list(folded), n=1, cutoff=cutoff)
    return folded[close[0]] if close else ""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return a sentence that names the nearest known word, or lists them all."""
    known = list(known)
    near = nearest(word, known)
    if near:
        return f"Did you mean '{near}'?"
    return f"Known are: {', '.join(known)}."
