"""The words in which each row tells of its end, as written, and the maps that they meet."""

from __future__ import annotations

from collections.abc import Mapping

from fleetstats.records.told import ToldRows
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import text
from fleetstats.tables.columns import match_columns
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.fields.headers import meaning_of
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.fold import fold

Words = tuple[str, str]
"""Ending (of a log: the kind of event) and cause, as written; blank where nothing is."""


def words_written(table: RawTable, file: RecordFile) -> dict[int, Words]:
    """Return the words of each row of a table by its number in the file; shared where alike."""
    fields = LOG_FIELDS if file.shape == "log" else LIFE_FIELDS
    index = match_columns(table, fields, file.columns).index
    places = [index.get("kind" if file.shape == "log" else "ending"), index.get("cause")]
    known: dict[Words, Words] = {}
    out = {}
    for r in table.rows:
        end, cause = ("" if at is None else text(r.cells[at]) for at in places)
        out[r.row] = known.setdefault((end, cause), (end, cause))
    return out


def maps_met(row: ToldRows | Words, file: RecordFile) -> list[str]:
    """Return the entries of a file's maps that the words of a row meet: ``endings.failed``."""
    end = "kinds" if file.shape == "log" else "endings"
    ending, cause = row if isinstance(row, tuple) else (row.ending, row.cause)
    maps: Mapping[str, Mapping[str, str]] = {
        table: {fold(w): w for w in getattr(file, table)} for table in (end, "causes")
    }
    used = ((end, meaning_of(ending, maps[end])), ("causes", maps["causes"].get(fold(cause))))
    return [f"{table}.{word}" for table, word in used if word is not None]
