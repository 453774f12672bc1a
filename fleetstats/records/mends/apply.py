"""A table with a study's mends in it. The one place where a mend reaches a row.

A mend holds for the very bytes that it was decided on: where the digest of the file, the row, the
column or the old value is another, it is refused, and the study stops.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from fleetstats.core.provenance import digest_file
from fleetstats.core.value import Value, value
from fleetstats.records.mends.cells import column_at, kinds_of, match_of, typed
from fleetstats.records.mends.effect import HistoryTells, told_of
from fleetstats.records.mends.log import MendLog
from fleetstats.records.mends.mend import ASIDE, Mend, Mended
from fleetstats.records.trouble.scan import FAILING, Scanner
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.cells import exact_text
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.settle import settle_file
from fleetstats.tables.table import RawRow, RawTable
from fleetstats.vocabulary.finding import Finding, make_finding

Cells = dict[int, Any]
"""New cells of a row, by position."""


@value
class MendedTable(Value):
    """A table as it is read: with its mends, what they did, and those that were refused."""

    table: RawTable
    mended: tuple[Mended, ...] = ()
    findings: tuple[Finding, ...] = ()


def mends_of(log: MendLog, file: RecordFile, sheet: str) -> tuple[Mend, ...]:
    """Return the mends that hold of one table."""
    if not log.mends:
        return ()
    return tuple(m for m in log.holding if m.file == file.file and m.sheet == sheet)


def mend_table(
    table: RawTable, file: RecordFile, settings: Settings, mends: Sequence[Mend], digest: str
) -> MendedTable:
    """Return a table with mends in it.

    Parameters
    ----------
    table : RawTable
        As supplied.
    file : RecordFile
        What the study says of it.
    settings : Settings
        Names the columns of numbers and of words.
    mends : sequence of Mend
        Those that hold of this table.
    digest : str
        SHA-256 of the file.
    """
    if not mends:
        return MendedTable(table=table)
    clerk = TableMends(table, file, settings, mends, digest)
    rows = {r.row: r for r in table.rows if r.row in clerk.by_row}
    for r in rows.values():
        clerk.take(r)
    clerk.close()
    return MendedTable(
        table=replace(
            table, aside=clerk.aside,
            rows=tuple(clerk.after.get(r.row, r) for r in table.rows),
        ),
        mended=clerk.told(lambda: _scanner(table, file, settings, clerk.match)),
        findings=tuple(clerk.findings),
    )  # fmt: skip


class TableMends:
    """The mends of one table while its rows come by.

    `after` holds mended rows by their lines, `before` the same as supplied, `aside` who set a row
    aside and why, `findings` what was refused.
    """

    def __init__(
        self,
        head: RawTable,
        file: RecordFile,
        settings: Settings,
        mends: Sequence[Mend],
        digest: str,
    ) -> None:
        self.head, self.file = head, file
        self.match = match_of(head, file, settings)
        self.kinds = kinds_of(self.match, file, settings)
        self.findings: list[Finding] = []
        self.before: dict[int, RawRow] = {}
        self.after: dict[int, RawRow] = {}
        self.aside: dict[int, tuple[str, str]] = {}
        self.done: dict[int, list[Mend]] = {}
        self.by_row: dict[int, list[Mend]] = {}
        for m in mends:
            if m.digest != digest:
                self.findings.append(
                    refuse(m, "mend-refused/digest", was=m.digest[:12], now=digest[:12])
                )
            else:
                self.by_row.setdefault(m.row, []).append(m)

    def take(self, raw: RawRow) -> None:
        """Mend one row."""
        cells: Cells = {}
        done = []
        for m in self.by_row.get(raw.row, ()):
            at = column_at(self.head.header, m.column) if m.column else None
            if m.column and at is None:
                self.findings.append(refuse(m, "mend-refused/column"))
                continue
            stands = "" if at is None else exact_text(raw.cells[at])
            if at is not None and stands != m.old:
                self.findings.append(refuse(m, "mend-refused/old", was=m.old[:60], now=stands[:60]))
                continue
            if m.act == ASIDE:
                self.aside[raw.row] = (m.by, m.why)
            elif at is not None:
                cells[at] = typed(m.new, self.kinds.get(at, ""))
            done.append(m)
        if done:
            self.before[raw.row], self.done[raw.row] = raw, done
            new = tuple(cells.get(i, c) for i, c in enumerate(raw.cells))
            self.after[raw.row] = replace(raw, cells=new)

    def close(self) -> None:
        """Refuse the mends of rows that did not come by."""
        refused = {f.row for f in self.findings}
        for row, mends in self.by_row.items():
            if row not in self.done and row not in refused:
                self.findings += [refuse(m, "mend-refused/row") for m in mends]

    def told(self, scanner: Any) -> tuple[Mended, ...]:
        """Return what the mends did; `scanner` makes the search for trouble where it is needed."""
        if not self.done:
            return ()
        search = scanner()
        return tuple(
            x
            for row, mends in sorted(self.done.items())
            for x in told_of(mends, self.before[row], self.after[row], self.match, search)
        )


def refuse(m: Mend, key: str, **fields: str) -> Finding:
    """Return the finding that a mend is not applied."""
    told: dict[str, Any] = {"number": m.number, "was": "", "now": "", "theirs": ""}
    return make_finding(
        key, file=m.file, sheet=m.sheet, row=m.row, column=m.column,
        value=m.new[:80], **(told | fields),
    )  # fmt: skip


def _scanner(
    table: RawTable, file: RecordFile, settings: Settings, match: ColumnMatch
) -> Scanner | HistoryTells | None:
    """Return the search for trouble of a table as supplied; None where its shape has none."""
    if file.shape == "histories" and match.usable:
        return HistoryTells(match, file)
    if file.shape not in FAILING or not match.usable:
        return None
    numbers = [n for n in match.index if n in ("hours", "exit_hours", "entry_hours")]
    told, _ = settle_file(table, file, match.index, numbers=numbers, dates=())
    return Scanner(settings, file, file.shape, match, table, told.decimal)


def with_mends(table: RawTable, file: RecordFile, study: Study, log: MendLog) -> MendedTable:
    """Return a table of a study as it is read, which is as supplied where nothing was decided."""
    mends = mends_of(log, file, table.sheet)
    if not mends:
        return MendedTable(table=table)
    return mend_table(table, file, study.settings, mends, digest_file(file.path))


def stray_mends(study: Study, log: MendLog, sheets: Mapping[str, Iterable[str]]) -> list[Finding]:
    """Return the mends that are of no table of the study.

    Parameters
    ----------
    study : Study
        Names its record files.
    log : MendLog
        Its mends.
    sheets : mapping
        Names of the sheets that were read, by file; a blank name where a file has none.
    """
    out = []
    files = {f.file for f in study.files}
    for m in log.holding:
        if m.file not in files:
            out.append(refuse(m, "mend-refused/file", theirs=m.file))
        elif m.sheet not in sheets.get(m.file, (m.sheet,)):
            out.append(refuse(m, "mend-refused/sheet", theirs=m.sheet))
    return out
