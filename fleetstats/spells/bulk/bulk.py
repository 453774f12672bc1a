"""One table of any length to spells: read and audited by chunks, equal spells put together.

Every row is accounted for as in a study of ordinary size, and the spells are those that the
ordinary readers would give, put together where they are equal. What compares each row with all
others is not looked for; `NOT_LOOKED_FOR` names them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from typing import Any

import numpy as np

from fleetstats.core.errors import ReadError, RecordError
from fleetstats.core.pause import collection_paused
from fleetstats.core.provenance import SourceFile, digest_file
from fleetstats.core.shelf import Shelf
from fleetstats.core.stages import silent
from fleetstats.core.value import Array, Value, value
from fleetstats.records.audit.audit_pairs import BACKWARDS_H, OVERLAP_H, audit_engines
from fleetstats.records.audit.bulk_audit import Tallies
from fleetstats.records.audit.far_lives import days_in_service, find_far_lives
from fleetstats.records.lives.life_cells import DATE_COLUMNS, HOUR_COLUMNS
from fleetstats.records.lives.life_reader import LifeReader
from fleetstats.records.lives.lives import tell_all_from_new
from fleetstats.records.lives.plain_rows import NO_DAY
from fleetstats.records.mends.mend import Mended
from fleetstats.records.spelling import named_causes
from fleetstats.records.told import ToldFile, WordCount, has_maps
from fleetstats.records.trouble.scan import Scanner
from fleetstats.spells.asserted import CHECK_ENDINGS
from fleetstats.spells.build import EndingCount
from fleetstats.spells.bulk.bulk_counts import beside_built, refuse_stopped
from fleetstats.spells.bulk.bulk_doubts import Doubts
from fleetstats.spells.bulk.bulk_lives import BulkLives
from fleetstats.spells.bulk.bulk_rows import ChunkReader, Ending
from fleetstats.spells.bulk.bulk_study import only_file
from fleetstats.spells.bulk.bulk_table import BulkTable
from fleetstats.spells.bulk.kept_rows import KeptRows, every_key
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.spells import Spells
from fleetstats.spells.tally import Tally
from fleetstats.spells.trouble.by_chunks import ChunkLedger
from fleetstats.spells.trouble.values import Trouble
from fleetstats.study.leaves import departs_in
from fleetstats.study.study import Study
from fleetstats.tables.columns import match_columns
from fleetstats.tables.settle import settle_file
from fleetstats.tables.table import RawTable, TableError
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.spelling import one_spelling

NOT_LOOKED_FOR = (
    "ids one slip of the pen apart, or alike to the eye",
    "lives copied under other ids",
    "returns of several senders to merge",
    "one engine under several spellings",
    "hours at which another row saw an engine run whose failure is set aside",
)
"""What needs each row beside all others, and is left to studies of ordinary size."""

SETTLED_ON = 5_000
"""First rows that settle the decimal mark and the order of dates."""

MARKS = ("key", "line", "last_day", "start_h", "stop_h", "enters", "life_h", "new_day", "failed")
"""What is held of each row that stands for one engine, to look at engines told twice."""

MOST_AGAIN = 500_000
"""Rows of engines told twice that are looked at one by one."""


@value
class Bulk(Value):
    """A large table as spells, with the account of its rows.

    Parameters
    ----------
    spells : Spells
        Weighted; labels are left out.
    n_read, n_used, n_set_aside, n_blank : int
        Rows: read = used + set aside; blank lines are no rows.
    reasons : dict
        How many rows were set aside for each reason.
    counts : dict
        How many findings there are of each kind.
    findings : tuple of Finding
        The first few of each kind.
    endings : tuple of EndingCount
        Engines by ending, cause, and what that counts as.
    engines, engines_used : int
        Different engines in the rows read, those set aside included; and in the lives used.
    n_fate_unknown : int
        Engines built that are in no row; 0 where the study does not say how many were built.
    checks_seen : bool
        Whether any life that counts tells of a check.
    source : SourceFile
    trouble : Trouble
        How many rows hint at a failure, and where they were counted; the first of each place.
    left_out : tuple of LeftOut
        Failures that no spell counts, those alike put together.
    not_looked_for : tuple of str
    told : ToldFile
        In which words rows tell of their end, as written.
    mended : tuple of Mended
        What was decided about cells and rows.
    mend_source : SourceFile or None
        The table of those decisions.
    """

    spells: Spells
    n_read: int
    n_used: int
    n_set_aside: int
    n_blank: int
    reasons: dict[str, int]
    counts: dict[str, int]
    findings: tuple[Finding, ...]
    endings: tuple[EndingCount, ...]
    engines: int
    engines_used: int
    n_fate_unknown: int
    checks_seen: bool
    source: SourceFile
    trouble: Trouble
    left_out: tuple[LeftOut, ...] = ()
    not_looked_for: tuple[str, ...] = NOT_LOOKED_FOR
    told: ToldFile | None = None
    mended: tuple[Mended, ...] = ()
    mend_source: SourceFile | None = None

    _not_in_dict = ("spells", "told", "mended", "mend_source")

    def summary(self) -> str:
        """Return the account of rows on one line."""
        return (
            f"{self.n_read:,} rows read = {self.n_used:,} used + {self.n_set_aside:,} set aside; "
            f"{self.engines:,} engines, {len(self.spells):,} different spells"
        )

    def __repr__(self) -> str:
        return f"Bulk: {self.summary()}"


@collection_paused()
def build_bulk(
    study: Study,
    *,
    stage: Callable[[str], None] = silent,
    shelf: Shelf | None = None,
    reads: Callable[[], tuple[str, ...]] = every_key,
) -> Bulk:
    """Read, audit and build the spells of a study with one table of any length.

    Parameters
    ----------
    study : Study
        With one record file of shape "lives", CSV or Parquet.
    stage : callable
        Told how many rows are read.
    shelf : Shelf, optional
        Where what rows gave is kept, and taken up again while they are as they were; None where
        cells of the table were decided about.
    reads : callable
        Says which settings were read, as ``table.key``; default, all of them.

    Returns
    -------
    Bulk

    Raises
    ------
    SettingError
        If the study asks for what cannot be done by chunks.
    ReadError
        If the file cannot be read, or its columns cannot be told.
    RecordError
        If findings stop the study, or no life is left; the message counts them.
    """
    file = only_file(study)
    try:
        table = BulkTable(study, file)
        kept = KeptRows(shelf, file, study.settings, reads)
        reader, tally, marks = _read_rows(study, table, stage, kept)
        tallies = reader.tallies
        if not marks:
            raise RecordError(f"'{file.file}' has a header and no rows: there is nothing to study.")
        engines, engines_used = _engines(table, reader, tally, marks, stage)
    except TableError as e:
        raise ReadError(str(e.finding)) from None
    for finding in (
        *reader.in_words.findings(file.file),
        *reader.fleet.findings(file.file, study.settings),
    ):
        tallies.add_many(finding, 1)
    unknown = beside_built(tallies, engines, study.settings.fleet.built)
    refuse_stopped(tallies)
    spells = tally.spells()
    if len(spells) == 0:
        raise RecordError("No life is left to study: every row was set aside or excluded.")
    n_aside = sum(tallies.reasons.values())
    trouble, left_out = reader.trouble.finish()
    return Bulk(
        spells=spells,
        n_read=reader.n_read,
        n_used=reader.n_used,
        n_set_aside=n_aside,
        n_blank=reader.n_blank,
        reasons=dict(tallies.reasons.most_common()),
        counts=dict(tallies.counts.most_common()),
        findings=tuple(f for first in tallies.shown.values() for f in first),
        endings=tuple(
            EndingCount(ending=e, cause=c, confirmed=ok, counts_as=k, reason=r, n=n)
            for (e, c, ok, k, r), n in _alike(reader.endings, study).most_common()
            if n
        ),
        engines=engines,
        engines_used=engines_used,
        n_fate_unknown=unknown,
        checks_seen=reader.checked or any(e[0] in CHECK_ENDINGS for e in reader.endings),
        trouble=trouble,
        left_out=left_out,
        source=SourceFile(
            name=file.file, size_bytes=file.path.stat().st_size, sha256=digest_file(file.path),
            rows=reader.n_read,
        ),
        told=None if reader.words is None else reader.words.told(),
        mended=table.mended(reader.trouble.scanner),
        mend_source=table.log.source,
    )  # fmt: skip


def _read_rows(
    study: Study, table: BulkTable, stage: Callable[[str], None], kept: KeptRows
) -> tuple[ChunkReader, Tally, list[tuple[Array, ...]]]:
    """Return what the rows gave; those that were read before, and are as they were, as kept."""
    reader, tally = _reader(study, table, Tallies(settings=study.settings)), Tally()
    marks: list[tuple[Array, ...]] = []
    kept.take_up(reader, tally, marks)
    for chunk in table.chunks(kept.after):
        lives = reader.read(chunk)
        _add(tally, lives, 1)
        marks.append(tuple(getattr(lives, name) for name in MARKS))
        kept.keep(chunk.end, reader, tally, marks)
        stage(f"reading the records: {reader.n_read:,} rows")
    if kept.after is not None and not kept.unchanged:  # what was taken up may be another file's
        return _read_rows(study, table, stage, KeptRows(None, table.file, study.settings))
    return reader, tally, marks


def _alike(endings: Counter[Ending], study: Study) -> Counter[Ending]:
    """Return endings with one spelling to each cause, in its reason too."""
    causes: Counter[str] = Counter()
    for told, n in endings.items():
        causes[told[1]] += n
    shown = one_spelling(causes, named_causes(study))
    out: Counter[Ending] = Counter()
    for (ending, cause, confirmed, counts_as, reason), n in endings.items():
        one = shown[fold(cause)]
        why = reason.replace(cause, one) if cause else reason
        out[ending, one, confirmed, counts_as, why] += n
    return out


def _reader(study: Study, table: BulkTable, tallies: Tallies) -> ChunkReader:
    """Return the reader, its conventions settled on the first rows."""
    covariates = study.settings.groups.covariates
    file, head = table.file, table.head()
    match = match_columns(head, LIFE_FIELDS, file.columns, covariates)
    if not match.usable:
        errors = [str(f) for f in match.findings if f.severity == "error"]
        raise ReadError("\n".join(errors))
    first = next(table.chunks(), None)
    n = 0 if first is None else min(first.n, SETTLED_ON)
    rows = () if first is None else (*first.raw_rows(range(n)), *(o.row for o in first.others))
    told, odd = settle_file(
        RawTable(file=file.file, header=head.header, rows=tuple(rows), delimiter=head.delimiter),
        file, match.index, numbers=(*HOUR_COLUMNS, *covariates), dates=DATE_COLUMNS,
    )  # fmt: skip
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


def _add(tally: Tally, lives: BulkLives, sign: int) -> None:
    # what an ending counts as has the numbers of events: censored 0, failed 1, competing 2 …
    tally.add(
        lives.entry_h, lives.lower_h, lives.upper_h, lives.counts_as, sign * lives.weight,
        lives.clock_sd, lives.in_words,
    )  # fmt: skip


def _engines(
    table: BulkTable, reader: ChunkReader, tally: Tally, marks: list[tuple[Array, ...]],
    stage: Callable[[str], None],
) -> tuple[int, int]:  # fmt: skip
    """Audit the rows of engines told more than once; return the engines named, and those used."""
    columns: list[Any] = [np.concatenate(x) for x in zip(*marks, strict=True)]
    marks.clear()
    key, line, last, start, stop, enters, life_h, new, failed = columns
    order = np.lexsort((start, key))
    sorted_key = key[order]
    again = np.zeros(len(key), dtype=bool)
    again[1:] = sorted_key[1:] == sorted_key[:-1]
    unnamed = reader.named - set(sorted_key[_among(sorted_key, reader.named)].tolist())
    n_engines = int((~again).sum()) + reader.many + len(unnamed)
    lines = line[:0]
    if again.any():
        lines = _doubtful(key, line, last, start, stop, order, again)
        if len(lines) > MOST_AGAIN:
            raise RecordError(
                f"{len(lines):,} rows tell of engines that other rows tell of over the same hours.",
                "Is the table in the file twice? Take the duplicates out first.",
            )
    day = reader.settings.study.analysis_date
    far = Doubts(reader, line, find_far_lives(life_h, days_in_service(new, last, day), failed, day))
    lines = np.union1d(lines, far.lines)
    if len(lines):
        gone = _look_again(table, reader, tally, lines, far, stage)
        enters &= ~np.isin(line, gone)
    used = sorted_key[enters[order]]
    return n_engines, len(used[:1]) + int((used[1:] != used[:-1]).sum()) + reader.many_entered


def _among(sorted_key: Array, named: set[int]) -> Array:
    return np.isin(sorted_key, np.array(sorted(named), dtype=np.uint64))


def _doubtful(
    key: Array, line: Array, last: Array, start: Array, stop: Array, order: Array, again: Array
) -> Array:
    """Return the lines of engines of which two rows share hours, or whose hours run backwards."""
    bad: list[Array] = []
    k, a = key[order], again
    # the greatest end so far within an engine, by a running greatest of ends per engine
    e = stop[order]
    group = np.cumsum(~a)
    high = np.maximum.accumulate(e + group * (2.0 * e.max(initial=1.0))) - group * (
        2.0 * e.max(initial=1.0)
    )
    share = np.zeros(len(k), dtype=bool)
    share[1:] = a[1:] & (start[order][1:] < high[:-1] - 0.5 * OVERLAP_H)
    # rows that say the same may tell of less than any overlap
    share[1:] |= a[1:] & (start[order][1:] == start[order][:-1])
    bad.append(k[share])
    dated = order[last[order] != NO_DAY]
    by_day = dated[np.lexsort((last[dated], key[dated]))]
    same = key[by_day][1:] == key[by_day][:-1]
    fewer = stop[by_day][1:] < stop[by_day][:-1] - 0.5 * BACKWARDS_H
    bad.append(key[by_day][1:][same & fewer])
    return np.unique(line[np.isin(key, np.concatenate(bad))])


def _look_again(
    table: BulkTable, reader: ChunkReader, tally: Tally, lines: Array, doubts: Doubts,
    stage: Callable[[str], None],
) -> list[int]:  # fmt: skip
    """Audit some rows against each other; return the lines of lives that are set aside for it."""
    stage(f"looking again at {len(lines):,} rows of engines told twice or beyond all others")
    lives = [x for chunk in table.chunks() for x in reader.read_again(chunk, lines)]
    lives.sort(key=lambda x: x[0].origin.row or 0)
    gone: dict[int, Finding] = {}
    read = [x for x, _ in lives]
    for finding, i in (*doubts.sums_of(read), *audit_engines(read), *doubts.far_of(read)):
        decided = reader.tallies.decide(finding)
        reader.tallies.add([decided])
        if decided.action != "accept" and lives[i][1]:
            gone.setdefault(i, decided)
    for finding in gone.values():
        reader.tallies.reasons[finding.code] += 1
    reader.n_used -= len(gone)
    for i, finding in gone.items():
        reader.trouble.take_back(lives[i][0], reader.verdict_of(lives[i][0]), finding)
    stay = [x for i, (x, used) in enumerate(lives) if used and i not in gone]
    reader.trouble.stand([(x, reader.verdict_of(x)) for x in stay])
    before = dict(reader.endings)
    _add(tally, reader.lives_of([lives[i] for i in gone]), -1)
    # what counting them again added is taken away twice
    for told, n in reader.endings.items():
        reader.endings[told] = 2 * before.get(told, 0) - n
    return [lives[i][0].origin.row or 0 for i in gone]
