"""What is cut so that the brief stays on two pages: one rule for every face.

Each part has a room in printed lines. Its items are kept whole and in their order until the room is
full; what is left is counted, and the words name the part of the report that has all. Nothing is
cut of the question asked of whoever signs: the verdict, what is accepted, the weakest points, stop
rule, review and notice stand whole, but for a single text longer than `LONGEST` letters, which ends
with an ellipsis.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

LETTERS_A_LINE = 110
"""Letters of a printed line of the brief, a little fewer than there are."""

LONGEST = 420
"""Letters of one item; longer ones, as a title without end, are cut at a word."""

LONGEST_ANSWER = 900
"""Letters of a sentence of the answer: a verdict with all that is open about it is longer."""

LONGEST_STEP = 700
"""Letters of what to do next, where the plan is said in several sentences, and of what was not
examined, where a quick study names all that it left out."""

LONGEST_CELL = 60
"""Letters of a name in a small table."""

ROOM = {"first-cautions": 15, "departures": 26, "next": 12, "cautions": 11, "not-examined": 11}
"""Printed lines of each part that can grow."""

ROWS = 6
"""Rows of a small table."""


def clip(text: str, longest: int = LONGEST) -> str:
    """Return a text of at most so many letters, cut at a word.

    >>> clip("one two three", 9)
    'one two…'
    """
    if len(text) <= longest:
        return text
    head = text[: longest - 1]
    whole = head.rpartition(" ")[0]
    return (whole if len(whole) > longest // 2 else head).rstrip(" ,;:") + "…"


def lines_of(text: str) -> int:
    """Return how many printed lines a text takes."""
    return max(1, math.ceil(len(text) / LETTERS_A_LINE))


def fit(items: Iterable[str], room: int, longest: int = LONGEST) -> tuple[tuple[str, ...], int]:
    """Return the items that fit a room of printed lines, in order, and how many are left.

    At least one is kept. Where some are left, one line is kept for saying so.
    """
    told = [clip(x, longest) for x in items]
    if sum(lines_of(x) for x in told) <= room:
        return tuple(told), 0
    kept: list[str] = []
    used = 1
    for x in told:
        used += lines_of(x)
        if kept and used > room:
            break
        kept.append(x)
    return tuple(kept), len(told) - len(kept)


def fit_rows(
    rows: Sequence[tuple[str, ...]], most: int = ROWS
) -> tuple[tuple[tuple[str, ...], ...], int]:
    """Return the first rows of a small table, long names cut, and how many are left."""
    kept = tuple(tuple(clip(c, LONGEST_CELL) for c in row) for row in rows[:most])
    return kept, len(rows) - len(kept)


def say_more(left: int, where: str) -> str:
    """Say how many items were cut and where they stand; blank where none was.

    >>> say_more(5, "“Departures from default”")
    'and 5 more: “Departures from default”'
    """
    return f"and {left:,} more: {where}" if left else ""
