"""A table of any length, read by chunks: what a study gives without looking at single lives.

The answers rest on when lives entered and how they ended, each taken together exactly, so they are
those of the same rows read whole; only where hours carry so many digits that hardly two are equal
are they rounded first, and the report says so. Chapters that look at single engines, at dates,
sources or builds are not computed; `LEFT_OUT` says so in the report.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.chapters.cautions import collect_cautions, qualify
from fleetstats.chapters.claim import Claim, advise_claim
from fleetstats.chapters.data import Pairing
from fleetstats.chapters.declared import chapter_declared
from fleetstats.chapters.departures import chapter_departures
from fleetstats.chapters.failing import fail_chapter
from fleetstats.chapters.looks import chapter_look_plan
from fleetstats.chapters.looks_made import chapter_looks
from fleetstats.chapters.mends import list_mends
from fleetstats.chapters.origin import chapter_origin
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.chapters.weakest import find_weakest
from fleetstats.core.errors import SettingError
from fleetstats.core.shelf import Shelf
from fleetstats.core.stages import silent
from fleetstats.core.value import Value
from fleetstats.records.audit.finding import Audit, FileAccount
from fleetstats.records.reading import Records
from fleetstats.spells.asserted import Asserted
from fleetstats.spells.build import Built
from fleetstats.spells.bulk.bulk import Bulk, build_bulk
from fleetstats.spells.bulk.bulk_study import only_file
from fleetstats.spells.bulk.kept_rows import FileState, keep_whole, take_whole
from fleetstats.spells.coupling import couple_margins, fine_step, round_ages
from fleetstats.spells.funnel import NO_SOURCE, Funnel, FunnelLine
from fleetstats.spells.spells import PAIRED, Spells
from fleetstats.studies.reads import Reads, telling
from fleetstats.study.settings import Settings
from fleetstats.study.study import MENDS_FILE, Study
from fleetstats.vocabulary.caution import Caution

ACCOUNT = "account"
"""Kind of kept result: all that the rows of one whole table came to."""

MOST_ROWS = 500_000
"""More rows than that are rounded, since hours with so many digits come from no meter."""


def lives_by_chunks(
    study: Study, stage: Callable[[str], None] = silent, shelf: Shelf | None = None
) -> tuple[Records, Audit, Built, dict[str, Value]]:
    """Return what `read_lives_of` does, of a table read by chunks, and the account of it.

    The records hold no row; the audit holds the first findings of each kind; the account stands
    under the keys "bulk" and "pairing".

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
    told = dataclasses.replace(study, settings=telling(study.settings, reads))
    if (study.folder / MENDS_FILE).exists():  # what was decided holds for one state of the file
        shelf = None
    file = only_file(study)
    bulk = take_whole(shelf, ACCOUNT, file, study.settings)
    if bulk is None:
        before = FileState.of(file.path)
        bulk = build_bulk(told, stage=stage, shelf=shelf, reads=lambda: reads.keys)
        if FileState.of(file.path) == before:
            keep_whole(shelf, ACCOUNT, file, study.settings, reads.keys, bulk.source, bulk)
    stage("pairing entries with ends")
    spells, rounded = _few_rows(bulk.spells)
    if abs(float(spells.weight.sum()) - bulk.engines_used) > 1e-9:  # then a row is no engine
        spells = spells.replace(unit=np.char.add(PAIRED, spells.unit))
    return (
        Records(
            rows=(),
            mended=bulk.mended,
            sources=(bulk.source, *(() if bulk.mend_source is None else (bulk.mend_source,))),
        ),
        _audit(bulk, study),
        _built(bulk, spells, study.settings),
        {"bulk": bulk, "pairing": Pairing(n_rows=len(spells), rounded_to_h=rounded)},
    )


TELLING = ("claim", "declared", "departures", "looks", "looks-made", "mends", "origin")
"""Chapters of a table read by chunks that bring cautions of their own."""


def add_claim(base: Results, stage: Callable[[str], None] = silent) -> Results:
    """Return `base` with what may be claimed and its cautions, which ask for no single life."""
    stage("what may be claimed")
    spells, settings = base.spells, base.settings
    chapters = dict(base.chapters)
    troubles: list[Caution] = []

    def claim() -> Claim | None:
        if settings.study.claimed_interval_h is None:
            return None
        return advise_claim(spells, settings, fit=base.fit, asserted=base.built.asserted)

    def work(key: str, make: Callable[[], Value | None]) -> None:
        try:
            value = make()
        except SettingError:
            raise  # what was asked for cannot be
        except Exception as error:
            troubles.append(fail_chapter(CHAPTERS[key], error))
            return
        if value is not None:
            chapters[key] = value

    work("claim", claim)
    work("departures", lambda: chapter_departures(base, chapters))
    work("mends", lambda: list_mends(base.records.mended))
    work("declared", lambda: chapter_declared(base, chapters))
    work("looks-made", lambda: chapter_looks(base, chapters))
    work("origin", lambda: chapter_origin(base, chapters))
    work("looks", lambda: chapter_look_plan(base, chapters))
    work("weakest", lambda: find_weakest(base, chapters))
    told = (base.description.product_limit, *(chapters[k] for k in chapters if k in TELLING))
    found = collect_cautions(
        spells, base.fit, settings, base.advice, built=base.built, results=told
    )
    # an entry paired with another's end is no engine that could be left out
    items = tuple(c for c in found if c.code != "one-unit")
    base = dataclasses.replace(base, chapters=chapters, troubles=tuple(troubles))
    return qualify(base, (*troubles, *items))


def _few_rows(spells: Spells) -> tuple[Spells, float | None]:
    """Return the spells in few rows, and the step to which their hours had to be rounded."""
    few = couple_margins(spells)
    if len(few) <= MOST_ROWS:
        return few, None
    return couple_margins(round_ages(spells)), fine_step(spells)


def _audit(bulk: Bulk, study: Study) -> Audit:
    file = study.of_shape("lives")[0]
    account = FileAccount(
        file=file.file,
        source=file.source,
        shape=file.shape,
        n_read=bulk.n_read,
        n_used=bulk.n_used,
        n_set_aside=bulk.n_set_aside,
        n_blank=bulk.n_blank,
        reasons=bulk.reasons,
    )
    return Audit(findings=bulk.findings, accounts=(account,), set_aside=(), used=())


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
        asserted=Asserted(
            n_from_start=None, n_from_start_unsaid=None, checks_seen=bulk.checks_seen, level=level
        ),
        left_out=bulk.left_out,
        trouble=bulk.trouble,
    )
