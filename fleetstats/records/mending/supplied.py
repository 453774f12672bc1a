"""A study's record files beside each other: each table as supplied, with what locates its cells."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from typing import Any

from fleetstats.core.provenance import digest_file
from fleetstats.core.value import Value, value
from fleetstats.records.mends.cells import column_at, kinds_of, match_of, name_of
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.csv_table import csv_lines
from fleetstats.tables.open_table import TEXTS, WORKBOOKS, open_table
from fleetstats.tables.table import RawRow, RawTable, TableError
from fleetstats.tables.xlsx_table import xlsx_lines
from fleetstats.vocabulary.slugs import suffix_of

Lines = list[tuple[int, list[Any]]]
"""Lines of a table as they stand, each with its number."""


@value
class Supplied(Value):
    """A record file's table as supplied.

    Parameters
    ----------
    file : RecordFile
        As the study names it.
    table : RawTable
        Its rows; nothing is mended in it.
    match : ColumnMatch
        Which of our columns stands where.
    kinds : dict
        Positions that hold numbers and dates.
    digest : str
        SHA-256 of the file.
    rows : dict
        Its rows by their lines.
    """

    file: RecordFile
    table: RawTable
    match: ColumnMatch
    kinds: dict[int, str]
    digest: str
    rows: dict[int, RawRow]

    def position(self, column: str) -> int | None:
        """Return where a column stands that a finding names, by its head or by our name for it."""
        at = column_at(self.table.header, column)
        if at is None and column in self.match.index:
            return self.match.index[column]
        heads = [i for i, h in enumerate(self.table.header) if h.strip() == column.strip()]
        own = {i for n, i in self.match.index.items() if self.match.shown.get(n) == column}
        if at is None:
            at = next((i for i in heads if i in own), None)
        # of heads that stand twice in a history, the reader numbers the second
        return min(own) if at is None and len(own) == 1 else at

    def name(self, at: int) -> str:
        """Return the name by which mends know the column at a position."""
        return name_of(self.table.header, at)

    def lines(self) -> Lines:
        """Return every line of the file or sheet, those above the header too."""
        f, kind = self.file, suffix_of(self.file.file)
        if kind in WORKBOOKS:
            return xlsx_lines(f.path, f.file, self.table.sheet)
        if kind in TEXTS:
            return list(csv_lines(f.path, f.file, encoding=f.encoding, delimiter=f.delimiter))
        head = (self.table.header_row, list(self.table.header))
        return [head, *((r.row, list(r.cells)) for r in self.table.rows)]


def open_supplied(study: Study) -> dict[tuple[str, str], Supplied]:
    """Return the tables of a study by file and sheet; files that cannot be read are left out.

    What is wrong with those is a finding of the audit.
    """
    tables: dict[tuple[str, str], RawTable] = {}
    for file in study.files:
        with contextlib.suppress(TableError):
            tables[file.file, file.sheet] = open_table(file)
    return supplied_of(study, tables)


def supplied_of(
    study: Study, tables: Mapping[tuple[str, str], RawTable]
) -> dict[tuple[str, str], Supplied]:
    """Return what `open_supplied` does, of tables that are open, by file and sheet of the study."""
    out: dict[tuple[str, str], Supplied] = {}
    for file in study.files:
        table = tables.get((file.file, file.sheet))
        if table is None:
            continue
        match = match_of(table, file, study.settings)
        out[file.file, table.sheet] = Supplied(
            file=file,
            table=table,
            match=match,
            kinds=kinds_of(match, file, study.settings),
            digest=digest_file(file.path),
            rows={r.row: r for r in table.rows},
        )
    return out
