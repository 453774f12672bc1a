"""One decision about a cell or a row of a record file, and what it did."""

from __future__ import annotations

from fleetstats.core.value import Value, value

VALUE, ASIDE = "value", "set-aside"
"""What a mend does: give a cell another value, or set its row aside."""

EFFECTS = {
    "removed": "takes a failure out",
    "hours": "changes the hours of a failure",
    "cause": "changes the cause of a failure",
    "added": "makes the row tell of a failure",
}
"""What a mend can do to what its row tells of a failure, in words."""


@value
class Mend(Value):
    """A line of a study's mends.

    Parameters
    ----------
    file, digest, sheet : str
        The record file as the study names it, its SHA-256, and the sheet; blank where it has none.
    row : int
        Line in the file, as findings name it.
    column : str
        Head of the column as written; it may be blank where the row is set aside.
    act : str
        `VALUE` or `ASIDE`.
    old : str
        The cell as supplied, as clean text. It stays that of the supplied file if the cell is
        mended again: the last line of a cell holds.
    new : str
        What is read instead; blank where the row is set aside.
    why, by, when : str
        The reason, the role that decided, and the day (year-month-day).
    number : int
        Its place among the lines, from 1.
    """

    file: str
    digest: str
    row: int
    act: str
    why: str
    by: str
    when: str
    sheet: str = ""
    column: str = ""
    old: str = ""
    new: str = ""
    number: int = 0

    @property
    def place(self) -> tuple[str, str, int, str]:
        """Return what only one mend can hold of: a cell, or a row's being set aside."""
        return self.file, self.sheet, self.row, "" if self.act == ASIDE else self.column

    @property
    def where(self) -> str:
        """Return where it stands, for a person."""
        sheet = f" [{self.sheet}]" if self.sheet else ""
        column = f", column '{self.column}'" if self.column else ""
        return f"{self.file}{sheet} row {self.row}{column}"


@value
class Mended(Value):
    """A mend that was applied.

    Parameters
    ----------
    mend : Mend
    engine : str
        Engine that its row names, as mended.
    effect : str
        Key of `EFFECTS`; blank where it touches no failure.
    """

    mend: Mend
    engine: str = ""
    effect: str = ""
