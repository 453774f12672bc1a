"""One file of a table of any length, read and audited by chunks, ready to be joined to the others.

It is the work of one task: all that the whole needs of it travels back, so that who read it and in
which order changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from fleetstats.core.errors import DataError, ReadError
from fleetstats.core.pause import collection_paused
from fleetstats.core.provenance import SourceFile, digest_file
from fleetstats.core.stages import silent
from fleetstats.core.value import Array
from fleetstats.records.audit.bulk_audit import Tallies
from fleetstats.records.lives.life_cells import DATE_COLUMNS, HOUR_COLUMNS
from fleetstats.records.lives.life_reader import LifeReader
from fleetstats.records.lives.lives import tell_all_from_new
from fleetstats.records.told import WordCount, has_maps
from fleetstats.records.trouble.scan import Scanner
from fleetstats.spells.bulk.bulk_lives import BulkLives
from fleetstats.spells.bulk.bulk_rows import ChunkReader
from fleetstats.spells.bulk.bulk_table import BulkTable
from fleetstats.spells.bulk.kept_again import KeptAgain
from fleetstats.spells.bulk.kept_rows import Known
from fleetstats.spells.bulk.kept_table import KeptTable
from fleetstats.spells.tally import Tally
from fleetstats.spells.trouble.by_chunks import ChunkLedger
from fleetstats.study.leaves import departs_in
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.chunks import TextPlace
from fleetstats.tables.columns import ColumnMatch, match_columns
from fleetstats.tables.settle import Conventions, settle_file
from fleetstats.tables.table import RawTable, TableError
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.finding import Finding

SETTLED_ON = 5_000
"""First rows that settle the decimal mark and the order of dates."""

MARKS = {
    "key": np.uint64, "line": np.int64, "last_day": np.int32, "start_h": np.float64,
    "stop_h": np.float64, "enters": np.bool_, "life_h": np.float64, "new_day": np.int32,
    "failed": np.bool_, "state": np.int8,
}  # fmt: skip
"""What is kept of each row that stands for one engine, in as few bytes as hold it."""


@dataclass(slots=True, kw_only=True)
class PartRead:
    """What one file gave: its reader with all that it counted, its spells, and marks of its rows.

    `error` is what kept it from being read; then nothing else is there. `steady` says whether the
    file was the same at the end of the reading as at its beginning. `before` and `now` name
    the bytes of it of which rows were kept before and are now; `again` keeps rows read again.
    """

    table: BulkTable
    reader: ChunkReader | None = None
    tally: Tally = field(default_factory=Tally)
    marks: dict[str, Array] = field(default_factory=dict)
    source: SourceFile | None = None
    error: DataError | None = None
    steady: bool = True
    before: Known | None = None
    now: Known | None = None
    again: KeptAgain | None = None


NOTHING_KEPT = KeptTable()

Task = tuple[Study, RecordFile]


@collection_paused()
def read_part(
    task: Task, stage: Callable[[str], None] = silent, kept: KeptTable = NOTHING_KEPT
) -> PartRead:
    """Read one file of a study's table; what is wrong with it comes back as its `error`.

    Parameters
    ----------
    task : (Study, RecordFile)
        The study, and which of its files.
    stage : callable
        Told how many rows are read.
    kept : KeptTable
        Where its rows are kept from one run to the next.
    """
    study, file = task
    table = BulkTable(study, file)
    try:
        reader = make_reader(study, table, kept)
        part = PartRead(table=table, reader=reader)
        rows = kept.rows(study, file)
        marks: list[tuple[Array, ...]] = []
        rows.take_up(reader, part.tally, marks)
        for chunk in table.chunks(rows.after):
            lives = reader.read(chunk)
            add_lives(part.tally, lives, 1)
            marks.append(tuple(getattr(lives, x).astype(kind) for x, kind in MARKS.items()))
            rows.keep(chunk.end, reader, part.tally, marks)
            stage(f"reading the records: {reader.n_read:,} rows")
        if rows.after is not None and not rows.unchanged:
            return read_part(task, stage)  # what was taken up may be another file's
        columns = [list(c) for c in zip(*marks, strict=True)]
        marks.clear()
        for name, kind in MARKS.items():
            # one column after the other, so that no two stand twice in memory
            mine = columns.pop(0) if columns else []
            part.marks[name] = np.concatenate([np.empty(0, kind), *mine])
            mine.clear()
        # of engines since new the hours of the life are those of the meter: told once
        if np.array_equal(part.marks["stop_h"], part.marks["life_h"]):
            part.marks["stop_h"] = part.marks["life_h"]
        part.source = SourceFile(
            name=file.file, size_bytes=file.path.stat().st_size, sha256=digest_file(file.path),
            rows=reader.n_read,
        )  # fmt: skip
        part.steady = rows.unchanged
        part.before, part.now = rows.before, rows.now
    except TableError as e:
        return PartRead(table=table, error=ReadError(str(e.finding)))
    except DataError as e:
        return PartRead(table=table, error=e)
    return part


def add_lives(tally: Tally, lives: BulkLives, sign: int) -> None:
    """Add lives to a tally, or take them away again where `sign` is -1."""
    # what an ending counts as has the numbers of events: censored 0, failed 1, competing 2 …
    tally.add(
        lives.entry_h, lives.lower_h, lives.upper_h, lives.counts_as, sign * lives.weight,
        lives.clock_sd, lives.in_words, lives.label,
    )  # fmt: skip


def make_reader(
    study: Study, table: BulkTable, kept: KeptTable = NOTHING_KEPT
) -> ChunkReader:  # fmt: skip
    """Return the reader of a file, its conventions settled on the first rows or as `kept`.

    Raises
    ------
    ReadError
        If its columns cannot be told.
    TableError
        If it cannot be read.
    """
    tallies = Tallies(settings=study.settings)
    covariates = study.settings.groups.covariates
    file, head = table.file, table.head()
    match = match_columns(head, LIFE_FIELDS, file.columns, covariates)
    if not match.usable:
        errors = [str(f) for f in match.findings if f.severity == "error"]
        raise ReadError("\n".join(errors))
    told, odd = kept.settled(study, file).take_or_settle(
        covariates, lambda: _settle(table, head, match, covariates)
    )
    tallies.add(map(tallies.decide, (*match.findings, *odd)))
    if "entry_hours" not in match.index:
        tallies.add_many(tell_all_from_new(study.settings, file.file), 1)
    reader = LifeReader(study.settings, file, match, told)
    wanted = has_maps(file) or departs_in(study, "question")
    words = WordCount(file, head.header, match.index) if wanted else None
    scanner = Scanner(study.settings, file, "lives", match, head, told.decimal)
    ledger = ChunkLedger(study.settings, scanner)
    return ChunkReader(
        study=study, match=match, reader=reader, tallies=tallies, words=words, trouble=ledger,
        aside=table.aside,
    )  # fmt: skip


def _settle(
    table: BulkTable, head: RawTable, match: ColumnMatch, covariates: Sequence[str]
) -> tuple[tuple[Conventions, tuple[Finding, ...]], TextPlace | None]:
    """Return what the first rows settle and what is odd, and where the chunk ends that says so."""
    first = next(table.chunks(), None)
    n = 0 if first is None else min(first.n, SETTLED_ON)
    rows = () if first is None else (*first.raw_rows(range(n)), *(o.row for o in first.others))
    settled = settle_file(
        RawTable(file=table.file.file, header=head.header, rows=tuple(rows),
                 delimiter=head.delimiter),
        table.file, match.index, numbers=(*HOUR_COLUMNS, *covariates), dates=DATE_COLUMNS,
    )  # fmt: skip
    return settled, None if first is None else first.end
