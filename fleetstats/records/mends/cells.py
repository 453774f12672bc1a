"""Columns of a table by the names that mends give them, and what a new value becomes."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from typing import Any

from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.tables.columns import ColumnMatch, match_columns
from fleetstats.tables.history_columns import find_columns
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.fields.bench import BENCH_FIELDS
from fleetstats.vocabulary.fields.checks import CHECK_FIELDS
from fleetstats.vocabulary.fields.field import Field
from fleetstats.vocabulary.fields.histories import HISTORY_FIELDS
from fleetstats.vocabulary.fields.history_heads import read_name
from fleetstats.vocabulary.fields.leakdown import LEAKDOWN_FIELDS
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS

NUMBER, DATE = "number", "date"

FIELDS: Mapping[str, tuple[Field, ...]] = {
    "lives": LIFE_FIELDS,
    "log": LOG_FIELDS,
    "histories": HISTORY_FIELDS,
    "checks": CHECK_FIELDS,
    "leakdown": LEAKDOWN_FIELDS,
    "bench": BENCH_FIELDS,
}
"""Columns that each shape of records knows; those of a history's happenings come by its heads."""

PLAIN_NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?")
PLAIN_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")


def match_of(table: RawTable, file: RecordFile, settings: Settings) -> ColumnMatch:
    """Return the columns of a table as the readers of its shape find them."""
    fields = FIELDS.get(file.shape, ())
    if file.shape == "histories":
        return find_columns(table, file, settings.categories.columns).match
    if file.shape != "lives":
        return match_columns(table, fields, file.columns)
    covariates, words = settings.groups.covariates, settings.categories.columns
    return match_columns(table, fields, file.columns, covariates, words)


def kinds_of(match: ColumnMatch, file: RecordFile, settings: Settings) -> dict[int, str]:
    """Return the positions that hold numbers and dates, with which of both."""
    hours = {f.name for f in FIELDS.get(file.shape, ()) if f.unit == "h"}
    numbers = {*hours, "count", *settings.groups.covariates}
    out = {}
    for name, at in match.index.items():
        happening = read_name(name) if file.shape == "histories" else None
        told = "" if happening is None else happening.told
        if name in numbers or told in ("hours", "reading"):
            out[at] = NUMBER
        elif name == "date" or name.endswith("_date") or told == "date":
            out[at] = DATE
    return out


def typed(new: str, kind: str) -> Any:
    """Return a new value as a cell: plain numbers and days do not hang on how a file writes them.

    Whatever else is given is read as if it stood in the file.
    """
    if kind == NUMBER and PLAIN_NUMBER.fullmatch(new):
        return float(new)
    if kind == DATE and PLAIN_DATE.fullmatch(new):
        try:
            return dt.date.fromisoformat(new)
        except ValueError:
            return new
    return new


def column_at(header: tuple[str, ...], column: str) -> int | None:
    """Return the position of the one column that is named so; None where none or several are."""
    found = [i for i in range(len(header)) if name_of(header, i) == column]
    return found[0] if len(found) == 1 else None


def name_of(header: tuple[str, ...], at: int) -> str:
    """Return the name by which mends know a column: its head, else its place from 1."""
    head = header[at].strip()
    return head if head and header.count(header[at]) == 1 else f"column {at + 1}"
