"""A study, run: records, lives, fits, bands, advice, chapters."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

from fleetstats.advice.results import HowRead, Results
from fleetstats.chapters.cautions import qualify
from fleetstats.chapters.change import know_rise
from fleetstats.chapters.failing import fail_chapter, miss_chapter
from fleetstats.chapters.looks_made import with_looks_made
from fleetstats.chapters.registry import CHAPTERS, quick_order, work_order
from fleetstats.core.beside import Beside, Later, Shared
from fleetstats.core.crew import Crew, at_work
from fleetstats.core.errors import SettingError
from fleetstats.core.gate import FLAG, TEXT, gate
from fleetstats.core.pause import collection_paused, living_spared
from fleetstats.core.provenance import Provenance, SourceFile, installed_versions
from fleetstats.core.shelf import Shelf
from fleetstats.core.stages import silent
from fleetstats.core.value import Value
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.audit.finding import Audit
from fleetstats.records.audit.stopped import nothing_left, stop_at
from fleetstats.records.readers import Opened, read_records
from fleetstats.records.reading import Records
from fleetstats.spells.build import Built, build_spells
from fleetstats.spells.bulk.bulk_study import ReturnsToMerge
from fleetstats.studies.apart import ask_apart, needed_of
from fleetstats.studies.asked import Worked
from fleetstats.studies.by_chunks import add_long_chapters, lives_by_chunks
from fleetstats.studies.costs import REPORT, say_costs, say_reading, stage_words
from fleetstats.studies.how_read import choose_reading, leave_out, option_of, whole_to_merge
from fleetstats.studies.kept_chapters import OPINIONS, KeptChapters, later_opinions
from fleetstats.studies.kept_lives import taken_or_read
from fleetstats.studies.kept_main import take_or_work_main, work_main
from fleetstats.studies.long_chapters import Long
from fleetstats.studies.reads import Reads, telling
from fleetstats.study.assumptions import assumptions
from fleetstats.study.settings import Settings
from fleetstats.study.study import STUDY, Study
from fleetstats.survival.second_opinion import Opinion, open_libraries
from fleetstats.vocabulary.caution import Caution

Tables = Mapping[tuple[str, str], Opened]

STOPS_TOLD = 20
"""Findings told where an audit stops a study; 'fleetstats check' tells them all."""


USUAL = "fleetstats study"


@gate(study=STUDY, chunks=FLAG.or_none, quick=FLAG, command=TEXT)
def analyse(
    study: Study,
    chunks: bool | None = None,
    *,
    quick: bool = False,
    stage: Callable[[str], None] = silent,
    command: str = "",
    opened: Tables | None = None,
    beside: Beside | None = None,
    memory: int | None = None,
    tell: Callable[[str], None] = silent,
    shelf: Shelf | None = None,
    crew: Crew | None = None,
) -> Results:
    """Run a study from its records to its advice.

    Parameters
    ----------
    study : Study
        As read by `read_study`.
    chunks : bool, optional
        Whether its tables are read by chunks, in less memory, no row kept; chapters that look
        at single lives are then left out. Default: as `choose_reading` says, by its size.
    quick : bool
        Whether to leave out what neither qualifies a claim nor stands in the brief;
        `how_read.left_out` names it, and a caution says so.
    stage : callable
        Told the name of each stage as it begins.
    command : str
        Command line to print under *Provenance*.
    opened : mapping, optional
        Tables at hand, as for `read_records`; they are whole.
    beside : Beside, optional
        A process that asks the libraries and works out chapters meanwhile; no result depends on
        it.
    memory : int, optional
        Bytes that the work may take, as for `choose_reading`; whoever calls holds it to them.
    tell : callable
        Told how long the work takes, where that is long, before it begins.
    shelf : Shelf, optional
        Where results are kept from one run to the next; no result depends on it.
    crew : Crew, optional
        Who reads the files of a long table, makes up fleets and refits resamples; no result depends
        on it.

    Returns
    -------
    Results

    Raises
    ------
    RecordError
        If the audit found errors that the study file does not say how to treat, or if no life is
        left; the message lists them all.
    SettingError
        If `chunks` is asked of a study that cannot be read so.

    Examples
    --------
    >>> import fleetstats as fs
    >>> results = fs.analyse(fs.read_study("datasets/quiet-fleet"))
    >>> print(results.built.spells)
    Spells: 260 lives of 260 engines, 0 failed, 197,656 h at risk
    >>> by_chunks = fs.analyse(fs.read_study("datasets/quiet-fleet"), chunks=True)
    >>> print(by_chunks.chapters["bulk"])
    Bulk: 260 rows read = 260 used + 0 set aside; 260 engines, 255 different spells
    """
    how = choose_reading(study, chunks, at_hand=opened is not None, memory=memory)
    how = leave_out(how, study.settings) if quick else how
    command = command or f"{USUAL} {study.name}{option_of(chunks)}"
    with at_work(crew):
        try:
            return _analyse(study, how, command, stage, opened, beside, tell, shelf)
        except ReturnsToMerge:
            if how.reason == "asked":
                raise
        how = whole_to_merge()
        tell(how.sentence)
        how = leave_out(how, study.settings) if quick else how
        return _analyse(study, how, command, stage, opened, beside, tell, shelf)


def _analyse(
    study: Study,
    how: HowRead,
    command: str,
    stage: Callable[[str], None],
    opened: Tables | None,
    beside: Beside | None,
    tell: Callable[[str], None],
    shelf: Shelf | None,
) -> Results:
    if opened is None and (told := say_reading(study, by_chunks=how.by_chunks)):
        tell(told)
    long: Long | None = None
    own = shelf if opened is None else None
    if how.by_chunks:
        records, audit, built, chapters, long = lives_by_chunks(study, stage, shelf=shelf)
    else:
        read = partial(read_lives_of, study, stage, opened)
        (records, audit, built), chapters = taken_or_read(own, study, read), {}
    study = with_looks_made(study, records.sources, built.spells)
    settings = study.settings
    if beside is None or (how.quick and not how.by_chunks):
        beside = Beside(wanted=False)  # a short study is done before another process has begun
    keys, work, asks = _work_of(how, settings)
    if told := say_costs(len(built.spells), work, settings.stress.fleets):
        tell(told)
    if asks and built.spells.n_failed > 0 and not (own and own.holds(OPINIONS)):
        beside.begin(open_libraries)
    if long is not None:
        main = take_or_work_main(shelf, long.grounds, built.spells, settings, stage)
    else:
        main = work_main(built.spells, settings, stage)
    base = Results(
        study=study,
        assumptions=assumptions(study.settings, study.chosen),
        records=records,
        audit=audit,
        built=built,
        description=main.description,
        fit=main.fit,
        no_fit=main.no_fit,
        comparison=main.comparison,
        opinions=(),
        sureness=main.sureness,
        advice=main.advice,
        provenance=_provenance(study, records, command),
        how_read=how,
        chapters=chapters,
    )
    if long is not None:
        return add_long_chapters(base, long, stage, keys, shelf, beside)
    shared = beside.share(base)
    opinions = later_opinions(own, beside, main.fit) if asks and main.fit is not None else None
    return add_chapters(base, stage, beside, opinions, keys, own, shared)


def _work_of(how: HowRead, settings: Settings) -> tuple[tuple[str, ...], tuple[str, ...], bool]:
    """Return the chapters to work out, what costs time, and whether the libraries are asked."""
    keys = quick_order(CHAPTERS, settings) if how.quick else work_order(CHAPTERS)
    if how.by_chunks:  # the libraries take rows of single lives
        return keys, (), False
    if how.quick:
        return keys, keys, any(CHAPTERS[k].opinions for k in keys)
    return work_order(CHAPTERS), (*CHAPTERS, REPORT), True


def _provenance(study: Study, records: Records, command: str) -> Provenance:
    return Provenance(
        files=records.sources,
        versions=installed_versions(),
        seed=study.settings.study.seed,
        command=command,
        study_file=study.source,
    )


def read_lives_of(
    study: Study, stage: Callable[[str], None] = silent, opened: Tables | None = None
) -> tuple[Records, Audit, Built]:
    """Return a study's records, their audit and the lives built from them.

    Raises
    ------
    RecordError
        As `analyse`.
    SettingError
        If the study's files hold many families, which must not be studied as one.
    """
    if study.settings.portfolio.family:
        raise SettingError(
            "The records hold many families (portfolio.family), which are not one fleet.",
            "Use 'fleetstats portfolio', which studies each by itself.",
        )
    reads = Reads()
    study = replace(study, settings=telling(study.settings, reads))
    with collection_paused(lives_on=True):
        stage("reading the records")
        records = read_records(study, opened)
        stage("auditing the records")
        audit = audit_records(study, records)
    with living_spared():
        built = build_lives(study, records, audit)
    return records, audit, replace(built, settings_read=reads.keys)


def build_lives(study: Study, records: Records, audit: Audit) -> Built:
    """Return the lives of records that are read and audited; raises RecordError as `analyse`."""
    refuse_stopped(audit, study.name)
    built = build_spells(study, records, audit)
    if len(built.spells) == 0:
        read = Counter[str]()
        for account in audit.accounts:
            read[account.file] += account.n_read
        raise nothing_left(read)
    return know_rise(built, study.settings)


def lives_of(study: Study) -> Built:
    """Return the lives of a study, audited; raises RecordError as `analyse` does."""
    return read_lives_of(study)[2]


def refuse_stopped(audit: Audit, name: str) -> None:
    """Raise RecordError with what stops the study of that name; nothing when nothing does."""
    if audit.ok:
        return
    shown = [str(f) for f in audit.stops[:STOPS_TOLD]]
    if len(audit.stops) > STOPS_TOLD:
        shown.append(f"… and {len(audit.stops) - STOPS_TOLD} more; fleetstats check tells all.")
    raise stop_at(Counter(f.code for f in audit.stops), shown, name)


@living_spared()
def add_chapters(
    base: Results,
    stage: Callable[[str], None] = silent,
    beside: Beside | None = None,
    opinions: Later[tuple[Opinion, ...]] | None = None,
    keys: tuple[str, ...] | None = None,
    shelf: Shelf | None = None, shared: Shared[Results] | None = None,
) -> Results:  # fmt: skip
    """Return `base` with every further chapter that its records and settings allow.

    `keys` are those to work out, in their order; all by default. One that fails, whatever it
    raises, leaves a caution with its reason and never stops the others, but for those that rest on
    it. The libraries' opinions, where they were asked for, are waited for as late as can be. What
    `shelf` holds is taken up where all that it rests on is as it was.
    """
    keys = work_order(CHAPTERS) if keys is None else keys
    kept = KeptChapters(shelf, base)
    there: dict[str, tuple[Value | None]] = {}
    apart: dict[str, Later[Worked]] = {}
    found: dict[str, Value] = {}
    failed: dict[str, Caution] = {}

    def in_order() -> dict[str, Value]:
        return {k: found[k] for k in keys if k in found}

    def work(key: str) -> None:
        chapter = CHAPTERS[key]
        if missing := [k for k in chapter.needs if k in failed]:
            failed[key] = miss_chapter(chapter, CHAPTERS[missing[0]])
            return
        stage(stage_words(key, len(base.spells)))
        try:
            if key in there:
                (value,) = there[key]
            elif key in apart:
                value = kept.keep(key, needed_of(key, found), apart[key].take())
            else:
                value = kept.work(key, in_order())
        except SettingError:
            raise  # what was asked for cannot be, as a value that no life has
        except Exception as error:
            failed[key] = fail_chapter(chapter, error)
            return
        if value is not None:
            found[key] = value

    late = [k for k in keys if CHAPTERS[k].opinions]
    last = [k for k in keys if CHAPTERS[k].last]
    long = sorted((k for k in keys if CHAPTERS[k].apart), key=lambda k: -CHAPTERS[k].apart)
    first = list(dict.fromkeys(n for k in long for n in CHAPTERS[k].needs if n in keys))
    for key in first:
        work(key)
    there |= kept.take_all(long, found)
    asked, shared = [k for k in long if k not in there], shared or Shared(base)
    apart |= ask_apart(asked, shared, found, beside, noting=shelf is not None)
    after = [k for k in keys if k not in last and not apart.keys().isdisjoint(CHAPTERS[k].needs)]
    for key in keys:
        if key not in (*first, *apart, *late, *after, *last):
            work(key)
    if opinions is not None:
        stage("asking the libraries")
        base = kept.with_opinions(opinions)
    # What is asked last beside is taken first: it has most likely not begun there.
    for key in (*late, *reversed(apart), *after, *last):
        work(key)
    kept.say()
    return _with_chapters(base, in_order(), [failed[k] for k in keys if k in failed])


def _with_chapters(base: Results, chapters: dict[str, Value], troubles: list[Caution]) -> Results:
    """Return results with chapters, their files and cautions, and what failed."""
    cautions = chapters.pop("cautions", None)
    # Files that only a chapter reads are inputs too: the report's id and its lineage rest on them.
    more = tuple(f for v in chapters.values() for f in getattr(v, "sources", ())
                 if isinstance(f, SourceFile))  # fmt: skip
    provenance = replace(base.provenance, files=(*base.provenance.files, *more))
    base = replace(base, chapters=chapters, troubles=tuple(troubles), provenance=provenance)
    if cautions is None and not troubles:
        return base
    return qualify(base, (*troubles, *getattr(cautions, "items", ())))
