"""Heads of columns of a history: what happened, for which time, and what is told of it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain

from fleetstats.vocabulary.fields.headers import plain_name
from fleetstats.vocabulary.fields.histories import BARE, HAPPENINGS, NUMBERS, TOLD
from fleetstats.vocabulary.fold import fold

_HAPPENING = {plain_name(w): name for name, words in HAPPENINGS.items() for w in words}
_TOLD = {plain_name(w): name for name, words in TOLD.items() for w in words}
_BARE = {plain_name(w): told for w, told in BARE.items()}
_RENEWED = ("replaced", "changed", "renewed", "exchanged")
MOST_TIMES = 99


@dataclass(frozen=True, slots=True)
class Head:
    """What one column tells: of which happening, the how manieth, and what of it.

    `happening` is a word of `HAPPENINGS`, or a repair named by what was renewed, as "new crank".
    `told` is a word of `TOLD`; blank where the cells must tell whether it is hours or work.
    """

    happening: str
    told: str
    number: int = 1

    @property
    def name(self) -> str:
        """Return our name of the column."""
        return f"{self.happening} {self.told or 'work'} {self.number}"


def read_name(name: str) -> Head | None:
    """Return the head whose `Head.name` is given; None where it is no name of a happening."""
    happening, _, rest = name.rpartition(" ")[0].rpartition(" ")
    number = name.rpartition(" ")[2]
    if not happening or rest not in TOLD or not number.isdigit():
        return None
    return Head(happening, rest, int(number))


def read_head(header: str) -> Head | None:
    """Return what a head tells; None where it names no happening.

    Examples
    --------
    >>> read_head("Hours at 2nd failure")
    Head(happening='failed', told='hours', number=2)
    >>> read_head("new crank at [h]")
    Head(happening='new crank', told='hours', number=1)
    """
    # what stands in brackets is a unit, but for a number and the word that it is a day
    shown = re.sub(r"[\[(]\s*(\d+|date|day)\s*[\])]", r" \1 ", fold(header))
    words = re.sub(r"([a-z])(\d+)(?=\W|$)", r"\1 \2", plain_name(shown)).split()
    numbers = [n for w in words if (n := _number(w)) is not None]
    if len(numbers) > 1:
        return None
    number = numbers[0] if numbers else 1
    rest = [w for w in words if _number(w) is None]
    plain = " ".join(rest)
    if not plain or not 1 <= number <= MOST_TIMES:
        return None
    if plain in _BARE:
        return Head(*_BARE[plain], number)
    if plain == "repair":  # the hours of a repair, or what the one after a failure was
        return Head("repair", "", number)
    for inner, before, behind in _cuts(rest):
        happening = _HAPPENING.get(inner)
        told = _TOLD.get(" ".join(x for x in (before, behind) if x))
        if happening is not None and told is not None:
            return Head(happening, told, number)
    return _renewal(rest, number)


def _number(word: str) -> int | None:
    if word.isdecimal() and word.isascii():
        return int(word)
    return NUMBERS.get(word)


def _cuts(words: list[str]) -> Iterator[tuple[str, str, str]]:
    """Yield each run of words, the longest first, with what stands before and behind it."""
    n = len(words)
    for size in range(n, 0, -1):
        for start in range(n - size + 1):
            yield (
                " ".join(words[start : start + size]),
                " ".join(words[:start]),
                " ".join(words[start + size :]),
            )


def _renewal(words: list[str], number: int) -> Head | None:
    """Return a repair that is named by what was renewed: "new crank at", "crank replaced on"."""
    for inner, before, behind in _cuts(words):
        about = " ".join(x for x in (before, behind) if x)
        told = _TOLD.get(about)
        part = inner.split()
        if told not in ("hours", "date") or len(part) < 2:
            continue
        named = part[0] == "new" or part[-1] in _RENEWED
        inside = part[1:] if part[0] == "new" else part[:-1]
        if named and not any(w in _TOLD for w in inside):
            return Head(inner, told if about else "", number)
    return None


def part_of(happening: str) -> str:
    """Return the part that a repair named by what was renewed is about; else its own words.

    >>> part_of("new crank"), part_of("crank replaced"), part_of("field repair")
    ('crank', 'crank', 'field repair')
    """
    words = happening.split()
    if len(words) > 1 and words[0] == "new":
        words = words[1:]
    if len(words) > 1 and words[-1] in _RENEWED:
        words = words[:-1]
    return " ".join(words)


KNOWN_WORDS = tuple(chain.from_iterable(HAPPENINGS.values()))
"""Words for what happened, to propose where a head of the study file names none."""
