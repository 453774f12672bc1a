"""A study, run: records, lives, fits, bands, advice, chapters."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial

import numpy as np

from fleetstats.advice.advise import advise_hours
from fleetstats.advice.quoted import Quoter, no_best_shape
from fleetstats.advice.results import Description, Results, Sureness
from fleetstats.advice.risk import chance_curve
from fleetstats.bands.choose import Asked
from fleetstats.bands.interval import Interval
from fleetstats.bands.likelihood.wald import band_normal
from fleetstats.bands.method import choose_method
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.cautions import qualify
from fleetstats.chapters.change import know_rise
from fleetstats.chapters.failing import fail_chapter, miss_chapter
from fleetstats.chapters.looks_made import with_looks_made
from fleetstats.chapters.registry import CHAPTERS, work_order
from fleetstats.core.beside import Beside, Later
from fleetstats.core.errors import FitError, RecordError, SettingError
from fleetstats.core.gate import FLAG, TEXT, gate
from fleetstats.core.provenance import Provenance, SourceFile, installed_versions
from fleetstats.core.shelf import Shelf
from fleetstats.core.stages import silent
from fleetstats.core.value import Array, Value
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.audit.finding import Audit
from fleetstats.records.readers import Opened, read_records
from fleetstats.records.reading import Records
from fleetstats.spells.build import Built, build_spells
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.studies.by_chunks import add_claim, lives_by_chunks
from fleetstats.studies.costs import REPORT, say_costs, say_reading, stage_words
from fleetstats.studies.how_read import choose_reading, option_of
from fleetstats.studies.kept_lives import taken_or_read
from fleetstats.studies.reads import Reads, telling
from fleetstats.study.assumptions import assumptions
from fleetstats.study.settings import Settings
from fleetstats.study.study import STUDY, Study
from fleetstats.survival.counting.exposure import estimate_exposure
from fleetstats.survival.counting.incidence import estimate_outer_band
from fleetstats.survival.counting.plotting import estimate_plot_points
from fleetstats.survival.counting.product_limit import (
    estimate_cumulative_hazard,
    estimate_product_limit,
)
from fleetstats.survival.counting.turnbull import estimate_turnbull
from fleetstats.survival.families.families import Comparison, fit_families
from fleetstats.survival.fit import Fit
from fleetstats.survival.second_opinion import Opinion, open_libraries, second_opinions
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.wording import count

CURVE_POINTS = 97
"""Ages at which curves are computed; enough for a smooth line at print size."""

Tables = Mapping[tuple[str, str], Opened]

STOPS_TOLD = 20
"""Findings told where an audit stops a study; 'fleetstats check' tells them all."""
PAST = 1.1
"""How far past the oldest engine or the claim the curves run, to show where evidence ends."""


USUAL = "fleetstats study"


@gate(study=STUDY, chunks=FLAG.or_none, command=TEXT)
def analyse(
    study: Study,
    chunks: bool | None = None,
    *,
    stage: Callable[[str], None] = silent,
    command: str = "",
    opened: Tables | None = None,
    beside: Beside | None = None,
    memory: int | None = None,
    tell: Callable[[str], None] = silent,
    shelf: Shelf | None = None,
) -> Results:
    """Run a study from its records to its advice.

    Parameters
    ----------
    study : Study
        As read by `read_study`.
    chunks : bool, optional
        Whether its one table is read by chunks, in less memory, no row kept; chapters that look
        at single lives are then left out. Default: as `choose_reading` says, by its size.
    stage : callable
        Told the name of each stage as it begins.
    command : str
        Command line to print under *Provenance*.
    opened : mapping, optional
        Tables at hand, as for `read_records`; they are whole.
    beside : Beside, optional
        A process that asks the libraries meanwhile; no result depends on it.
    memory : int, optional
        Bytes that the work may take, as for `choose_reading`; whoever calls holds it to them.
    tell : callable
        Told how long the work takes, where that is long, before it begins.
    shelf : Shelf, optional
        Where results are kept from one run to the next; no result depends on it.

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
    if opened is None and (told := say_reading(study, by_chunks=how.by_chunks)):
        tell(told)
    if how.by_chunks:
        records, audit, built, chapters = lives_by_chunks(study, stage, shelf)
    else:
        own, read = shelf if opened is None else None, partial(read_lives_of, study, stage, opened)
        (records, audit, built), chapters = taken_or_read(own, study, read), {}
    study = with_looks_made(study, records.sources, built.spells)
    settings = study.settings
    beside, work = beside or Beside(wanted=False), () if how.by_chunks else (*CHAPTERS, REPORT)
    if told := say_costs(len(built.spells), work, settings.stress.fleets):
        tell(told)
    if not how.by_chunks and built.spells.n_failed > 0:
        beside.begin(open_libraries)
    stage("describing the lives")
    description = describe(built.spells, settings)
    stage("fitting")
    fit, no_fit = fit_or_reason(built.spells)
    comparison = compare_families(built.spells, fit)
    # the libraries take rows of single lives
    opinions = None if fit is None or how.by_chunks else beside.ask(second_opinions, fit)
    stage("computing bands")
    sureness = be_sure(built.spells, fit, settings)
    stage("weighing the advice")
    advice = advise_hours(built.spells, fit, settings)
    base = Results(
        study=study,
        assumptions=assumptions(study.settings, study.chosen),
        records=records,
        audit=audit,
        built=built,
        description=description,
        fit=fit,
        no_fit=no_fit,
        comparison=comparison,
        opinions=(),
        sureness=sureness,
        advice=advice,
        provenance=_provenance(
            study, records, command or f"{USUAL} {study.name}{option_of(chunks)}"
        ),
        how_read=how,
        chapters=chapters,
    )
    if how.by_chunks:
        return add_claim(base, stage)
    return add_chapters(base, stage, beside, opinions)


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
    stage("reading the records")
    records = read_records(study, opened)
    stage("auditing the records")
    audit = audit_records(study, records)
    built = build_lives(study, records, audit)
    return records, audit, replace(built, settings_read=reads.keys)


