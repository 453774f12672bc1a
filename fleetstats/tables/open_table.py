"""A record file of whatever kind to a table."""

from __future__ import annotations

from pathlib import Path

from fleetstats.core.doors.plain_files import kind_of_path
from fleetstats.study.study import RecordFile
from fleetstats.tables.table import MAX_BYTES, RawTable, TableError
from fleetstats.vocabulary.finding import make_finding
from fleetstats.vocabulary.slugs import suffix_of

WORKBOOKS = (".xlsx", ".xlsm")
TEXTS = (".csv", ".tsv", ".txt", ".tab")
PARQUETS = (".parquet", ".pq")


def open_table(record_file: RecordFile) -> RawTable:
    """Read a record file into a table, by the kind that its name says.

    Raises
    ------
    TableError
        If the file is too large, of an unknown kind, or not what its name says; the error
        carries the finding.
    """
    path, name = record_file.path, record_file.file
    kind = suffix_of(name)
    check_size(path, name)
    try:
        if kind in WORKBOOKS:
            from fleetstats.tables.xlsx_table import read_xlsx

            return read_xlsx(path, name, sheet=record_file.sheet, header_row=record_file.header_row)
        if kind in PARQUETS:
            from fleetstats.tables.parquet_table import read_parquet

            return read_parquet(path, name)
        if kind in TEXTS:
            from fleetstats.tables.csv_table import read_csv

            return read_csv(
                path,
                name,
                encoding=record_file.encoding,
                delimiter=record_file.delimiter,
                header_row=record_file.header_row,
            )
    except OSError as e:
        raise TableError(
            make_finding("file-unreadable/not-read", file=name, problem=e.strerror)
        ) from None
    raise unknown_kind(name)


def check_size(path: Path, name: str) -> None:
    """Raise TableError where a file cannot be opened, is empty, or too large to be read whole."""
    try:
        odd, size = kind_of_path(path), path.stat().st_size
    except OSError as e:
        raise TableError(
            make_finding("file-unreadable/not-opened", file=name, problem=e.strerror)
        ) from None
    if odd:
        raise TableError(make_finding("file-unreadable/not-regular", file=name, what=odd))
    if size > MAX_BYTES:
        raise TableError(
            make_finding(
                "file-too-large/bytes", file=name, mb=size / 2**20, most_mb=MAX_BYTES // 2**20
            )
        )
    if size == 0:
        raise TableError(make_finding("file-unreadable/empty", file=name))


def unknown_kind(name: str) -> TableError:
    """Return the error on a file of a kind that cannot be read."""
    known = ", ".join((*TEXTS, *WORKBOOKS, *PARQUETS))
    return TableError(
        make_finding("file-unreadable/kind", file=name, kind=suffix_of(name), known=known)
    )
