"""Record shape "lives": each row of a table to one `LifeRow`, or to the reason why not."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.records.lives.life_cells import DATE_COLUMNS, HOUR_COLUMNS
from fleetstats.records.lives.life_reader import LifeReader, is_plain_id
from fleetstats.records.lives.plain_rows import NO, NO_DAY, UNKNOWN, YES, find_plain
from fleetstats.records.reading import Reading
from fleetstats.records.rows.reader import Account
from fleetstats.records.rows.row import RowInHand, check_decided, check_marks
from fleetstats.records.rows.totals import (
    ColumnSums,
    TotalLine,
    is_no_engine,
    stands_out,
    summed_hours,
    tell_sum,
)
from fleetstats.records.trouble.scan import Scanner
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.cells import text
from fleetstats.tables.coded import Coded, code_cells
from fleetstats.tables.columns import ColumnMatch, match_columns
from fleetstats.tables.memo import Memo
from fleetstats.tables.settle import settle_file
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.finding import Finding, Origin, make_finding
from fleetstats.vocabulary.ids import normalise_id


def read_lives(study: Study, record_file: RecordFile, table: RawTable) -> Reading:
    """Turn the rows of a table into lives.

    Every row becomes one `LifeRow` or one `SetAside`; what is odd becomes findings. Hours are
    on the study's life basis, in the meter that the row names.

    Parameters
    ----------
    study : Study
        The study.
    record_file : RecordFile
        The file's description.
    table : RawTable
        The file as read.

    Returns
    -------
    Reading
    """
    covariates = study.settings.groups.covariates
    categories = study.settings.categories.columns
    match = match_columns(table, LIFE_FIELDS, record_file.columns, covariates, categories)
    account: Account[LifeRow] = Account(
        table, record_file.source, findings=[*table.findings, *match.findings]
    )
    engines: dict[str, str] = {}
    trouble = Scanner(study.settings, record_file, "lives", match, table)
    if match.usable:
        conventions, odd = settle_file(
            table, record_file, match.index, numbers=(*HOUR_COLUMNS, *covariates),
            dates=DATE_COLUMNS,
        )  # fmt: skip
        account.findings += odd
        trouble.decimal = conventions.decimal
        if "entry_hours" not in match.index and table.rows:
            account.findings.append(tell_all_from_new(study.settings, table.file, table.sheet))
        reader = LifeReader(study.settings, record_file, match, conventions)
        totals, most_h = _find_totals(reader, table)
        lives = _plain_lives(reader, table, match)
        for i, (raw, plain) in enumerate(zip(table.rows, lives, strict=True)):
            if plain is not None and i not in totals:
                account.rows.append(plain)
                engines.setdefault(plain.engine_id, plain.engine)
                continue
            row = RowInHand(table=table, row=raw, match=match)
            account.take(row, _read_row(reader, row, totals.get(i), most_h))
            if row.engine:
                engines.setdefault(normalise_id(row.engine), row.engine)
        account.tell_words()
    else:
        account.take_none(match)
    return Reading(
        file=table.file,
        shape="lives",
        source=record_file.source,
        rows=tuple(account.rows),
        findings=tuple(account.findings),
        set_aside=tuple(account.set_aside),
        lines=tuple(r.row for r in table.rows),
        n_blank=table.n_blank,
        engines=tuple(engines.values()),
        trouble=trouble.scan(table.rows),
        heads=match.shown,
    )


def _read_row(
    reader: LifeReader, row: RowInHand, line: TotalLine | None, most_h: float
) -> LifeRow | None:
    """Return the life of a row that is not plain; `line` is what makes it look like a total."""
    if check_decided(row):
        return None
    check_marks(row)
    if is_no_engine(row, line):
        return None
    life = reader.read(row)
    if line is not None and line.why == "id" and not row.broken:
        tell_sum(row, line, most_h)
    return life


def _find_totals(reader: LifeReader, table: RawTable) -> tuple[dict[int, TotalLine], float]:
    """Return the rows that may be totals, by their place, and the most hours of any other row.

    Of those with a valid id only such as stand out are returned.
    """
    judge, at = reader.totals, reader.totals.match.index
    sums, rows = ColumnSums(), table.rows
    unit = reader.settings.hours.unit
    parse = Memo(lambda cell: summed_hours(cell, reader.decimal, unit))
    hours = np.array([parse(r.cells[at["exit_hours"]]) for r in rows], dtype=np.float64)
    look = np.array([judge.looks(r.cells[at["engine"]]) for r in rows], dtype=bool)
    found = sums.walk(hours, look, lambda i, n: judge.why(rows[i], n))
    kept = {i: x for i, x in found.items() if x.why != "id" or stands_out(x, sums.most_h)}
    return kept, sums.most_h


DATES_TOLD = ("in_service_date", "observed_from_date", "last_reading_date", "ended_date")


def _plain_lives(
    reader: LifeReader, table: RawTable, match: ColumnMatch
) -> Iterator[LifeRow | None]:
    """Yield the life of each row that has nothing odd in it, and None for every other."""
    # rows are as wide as the header
    cells = list(zip(*(r.cells for r in table.rows), strict=True))

    def column(name: str) -> Coded | None:
        at = match.index.get(name)
        return None if at is None else code_cells(cells[at] if cells else ())

    n = len(table.rows)
    at = match.index["engine"]
    columns = find_plain(reader, n, column, _usable(table, at))
    dates = {o: dt.date.fromordinal(o) for d in columns.days.values() for o in set(d.tolist())
             if o != NO_DAY}  # fmt: skip
    new, since, read, ended = (
        [dates.get(o) for o in columns.days[name].tolist()] for name in DATES_TOLD
    )
    flags = {YES: True, NO: False, UNKNOWN: None}
    labels = {k: ([words[i] for i in codes.tolist()]) for k, (codes, words) in
              columns.labels.items()}  # fmt: skip
    source, build, meter = (labels[k] for k in ("source", "build", "meter"))
    note = match.index.get("note")
    ends, end = columns.ends, columns.end.tolist()
    entry, stop, good = (x.tolist() for x in (columns.entry_h, columns.exit_h, columns.last_good_h))
    confirmed, teardown = columns.confirmed.tolist(), columns.found_at_teardown.tolist()
    count, told = columns.count.tolist(), columns.entry_told.tolist()
    for k, (raw, plain) in enumerate(zip(table.rows, columns.plain.tolist(), strict=True)):
        if not plain:
            yield None
            continue
        ending, cause = ends[end[k]]
        yield LifeRow(
            origin=Origin(file=table.file, row=raw.row, sheet=table.sheet),
            rows=(raw.row,),
            engine=text(raw.cells[at]),
            source=source[k],
            build=build[k],
            entry_h=entry[k],
            exit_h=stop[k],
            last_good_h=None if good[k] != good[k] else good[k],
            ending=ending,
            cause=cause,
            confirmed=flags[confirmed[k]],
            meter=meter[k],
            in_service=new[k],
            observed_from=since[k],
            last_reading=read[k],
            ended=ended[k],
            found_at_teardown=flags[teardown[k]],
            note="" if note is None else text(raw.cells[note]),
            count=count[k],
            entry_told=told[k],
        )


def _usable(table: RawTable, engine_at: int) -> Array:
    """Return (n,) bool: the engine id is plain, and the line has no mark of its own."""
    odd = {*table.short, *table.long, *table.merged, *table.formulas, *table.aside}
    out = np.empty(len(table.rows), dtype=bool)
    for k, raw in enumerate(table.rows):
        texts = [c for c in raw.cells if type(c) is str]
        out[k] = (
            raw.row not in odd
            and "".join(texts).isprintable()
            and is_plain_id(raw.cells[engine_at])
        )
    return out


def tell_all_from_new(settings: Settings, file: str, sheet: str = "") -> Finding:
    """Return the finding on a file without entry hours."""
    return make_finding(
        "all-from-new",
        column="entry_hours",
        file=file,
        sheet=sheet,
        since="overhaul" if settings.hours.basis == "since-overhaul" else "new",
    )
