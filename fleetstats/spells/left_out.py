"""Failures that the records hint at and that no spell counts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id


@value
class CutLife(Value):
    """Lives that a failure without the name of its engine cuts short, all alike.

    Parameters
    ----------
    entry_h, lower_h, upper_h : float
        Hours at entry, and between which the life ended.
    event : int
        How it ended, as in `Spells`.
    n : int
        How many such lives there are.
    """

    entry_h: float
    lower_h: float
    upper_h: float
    event: int
    n: int

    @property
    def key(self) -> tuple[float, float, float, int]:
        """Return what spells of such lives have in common."""
        return self.entry_h, self.lower_h, self.upper_h, self.event


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
    life : CutLife or None
        Of a table whose rows are not kept: the lives of their engines that did not end in them.
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
    life: CutLife | None = None

    _not_in_dict = ("life",)


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
