"""Failures that the records hint at and that no spell counts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id


@value
class LeftOut(Value):
    """A failure in question, or one that may be, which stands in the records and in no spell.

    Parameters
    ----------
    file, row : str, int
        Where it stands.
    low_h, high_h : float
        Hours between which it can have happened, on the study's clock and life basis: 0 and the
        oldest age in the records where nothing is known.
    reason : str
        Why no spell counts it, as a clause: "has no hours".
    engine, source, build, cause : str
        As written; blank where not said.
    count : int
        How many equal failures it stands for.
    """

    file: str
    row: int
    low_h: float
    high_h: float
    reason: str
    engine: str = ""
    source: str = ""
    build: str = ""
    cause: str = ""
    count: int = 1


def those_of(
    left_out: Iterable[LeftOut], column: str, name: str, known: set[str], *, others: bool
) -> Iterator[LeftOut]:
    """Yield the failures that may be of a group, or with `others` of the rest.

    `known` are the labels that spells have; a failure without one of them may be of any group.
    """
    form = normalise_id if column == "unit" else fold
    labels = {form(x) for x in known} - {""}
    for x in left_out:
        said = form(getattr(x, "engine" if column == "unit" else column))
        if said not in labels or (said == form(name)) != others:
            yield x
