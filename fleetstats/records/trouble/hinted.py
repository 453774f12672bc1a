"""A row of a record file that hints at trouble."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.vocabulary.finding import Origin

SAME_H = 0.05
"""Hours within which two ends of lives are one: half of what a meter shows."""


@value
class Hinted(Value):
    """A row that hints at trouble, as it was written.

    Parameters
    ----------
    file, row, sheet : str, int, str
        Where it stands.
    engine, source, build, cause, component : str
        As written, the cause as the study file maps it.
    ending : str
        What the ending of a life, or the kind of an event, was read as; blank where it could not.
    columns, words : tuple of str
        The cells that hint: head of the column, and what is written there.
    beside, unused, naming : tuple of str
        Those of the columns that tell neither ending nor cause nor confirmation; those of them that
        the study does not use; and those of these whose head tells of failures.
    grade : str
        ``"failure"`` where something is said to have failed, ``"sign"`` where something was wrong.
    confirmed : bool or None
    failing : bool
        Whether the ending, or the kind, is one of failures.
    unread : bool
        Whether the ending is a word that is not known.
    untold : str
        The case of ``failure-or-not`` that the cells alone call for; blank where they do not.
    told_h : float or None
        Hours of the failure that its words name, on the row's meter.
    hours_h : float or None
        Hours of the row's end or event on the row's meter; None where they are missing or cannot
        be read.
    meter : str
    count : int
        Engines that the row stands for.
    life_end_h : float or None
        Of a row that tells of several lives, the hours since new at which the life that the hint
        is of ended; None elsewhere, and where it is of none.
    """

    file: str
    row: int
    sheet: str = ""
    engine: str = ""
    source: str = ""
    build: str = ""
    cause: str = ""
    component: str = ""
    ending: str = ""
    columns: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    unused: tuple[str, ...] = ()
    naming: tuple[str, ...] = ()
    grade: str = ""
    confirmed: bool | None = None
    failing: bool = False
    unread: bool = False
    untold: str = ""
    told_h: float | None = None
    hours_h: float | None = None
    meter: str = ""
    count: int = 1
    life_end_h: float | None = None

    @property
    def origin(self) -> Origin:
        """Return where the row stands."""
        return Origin(file=self.file, row=self.row, sheet=self.sheet)

    def own(self, life: LifeRow) -> bool:
        """Return whether a life that stands on the row is the one that the hint is of."""
        if self.life_end_h is None:
            return True
        begun_h, end_h = life.life_start_h + life.entry_h, life.life_start_h + life.exit_h
        return begun_h < self.life_end_h - SAME_H and self.life_end_h <= end_h + SAME_H
