"""A table of any length, read by chunks: what a study gives without all lives in hand.

The answers rest on when lives entered and how they ended, each taken together exactly, so they are
those of the same rows read whole; only where hours carry so many digits that hardly two are equal
are they rounded first, and the report says so. What is compared by source, build and cause, and
what lies ahead of engines that run, is in `long_chapters`; chapters that need each life with its
dates are not computed, and each says so in its place (`LEFT_OUT`).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from functools import partial

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.chapters.cautions import (
    caution_quick,
    caution_single_lives,
    collect_cautions,
    qualify,
)
from fleetstats.chapters.claim import Claim, advise_claim
from fleetstats.chapters.data import Pairing
from fleetstats.chapters.declared import chapter_declared
from fleetstats.chapters.departures import chapter_departures
from fleetstats.chapters.failing import fail_chapter, miss_chapter
from fleetstats.chapters.looks import chapter_look_plan
from fleetstats.chapters.looks_made import chapter_looks
from fleetstats.chapters.mends import list_mends
from fleetstats.chapters.origin import chapter_origin
from fleetstats.chapters.plan import Plan
from fleetstats.chapters.registry import CHAPTERS, work_order
from fleetstats.chapters.weakest import find_weakest
from fleetstats.core.beside import Beside
from fleetstats.core.crew import Crew
from fleetstats.core.errors import SettingError
from fleetstats.core.shelf import Shelf
from fleetstats.core.stages import silent
from fleetstats.core.value import Value
from fleetstats.records.audit.finding import Audit
from fleetstats.records.reading import Records
from fleetstats.spells.build import Built
from fleetstats.spells.bulk.bulk import Bulk, BulkRead, read_bulk
from fleetstats.spells.bulk.kept_table import KeptTable
from fleetstats.spells.coupling import couple_margins, fine_step, round_ages
from fleetstats.spells.funnel import NO_SOURCE, Funnel, FunnelLine
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.spells import PAIRED, Spells
from fleetstats.spells.trouble.cut_lives import part_cut
from fleetstats.studies.apart import needed_of
from fleetstats.studies.kept_chapters import KeptChapters
from fleetstats.studies.kept_pairing import Paired, take_or_pair
from fleetstats.studies.long_apart import LONG_APART, ask_long, work_of_long
from fleetstats.studies.long_chapters import LONG_CHAPTERS, Long
from fleetstats.studies.looked_at import Looked, beside_looked, know_of_rise
from fleetstats.studies.reads import Reads, telling
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.vocabulary.caution import Caution

MOST_ROWS = 500_000
"""More rows than that are rounded, since hours with so many digits come from no meter."""


def lives_by_chunks(
    study: Study,
    stage: Callable[[str], None] = silent,
    crew: Crew | None = None,
    shelf: Shelf | None = None,
) -> tuple[Records, Audit, Built, dict[str, Value], Long]:
    """Return what `read_lives_of` does, of a table read by chunks, the account of it, and the rest.

    The records hold no row; the audit holds the first findings of each kind; the account stands
    under the keys "bulk" and "pairing"; the rest is what `work_long` asks for. `crew` reads the
    files of a table that has several.

    Raises
    ------
    SettingError
        If the study asks for what cannot be done by chunks.
    ReadError
        If the file cannot be read.
    RecordError
        If findings stop the study, or no life is left.
    """
    stage("reading the records")
    reads = Reads()
    noting = dataclasses.replace(study, settings=telling(study.settings, reads))
    kept = KeptTable(shelf=shelf, reads=lambda: reads.keys)
    work = partial(read_bulk, noting, stage=stage, crew=crew, kept=kept)
    read, of_rows = kept.whole(study, BulkRead, work)
    bulk = read.bulk
    stage("pairing entries with ends")
    paired, grounds = take_or_pair(shelf, of_rows, read, study.settings, pair_lives)
    return (
        Records(
            rows=(),
            mended=bulk.mended,
            sources=(*bulk.sources, *(() if bulk.mend_source is None else (bulk.mend_source,))),
        ),
        Audit(findings=bulk.findings, accounts=bulk.accounts, set_aside=(), used=()),
        paired.built,
        {"bulk": bulk, "pairing": paired.pairing, **paired.long.looked.told},
        dataclasses.replace(paired.long, grounds=grounds),
    )


def pair_lives(read: BulkRead, settings: Settings) -> Paired:
    """Return the lives of a table in few rows, those of each label, and those looked at."""
    bulk = read.bulk
    looked = Looked.of(read.sample, _built(bulk, bulk.spells, settings), settings)
    spells, rounded = _few_rows(bulk.spells, bulk.left_out)
    if (day := looked.built.before_rise) is not None:
        rest, rounded = _few_rows(beside_looked(bulk.spells, looked.built.spells), bulk.left_out)
        spells = know_of_rise(looked.built.spells, rest)
    paired = abs(float(spells.weight.sum()) - bulk.engines_used) > 1e-9  # then a row is no engine
    if paired:
        spells = spells.replace(unit=np.char.add(PAIRED, spells.unit))
    long = Long.of(read, looked, rounded=rounded is not None, paired=paired)
    pairing = Pairing(n_rows=len(spells), rounded_to_h=rounded, compared_to_h=long.step_h)
    built = dataclasses.replace(_built(bulk, spells, settings), before_rise=day)
    return Paired(built=built, pairing=pairing, long=long)


def add_long_chapters(
    base: Results,
    long: Long,
    stage: Callable[[str], None] = silent,
    keys: tuple[str, ...] | None = None,
    shelf: Shelf | None = None,
    beside: Beside | None = None,
) -> Results:
    """Return `base` with what may be claimed, what `long` allows, and the cautions of all.

    `keys` are the chapters to work out; all by default. What `shelf` holds is taken up where all
    that it rests on is as it was. The process `beside` takes some of the longest meanwhile.
    """
    keys = work_order(CHAPTERS) if keys is None else keys
    stage("what may be claimed")
    spells, settings = base.spells, base.settings
    chapters = dict(base.chapters)
    kept = KeptChapters(None if long.grounds is None else shelf, base, of_lives=long.grounds)
    failed: dict[str, Caution] = {}

    def work(key: str, make: Callable[[], Value | None]) -> None:
        if missing := [k for k in CHAPTERS[key].needs if k in failed]:
            failed[key] = miss_chapter(CHAPTERS[key], CHAPTERS[missing[0]])
            return
        try:
            value = make()
        except SettingError:
            raise  # what was asked for cannot be
        except Exception as error:
            failed[key] = fail_chapter(CHAPTERS[key], error)
            return
        if value is not None:
            chapters[key] = value

    if "claim" in keys:
        work("claim", partial(kept.work, "claim", chapters, _claim))
    _work_long([k for k in work_order(CHAPTERS) if k in LONG_CHAPTERS and k in keys], long, kept,
               chapters, work, stage, beside)  # fmt: skip
    kept.say()
    work("departures", lambda: chapter_departures(base, chapters))
    work("mends", lambda: list_mends(base.records.mended))
    work("declared", lambda: chapter_declared(base, chapters))
    work("looks-made", lambda: chapter_looks(base, chapters))
    work("origin", lambda: chapter_origin(base, chapters))
    work("looks", lambda: chapter_look_plan(base, chapters))
    work("weakest", lambda: find_weakest(base, chapters))
    chapters = {**chapters, **{k: chapters[k] for k in CHAPTERS if k in chapters}}
    troubles = tuple(failed[k] for k in CHAPTERS if k in failed)
    plan = chapters.get("plan")
    told = (base.description.product_limit, *(chapters[k] for k in CHAPTERS if k in chapters))
    found = collect_cautions(
        spells, base.fit, settings, base.advice, built=base.built, results=told,
        plan=plan if isinstance(plan, Plan) else None,
    )  # fmt: skip
    items = _with_single(found, told, long, base)
    base = dataclasses.replace(base, chapters=chapters, troubles=troubles)
    quick = caution_quick(base.how_read)
    return qualify(base, (*troubles, *quick, *items))


def _work_long(
    keys: Sequence[str], long: Long, kept: KeptChapters, chapters: dict[str, Value],
    work: Callable[[str, Callable[[], Value | None]], None], stage: Callable[[str], None],
    beside: Beside | None,
) -> None:  # fmt: skip
    """Work out some of `LONG_CHAPTERS`, by `work` that puts each among the `chapters`."""
    there = kept.take_all([k for k in LONG_APART if k in keys], chapters)
    asked = [k for k in LONG_APART if k in keys and k not in there]
    later = ask_long(asked, kept.base, long, chapters, beside, noting=kept.shelf is not None)

    def made(key: str) -> Value | None:
        if key in there:
            return there[key][0]
        if key in later:
            return kept.keep(key, needed_of(key, chapters), later[key].take())
        return kept.work(key, chapters, partial(work_of_long, long, key))

    # what is asked last beside is taken first: it has most likely not begun there
    for key in (*(k for k in keys if k not in later), *reversed(later)):
        stage(CHAPTERS[key].stage)
        work(key, partial(made, key))
    for key in (k for k in keys if k in chapters):  # in the order of the work, whoever did it
        chapters[key] = chapters.pop(key)


def _with_single(
    found: tuple[Caution, ...], told: tuple[Value, ...], long: Long, base: Results
) -> tuple[Caution, ...]:  # fmt: skip
    # an entry paired with another's end is no engine that could be left out; a source is one
    own = [c for x in told for c in getattr(x, "cautions", ())]
    items = tuple(c for c in found if c.code != "one-unit" or c in own)
    looked = long.looked
    return caution_single_lives(
        items, looked.built, base.settings, base.advice, all_lives=looked.is_all
    )


def _claim(base: Results, _done: Mapping[str, Value]) -> Claim | None:
    settings = base.settings
    if settings.study.claimed_interval_h is None:
        return None
    return advise_claim(base.spells, settings, fit=base.fit, asserted=base.built.asserted)


def _few_rows(spells: Spells, left: tuple[LeftOut, ...]) -> tuple[Spells, float | None]:
    """Return the spells in few rows, and the step to which their hours had to be rounded.

    Lives that failures left out cut short stay as they are, to be found there.
    """
    rest, apart = part_cut(spells, left)
    few = couple_margins(rest)
    step = None if len(few) <= MOST_ROWS else fine_step(rest)
    few = few if step is None else couple_margins(round_ages(rest))
    return (few if apart is None else few.join(apart)), step


def _built(bulk: Bulk, spells: Spells, settings: Settings) -> Built:
    n_built, level = settings.fleet.built, settings.question.level
    losses: dict[str, int] = {}
    for e in bulk.endings:
        if e.counts_as == "excluded":
            losses[e.reason] = losses.get(e.reason, 0) + e.n
    lives, excluded = sum(e.n for e in bulk.endings), sum(losses.values())
    line = FunnelLine(
        source=NO_SOURCE,
        rows_read=bulk.n_read,
        rows_set_aside=bulk.n_set_aside,
        rows_used=bulk.n_used,
        lives=lives,
        lives_excluded=excluded,
        lives_used=lives - excluded,
        engines=bulk.engines,
        engines_used=bulk.engines_used,
        row_losses=bulk.reasons,
        life_losses=losses,
    )
    return Built(
        spells=spells,
        endings=bulk.endings,
        funnel=Funnel(
            total=line,
            sources=(line,),
            n_built=n_built,
            n_fate_unknown=bulk.n_fate_unknown,
            engines_aside=bulk.engines - bulk.engines_used,
            told_apart=False,
        ),
        n_fate_unknown=bulk.n_fate_unknown,
        rows=(),
        verdicts=(),
        asserted=bulk.of_lives.asserted(checks_seen=bulk.checks_seen, level=level),
        told=bulk.of_lives,
        left_out=bulk.left_out,
        trouble=bulk.trouble,
    )
