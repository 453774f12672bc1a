"""The clauses that a supported claim carries in its own sentence, on every face alike."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import rank_of
from fleetstats.vocabulary.wording import count

MOST_SAID: Final = 5
"""Clauses that one sentence can bear; further ones are counted, and stand among the cautions."""


def provisos_of(cautions: Iterable[Caution]) -> tuple[str, ...]:
    """Return the clauses that cautions ask for, those of the first rank first, each once."""
    asked = sorted((c for c in cautions if c.proviso), key=lambda c: rank_of(c.code))
    return tuple(dict.fromkeys(c.proviso for c in asked))


def but(provisos: Sequence[str], said: str = "") -> str:
    """Return the clauses as the end of a sentence; blank without any.

    What the sentence has `said` already is not said again.

    >>> but(("5 failures have no hours", "figures differ"))
    ', but 5 failures have no hours; and figures differ'
    """
    new = [p for p in provisos if p not in said]
    if not new:
        return ""
    told = new[:MOST_SAID]
    if len(new) > MOST_SAID:
        more = len(new) - MOST_SAID
        told.append(f"{count(more, 'further matter')} {'is' if more == 1 else 'are'} open")
    return ", but " + "; and ".join(x for x in ("; ".join(told[:-1]), told[-1]) if x)


def but_open(provisos: Sequence[str]) -> str:
    """Return, for a heading or a cell, how many matters are open; blank without any.

    >>> but_open(("5 failures have no hours",))
    ', but 1 matter is open'
    """
    n = len(provisos)
    return f", but {count(n, 'matter')} {'is' if n == 1 else 'are'} open" if n else ""
