"""A finding is data: where something odd stands in the records, what it is, and what to do."""

from __future__ import annotations

from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.vocabulary.findings import entry_of, say_finding


@value
class Origin(Value):
    """Where a row was written: file name relative to the study, sheet if any, line in it.

    The header is line 1 of a table, so the number is the one a spreadsheet shows.
    """

    file: str
    row: int | None = None
    sheet: str = ""

    def __str__(self) -> str:
        where = f"{self.file} [{self.sheet}]" if self.sheet else self.file
        return f"{where} row {self.row}" if self.row is not None else where


@value
class Finding(Value):
    """One odd thing: where, what was found, and what to do about it.

    `action` says what was done with the row: ``"stop"``, ``"set-aside"`` or ``"accept"`` (used as
    it stands). `related` names other rows concerned, such as the twin of a duplicate.
    """

    code: str
    severity: str
    message: str
    advice: str = ""
    file: str = ""
    row: int | None = None
    column: str = ""
    value: str = ""
    engine: str = ""
    sheet: str = ""
    related: tuple[str, ...] = ()
    action: str = "accept"

    @property
    def origin(self) -> Origin:
        """Return where the finding stands."""
        return Origin(file=self.file, row=self.row, sheet=self.sheet)

    def __str__(self) -> str:
        where = [str(self.origin)] if self.file else []
        where += [f"column '{self.column}'"] if self.column else []
        said = f"{self.message} {self.advice}".strip()
        return f"{', '.join(where)}: {said}" if where else said


def make_finding(
    key: str,
    /,
    *,
    file: str = "",
    row: int | None = None,
    column: str = "",
    value: str = "",
    engine: str = "",
    sheet: str = "",
    related: tuple[str, ...] = (),
    action: str = "",
    **fields: Any,
) -> Finding:
    """Return a finding with the severity and the words of the catalogue.

    Parameters
    ----------
    key : str
        A code of `fleetstats.vocabulary.findings`, with the case after a slash where it has some.
    file, row, column, value, engine, sheet, related
        Where it stands; the sentence may name the engine.
    action : str
        What is done about it; the kind's usual action where blank.
    **fields
        What the sentence and the cure name.

    Raises
    ------
    KeyError
        If the catalogue has no such code or case, or a field of its sentence is not given.
    """
    entry = entry_of(key)
    said = say_finding(key, **{"engine": engine} | fields)
    return Finding(
        code=entry.code,
        severity=entry.severity,
        message=said.sentence,
        advice=said.cure,
        file=file,
        row=row,
        column=column,
        value=value,
        engine=engine,
        sheet=sheet,
        related=related,
        action=action or entry.usual,
    )
