"""A check that a member can run on a return alone, before it is sent."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from fleetstats.core.doors.plain_files import kind_of_path
from fleetstats.core.errors import ReadError
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.audit.finding import Audit
from fleetstats.records.readers import read_records
from fleetstats.records.template_xlsx import SHEETS
from fleetstats.study.settings import HoursKeys, Settings, StudyKeys
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.columns import match_columns
from fleetstats.tables.history_columns import find_columns
from fleetstats.tables.open_table import open_table
from fleetstats.tables.table import TableError
from fleetstats.tables.xlsx_table import list_sheets
from fleetstats.vocabulary.events import kind_of
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.slugs import suffix_of


def check_return(
    path: str | Path,
    *,
    shape: str = "",
    meter: str = "flight",
    on: dt.date | None = None,
) -> Audit:
    """Audit one return by itself.

    Parameters
    ----------
    path : str or Path
        The return: a filled-in template, or any table with columns that the reader knows.
    shape : {"", "lives", "log", "histories"}
        What a row stands for; empty tells by the sheet's name, else by the columns, else one row
        per engine life.
    meter : str
        Standard clock. Hours of other meters are left as they are, since a return cannot know the
        study's factors.
    on : date, optional
        Day of the check, today by default; dates after it are findings.

    Returns
    -------
    Audit
        As of a study, with the account of every row.

    Raises
    ------
    ReadError
        If there is no such file.
    """
    path = Path(path)
    if not path.exists():
        raise ReadError(f"There is no file '{path}'.", "Name the return to check.")
    if kind := kind_of_path(path):
        raise ReadError(f"'{path}' is {kind}, no regular file.", "Name the return to check.")
    sheets = _sheets(path)
    kind = shape or next((k for k, name in SHEETS.items() if name in sheets), "")
    kind = kind or _shape_of(path)
    sheet = SHEETS[kind] if SHEETS.get(kind) in sheets else ""
    study = Study(
        folder=path.parent,
        settings=Settings(
            study=StudyKeys(title=path.stem, analysis_date=on or dt.date.today()),
            # Each meter by itself: the hours are checked, not compared.
            hours=HoursKeys(
                meter=meter, factors={m: 1.0 for m in ("flight", "tach", "hobbs") if m != meter}
            ),
        ),
        files=(RecordFile(file=path.name, path=path, shape=kind, sheet=sheet),),
        chosen=frozenset(),
    )
    audit = audit_records(study, read_records(study))
    return Audit(
        findings=tuple(f for f in audit.findings if f.code not in NOT_A_MEMBERS),
        accounts=audit.accounts,
        set_aside=audit.set_aside,
        used=audit.used,
    )


NOT_A_MEMBERS = ("cause-undeclared", "meter-mixed")
"""Findings that only the study can mend: it names the causes and the factors."""


def _shape_of(path: Path) -> str:
    """Tell a log: more of its columns serve for events than for lives, and it tells of some.

    A table that is neither, and has columns of what happened to an engine, is one of histories.
    """
    try:
        table = open_table(RecordFile(file=path.name, path=path, shape="lives"))
    except TableError:
        return "lives"  # the reader says what is wrong with it
    lives, log = (match_columns(table, fields, {}) for fields in (LIFE_FIELDS, LOG_FIELDS))
    better = not lives.usable or len(log.index) > len(lives.index)
    if not lives.usable and not log.usable:
        told = find_columns(table, RecordFile(file=path.name, path=path, shape="histories"))
        return "histories" if told.match.usable and told.heads else "lives"
    if not (log.usable and better):
        return "lives"
    at = log.index["kind"]
    return "log" if any(kind_of(str(r.cells[at] or "")) for r in table.rows) else "lives"


def _sheets(path: Path) -> tuple[str, ...]:
    if suffix_of(path) not in (".xlsx", ".xlsm"):
        return ()
    try:
        return list_sheets(path, path.name)
    except TableError:
        return ()  # the reader says what is wrong with it
