"""One table of any length to spells: read and audited by chunks, equal spells put together.

Every row is accounted for as in a study of ordinary size, and the spells are those that the
ordinary readers would give, put together where they are equal. What compares each row with all
others is not looked for; `NOT_LOOKED_FOR` names them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from fleetstats.core.crew import Crew, crew_at_work, do_work
from fleetstats.core.errors import ReadError
from fleetstats.core.memory import give_back
from fleetstats.core.pause import collection_paused
from fleetstats.core.provenance import SourceFile
from fleetstats.core.stages import silent
from fleetstats.core.value import Value, value
from fleetstats.records.audit.bulk_audit import Tallies
from fleetstats.records.audit.finding import FileAccount
from fleetstats.records.audit.stopped import nothing_left
from fleetstats.records.mends.mend import Mended
from fleetstats.records.rows.heads import check_heads
from fleetstats.records.spelling import named_causes, spell_as
from fleetstats.records.told import ToldFile
from fleetstats.spells.asserted import CHECK_ENDINGS, LivesTold
from fleetstats.spells.build import EndingCount
from fleetstats.spells.bulk.bulk_counts import beside_built, refuse_stopped
from fleetstats.spells.bulk.bulk_engines import audit_rows
from fleetstats.spells.bulk.bulk_join import (
    accounts_of,
    heads_of,
    join_marks,
    join_spells,
    join_tallies,
    join_trouble,
    readers_of,
    refuse_to_merge,
    spelled,
    tell_fleet,
)
from fleetstats.spells.bulk.bulk_part import NOTHING_KEPT, PartRead, read_part
from fleetstats.spells.bulk.bulk_rows import ChunkReader, Ending
from fleetstats.spells.bulk.bulk_running import (
    BulkRunning,
    find_bulk_running,
    lines_of_engines,
    read_lives,
)
from fleetstats.spells.bulk.bulk_sample import BulkSample, count_lives, draw_lines, sample_of
from fleetstats.spells.bulk.bulk_study import table_files
from fleetstats.spells.bulk.kept_parts import KeptParts
from fleetstats.spells.bulk.kept_table import KeptTable
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.spells import Spells
from fleetstats.spells.tally import Label, Tally
from fleetstats.spells.trouble.cut_lives import names_of, not_sought, put_together
from fleetstats.spells.trouble.values import Trouble
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.table import TableError
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
    accounts : tuple of FileAccount
        The same, table by table.
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
    of_lives : LivesTold
        What the lives that count tell and leave untold.
    sources : tuple of SourceFile
        The files of the table.
    trouble : Trouble
        How many rows hint at a failure, and where they were counted; the first of each place.
    left_out : tuple of LeftOut
        Failures that no spell counts, those alike put together.
    not_looked_for : tuple of str
    told : tuple of ToldFile
        In which words rows tell of their end, as written, by file; none where nobody asks.
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
    accounts: tuple[FileAccount, ...]
    counts: dict[str, int]
    findings: tuple[Finding, ...]
    endings: tuple[EndingCount, ...]
    engines: int
    engines_used: int
    n_fate_unknown: int
    checks_seen: bool
    of_lives: LivesTold
    sources: tuple[SourceFile, ...]
    trouble: Trouble
    left_out: tuple[LeftOut, ...] = ()
    not_looked_for: tuple[str, ...] = NOT_LOOKED_FOR
    told: tuple[ToldFile, ...] = ()
    mended: tuple[Mended, ...] = ()
    mend_source: SourceFile | None = None

    _not_in_dict = ("spells", "accounts", "of_lives", "told", "mended", "mend_source")

    def summary(self) -> str:
        """Return the account of rows on one line."""
        return (
            f"{self.n_read:,} rows read = {self.n_used:,} used + {self.n_set_aside:,} set aside; "
            f"{self.engines:,} engines, {len(self.spells):,} different spells"
        )

    def __repr__(self) -> str:
        return f"Bulk: {self.summary()}"


@dataclass(frozen=True, slots=True, kw_only=True)
class BulkRead:
    """A table of any length, read: its account, and what is worked out of it by label and age.

    Parameters
    ----------
    bulk : Bulk
        The account, with the spells.
    tally : Tally
        The spells by label.
    labels : tuple of (cause, source, build)
        The text of each label, with one spelling to each word.
    in_service : dict
        Lives by build and by the day (proleptic ordinal) on which they were put into service.
    running : BulkRunning
        The engines that run.
    sample : BulkSample
        The lives that are looked at one by one.
    """

    bulk: Bulk
    tally: Tally
    labels: tuple[Label, ...]
    in_service: dict[tuple[str, int], int]
    running: BulkRunning
    sample: BulkSample

    def to_keep(self) -> BulkRead:
        """Return it without the spells, which the tally says again: they are half of it."""
        none = self.bulk.spells.select(np.zeros(len(self.bulk.spells), dtype=bool))
        return replace(self, bulk=replace(self.bulk, spells=none))

    def as_kept(self) -> BulkRead:
        """Return what `to_keep` made with its spells again."""
        return replace(self, bulk=replace(self.bulk, spells=self.tally.spells()))


def build_bulk(study: Study, *, stage: Callable[[str], None] = silent) -> Bulk:
    """Return the account and the spells alone of what `read_bulk` reads."""
    return read_bulk(study, stage=stage).bulk


@collection_paused()
def read_bulk(
    study: Study,
    *,
    stage: Callable[[str], None] = silent,
    crew: Crew | None = None,
    most_running: int | None = None,
    most_lives: int | None = None,
    kept: KeptTable = NOTHING_KEPT,
) -> BulkRead:
    """Read, audit and build the spells of a study with tables of any length.

    Parameters
    ----------
    study : Study
        With tables of shape "lives", CSV or Parquet, each in one file or in several.
    stage : callable
        Told how many rows are read.
    crew : Crew, optional
        Who reads the files, by default whoever is at work here; nothing but the time depends on it.
    most_running : int, optional
        As for `find_bulk_running`.
    most_lives : int, optional
        As for `draw_lines`.
    kept : KeptTable, optional
        Where rows are kept, and taken up again where they are as they were. Others who read keep
        no rows.

    Raises
    ------
    SettingError
        If the study asks for what cannot be done by chunks; `ReturnsToMerge` if returns of
        several tables are to be merged.
    ReadError
        If a file cannot be read, or its columns cannot be told.
    RecordError
        If findings stop the study, or no life is left; the message counts them.
    """
    files = table_files(study)
    try:
        check_heads(files)
        parts = _read_parts(study, files, crew or crew_at_work(), stage, kept)
        readers = readers_of(parts)
        for part, file in zip(parts, files, strict=True):
            part.again = kept.again(study, file, part.before, part.now)
        marks = join_marks(parts)
        refuse_to_merge(parts, marks, study)
        tallies = join_tallies(readers, study.settings)
        engines, engines_used, several = audit_rows(parts, marks, study.settings, stage)
        running, of_running = find_bulk_running(parts, marks, most_running, several=several)
        seed = study.settings.study.seed
        drawn, share = draw_lines(parts, marks, seed, most_lives)
        trouble, left = join_trouble(readers)
        named = lines_of_engines(parts, marks, names_of(left))
        again = read_lives(parts, (of_running, drawn, named), stage)
        hints = trouble, put_together(left, again[2])
        for part in parts:
            if part.again is not None:
                part.again.keep()
        sample = sample_of(again[1], share, seed, count_lives(parts, marks))
    except TableError as e:
        raise ReadError(str(e.finding)) from None
    del marks
    give_back()
    words = [(f, x) for r in readers for f in [r.file] for x in r.in_words.findings(f)]
    for finding in (*(x for _, x in words), *tell_fleet(readers, study.settings)):
        tallies.add_many(finding, 1)
    unknown = beside_built(tallies, engines, study.settings.fleet.built)
    tallies.name_columns(heads_of(readers))
    refuse_stopped(tallies)
    tally, labels = join_spells(parts)
    give_back()
    spells = tally.spells()
    give_back()
    if len(spells) == 0:
        raise nothing_left(_rows_read(parts))
    told = spelled(labels, readers, study)
    days = _service_days(readers, {b: t[2] for (_, _, b), t in zip(labels, told, strict=True)})
    return BulkRead(
        bulk=replace(
            _account(study, parts, tallies, spells, (engines, engines_used, unknown), hints),
            not_looked_for=(*NOT_LOOKED_FOR, *not_sought(left)),
        ),
        tally=tally,
        labels=tuple(told),
        in_service={k: n for k, n in days.items() if n},
        running=replace(running, rows=spell_as([x for x, _ in again[0]], labels, told)),
        sample=replace(sample, rows=spell_as(sample.rows, labels, told)),
    )


def _read_parts(
    study: Study, files: tuple[RecordFile, ...], crew: Crew, stage: Callable[[str], None],
    kept: KeptTable,
) -> list[PartRead]:  # fmt: skip
    """Return what each file gave, in their order.

    Raises
    ------
    DataError
        Of the first file that could not be read.
    """
    tasks = [(study, f) for f in files]
    here = crew.alone or len(files) == 1
    work = partial(read_part, stage=stage, kept=kept) if here else read_part
    finished = KeptParts(study, files, kept, here=here)
    done = finished.take_up()
    due = [i for i in range(len(files)) if i not in done]
    for k, part in do_work(work, [tasks[i] for i in due], crew if len(files) > 1 else Crew()):
        done[due[k]] = part
        finished.keep(due[k], part)
        if len(files) > 1:
            stage(f"reading the records: {len(done):,} of {len(files):,} files")
    parts = [done[i] for i in range(len(files))]
    for part in parts:
        if part.error is not None:
            raise part.error
    if not any((read := _rows_read(parts)).values()):
        raise nothing_left(read)
    return parts


def _service_days(readers: list[ChunkReader], builds: dict[str, str]) -> Counter[tuple[str, int]]:
    """Return lives by build, in its one spelling, and day on which they were put into service."""
    days: Counter[tuple[str, int]] = Counter()
    for reader in readers:
        for (build, day), n in reader.in_service.items():
            days[builds.get(build, build), day] += n
    return days


def _rows_read(parts: list[PartRead]) -> dict[str, int]:
    return {r.file: r.n_read for r in readers_of(parts)}


def _account(
    study: Study, parts: list[PartRead], tallies: Tallies, spells: Spells,
    engines: tuple[int, int, int], hints: tuple[Trouble, tuple[LeftOut, ...]],
) -> Bulk:  # fmt: skip
    readers = readers_of(parts)
    trouble, left_out = hints
    endings: Counter[Ending] = Counter()
    said: Counter[str] = Counter()
    for reader in readers:
        endings.update(reader.endings)
        said.update(reader.said)
    of_lives = LivesTold.of(said)
    return Bulk(
        spells=spells,
        n_read=sum(r.n_read for r in readers),
        n_used=sum(r.n_used for r in readers),
        n_set_aside=sum(tallies.reasons.values()),
        n_blank=sum(r.n_blank for r in readers),
        reasons=dict(tallies.reasons.most_common()),
        accounts=accounts_of(readers),
        counts=dict(tallies.counts.most_common()),
        findings=tuple(f for first in tallies.shown.values() for f in first),
        endings=tuple(
            EndingCount(ending=e, cause=c, confirmed=ok, counts_as=k, reason=r, n=n)
            for (e, c, ok, k, r), n in _alike(endings, study).most_common()
            if n
        ),
        engines=engines[0],
        engines_used=engines[1],
        n_fate_unknown=engines[2],
        checks_seen=of_lives.n_checked > 0
        or any(e[0] in CHECK_ENDINGS and e[3] != "excluded" and n for e, n in endings.items()),
        of_lives=of_lives,
        trouble=trouble,
        left_out=left_out,
        sources=tuple(p.source for p in parts if p.source is not None),
        told=tuple(r.words.told() for r in readers if r.words is not None),
        mended=tuple(
            m
            for p, r in zip(parts, readers, strict=True)
            for m in p.table.mended(r.trouble.scanner)
        ),
        mend_source=parts[0].table.log.source,
    )


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
