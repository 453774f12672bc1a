"""What a search for one sign hands on: the lives that bear it, and what would be expected."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from fleetstats.records.life import LifeRow
from fleetstats.vocabulary.wording import listed

RARE: Final = 0.001
"""A sign is found where chance would make it this seldom in any source (our own choice)."""

MOST_PLACES: Final = 5
"""Rows named in the table; the files hold the others."""

Codes = Mapping[int, Sequence[str]]
"""Places of lives with odd dates, and the codes of what the audit tells of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One sign as found.

    Parameters
    ----------
    key : str
        A key of `SIGNS`.
    n_looked : int
        How many could bear it.
    which : tuple of int
        Places of the lives that do, among those of the study.
    n_found : int or None
        Where it is not lives that are counted.
    found, expected : str
        In words; `expected` says what honest records would hold.
    unit : str
        What is counted.
    doubted : bool
        Whether the rows themselves are in doubt, so that the answer without them is asked.
    may_have_failed : bool
        Whether running engines among them may have failed unheard.
    """

    key: str
    n_looked: int
    which: tuple[int, ...] = ()
    n_found: int | None = None
    found: str = ""
    expected: str = "none"
    unit: str = "life"
    doubted: bool = False
    may_have_failed: bool = False
    sources: tuple[str, ...] = field(default=())


def by_source(rows: Sequence[LifeRow], which: Iterable[int]) -> Mapping[str, list[int]]:
    """Return the places of lives by their source."""
    out: dict[str, list[int]] = {}
    for i in which:
        out.setdefault(rows[i].source, []).append(i)
    return out


def each(parts: Mapping[str, str]) -> str:
    """Say what was found in each source; a single one without a name is not named."""
    return "; ".join(f"{s}: {t}" if s else t for s, t in parts.items())


def sources_of(rows: Sequence[LifeRow], which: Iterable[int]) -> tuple[str, ...]:
    """Return the sources of lives, or their files where they have none, each once."""
    return tuple(dict.fromkeys(rows[i].source or rows[i].origin.file for i in which))


def counted(parts: Mapping[str, int]) -> str:
    """Say counts by what they are of, the most first."""
    return listed([f"{n:,} {what}" for what, n in sorted(parts.items(), key=lambda x: -x[1])])