def build_lives(study: Study, records: Records, audit: Audit) -> Built:
    """Return the lives of records that are read and audited; raises RecordError as `analyse`."""
    refuse_stopped(audit, study.name)
    built = build_spells(study, records, audit)
    if len(built.spells) == 0:
        raise RecordError(
            "No life is left to study: every row was set aside or excluded.",
            "See 'fleetstats check' for the reasons.",
        )
    return know_rise(built, study.settings)


def lives_of(study: Study) -> Built:
    """Return the lives of a study, audited; raises RecordError as `analyse` does."""
    return read_lives_of(study)[2]


def refuse_stopped(audit: Audit, name: str) -> None:
    """Raise RecordError with what stops the study of that name; nothing when nothing does."""
    if audit.ok:
        return
    shown = [f"  {f}" for f in audit.stops[:STOPS_TOLD]]
    if len(audit.stops) > STOPS_TOLD:
        shown.append(f"  … and {len(audit.stops) - STOPS_TOLD} more; fleetstats check tells all.")
    lines = "\n".join(shown)
    codes = ", ".join(sorted({f.code for f in audit.stops}))
    raise RecordError(
        f"The audit stopped the study {name} at {count(len(audit.stops), 'finding')}:\n{lines}\n",
        f"Correct the records, or say under [treat] in study.toml what to do with: {codes}.",
    )


def describe(spells: Spells, settings: Settings) -> Description:
    """Return what the lives show before any family is assumed."""
    level = settings.study.confidence
    finding = bool(np.any(spells.event == Event.FINDING))
    return Description(
        product_limit=estimate_product_limit(spells, level=level),
        cumulative_hazard=estimate_cumulative_hazard(spells),
        exposure=estimate_exposure(spells, level=level),
        outer_band=estimate_outer_band(spells) if finding else None,
        turnbull=estimate_turnbull(spells) if bool(np.any(spells.interval_known)) else None,
        points=estimate_plot_points(spells) if spells.n_failed > 0 else None,
    )


def fit_or_reason(spells: Spells) -> tuple[Fit | None, str]:
    """Return the Weibull fit, or None and the sentence that says why there is none."""
    try:
        return fit_weibull(spells), ""
    except FitError as error:
        return None, str(error)


