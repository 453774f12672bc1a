"""A row of a record file that hints at trouble."""

from __future__ import annotations

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.finding import Origin


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

    @property
    def origin(self) -> Origin:
        """Return where the row stands."""
        return Origin(file=self.file, row=self.row, sheet=self.sheet)
