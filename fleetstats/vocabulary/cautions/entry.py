"""One kind of caution: its code, rank, sentences, limit and what to do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple

FIRST: Final = 1
"""Rank of a caution that may turn or take away the answer: read before the answer is used."""

SECOND: Final = 2
"""Rank of a caution that says under what conditions the answer holds."""


class Case(NamedTuple):
    """One case of a kind: the result in which it arises, its sentence, and its limits by name.

    `proviso` is what a claim that is called supported says of it in the same sentence, as a clause
    that follows "but": "5 failures have no hours". Blank where the case leaves a claim as it is.
    """

    where: str
    says: str
    limits: tuple[str, ...] = ()
    proviso: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionEntry:
    """A kind of caution, as the catalogue has it.

    Parameters
    ----------
    code : str
        Its stable word.
    rank : int
        `FIRST` or `SECOND`.
    meaning : str
        What the code stands for.
    cases : mapping
        Each case in which it is given; the case ``""`` is the one without a name. Fields in
        braces are named by the call; limits are names of `fleetstats.vocabulary.limits`.
    cure : str
        What a reader can do.
    """

    code: str
    rank: int
    meaning: str
    cases: Mapping[str, Case] = field(repr=False)
    cure: str


def caution_entry(
    code: str, rank: int, meaning: str, *, cure: str, cases: Case | Mapping[str, Case]
) -> CautionEntry:
    """Return an entry; a single case has no name."""
    named = {"": cases} if isinstance(cases, Case) else dict(cases)
    return CautionEntry(code=code, rank=rank, meaning=meaning, cases=named, cure=cure)