def compare_families(spells: Spells, fit: Fit | None) -> Comparison | None:
    """Return other families beside the Weibull fit; None without a fit or where one fails."""
    try:
        return None if fit is None else fit_families(spells)
    except FitError:
        return None


def curve_hours(spells: Spells, settings: Settings) -> Array:
    """Return rising hours from near 0 to past the claim and the oldest engine."""
    last = PAST * max(spells.oldest_h, settings.study.claimed_interval_h or 0.0)
    return np.linspace(last / 400, last, CURVE_POINTS)


def work_alone(key: str, base: Results) -> Value | None:
    """Return a chapter that asks the main results alone."""
    return CHAPTERS[key].work_out(base, {})


def be_sure(spells: Spells, fit: Fit | None, settings: Settings) -> Sureness:
    """Return the bands of all numbers and curves that the report shows."""
    level, keys, seed = settings.study.confidence, settings.evidence, settings.study.seed
    fleet = Asked.of(spells, fit, level=level, settings=keys, seed=seed)
    ask = fleet.interval
    lives = Quoter.of(spells, fit, settings)
    # where no shape is the best a prior would make up a sharp one
    ask_life = lives.interval if no_best_shape(spells) else ask
    hours = curve_hours(spells, settings)
    shares = sorted({0.01, 0.05, 0.10, round(1 - settings.targets.reliability, 6)})
    curves = {kind: fleet.curve(kind, hours) for kind in ("reliability", "hazard")}
    normal: tuple[Interval, ...] = ()
    if fit is not None:
        asked = [Quantity.shape(), Quantity.scale(), *(Quantity.life(p) for p in shares)]
        normal = tuple(band_normal(fit, q, level=level) for q in asked)
    return Sureness(
        choice=choose_method(spells, keys),
        level=level,
        shape=ask(Quantity.shape()) if fit is not None else None,
        scale=ask(Quantity.scale()) if fit is not None else None,
        lives=tuple(ask_life(Quantity.life(p)) for p in shares),
        reliability=curves["reliability"],
        hazard=curves["hazard"],
        conditional=chance_curve(lives, hours),
        normal_approximation=normal,
    )


def add_chapters(
    base: Results,
    stage: Callable[[str], None] = silent,
    beside: Beside | None = None,
    opinions: Later[tuple[Opinion, ...]] | None = None,
) -> Results:
    """Return `base` with every further chapter that its records and settings allow.

    A chapter that fails, whatever it raises, leaves a caution with its reason; it never stops the
    others, but for those that rest on it. The libraries' opinions, where they were asked for, are
    waited for as late as can be.
    """
    keys = work_order(CHAPTERS)
    long = sorted((k for k in keys if CHAPTERS[k].apart), key=lambda k: -CHAPTERS[k].apart)
    apart = {} if beside is None else {k: beside.ask(work_alone, k, base) for k in long}
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
            value = apart[key].take() if key in apart else chapter.work_out(base, in_order())
        except SettingError:
            raise  # what was asked for cannot be, as a value that no life has
        except Exception as error:
            failed[key] = fail_chapter(chapter, error)
            return
        if value is not None:
            found[key] = value

    late = [k for k in keys if CHAPTERS[k].opinions]
    last = [k for k in keys if CHAPTERS[k].last]
    for key in keys:
        if key not in (*apart, *late, *last):
            work(key)
    if opinions is not None:
        stage("asking the libraries")
        base = replace(base, opinions=opinions.take())
    # What is asked last beside is taken first: it has most likely not begun there.
    for key in (*late, *reversed(apart), *last):
        work(key)
    chapters = in_order()
    troubles = [failed[k] for k in keys if k in failed]
    cautions = chapters.pop("cautions", None)
    # Files that only a chapter reads are inputs too: the report's id and its lineage rest on them.
    more = tuple(f for v in chapters.values() for f in getattr(v, "sources", ())
                 if isinstance(f, SourceFile))  # fmt: skip
    provenance = replace(base.provenance, files=(*base.provenance.files, *more))
    base = replace(base, chapters=chapters, troubles=tuple(troubles), provenance=provenance)
    if cautions is None and not troubles:
        return base
    return qualify(base, (*troubles, *getattr(cautions, "items", ())))
