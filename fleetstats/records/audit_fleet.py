"""Audit of the records as a whole: meters, causes, rounded hours, serials never heard of."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from fleetstats.records.audit_dates import life_finding
from fleetstats.records.audit_pairs import Mark
from fleetstats.records.clocks import stated_factors
from fleetstats.records.finding import Finding
from fleetstats.records.kinds import make_finding
from fleetstats.records.life import LifeRow, normalise_id
from fleetstats.records.reading import Records
from fleetstats.records.rules import PLANNED, cause_known, fold
from fleetstats.records.settings import Settings
from fleetstats.records.study import Study
from fleetstats.records.words import nearest

MISSPELT = 0.85
"""Likeness from which a cause is a slip of another: "pistn" and "piston" have 0.91."""
LEAST_FOR_HEAPS = 30
"""Readings of a source below which rounding cannot be told from chance."""
HEAP_CHANCE = 1e-4
HEAP_SHARE = 3.0
"""A heap is called when rounded hours are this many times as frequent as chance would have it."""
MAX_GUESSES = 50
"""Unknown serials for which the nearest one is looked up; each look-up walks the whole list."""
ROUND_H = 1e-6
STEPS = (100.0, 50.0, 10.0)
"""Roundings looked for, in hours, coarsest first."""


def declared_causes(study: Study) -> dict[str, str]:
    """Return every cause that the study file names, by its form for comparison."""
    q, c = study.settings.question, study.settings.check
    named = (
        *q.causes,
        *q.censoring_causes,
        *q.outside_causes,
        *q.not_renewed_causes,
        *c.undetectable_causes,
        *(x for f in study.files for x in f.causes.values()),
    )
    return {fold(x): x for x in named}


def misspelt_causes(lives: Sequence[LifeRow], study: Study) -> dict[str, str]:
    """Return causes that can only be a slip of a declared one, each with the declared one.

    Words must agree by 85 % of their letters and in all their digits.
    """
    declared = declared_causes(study)
    out: dict[str, str] = {}
    for cause in {fold(c) for c in {x.cause for x in lives} if cause_known(c)} - set(declared):
        near = nearest(cause, declared, cutoff=MISSPELT)
        if near and re.findall(r"\d+", near) == re.findall(r"\d+", cause):
            out[cause] = declared[near]
    return out


def audit_causes(lives: Sequence[LifeRow], study: Study) -> Iterator[Mark]:
    """Yield causes that are misspelt, not declared, or not given for a failure."""
    q = study.settings.question
    declared = declared_causes(study)
    misspelt = misspelt_causes(lives, study)
    silent: dict[str, list[int]] = {}
    unexplained: dict[str, list[int]] = {}
    for i, life in enumerate(lives):
        if life.ending in ("running", "lost", "modified"):
            continue
        if not cause_known(life.cause):
            if life.ending == "removed" and life.found_at_teardown is None:
                unexplained.setdefault(life.origin.file, []).append(i)
            elif life.ending not in PLANNED:
                silent.setdefault(life.origin.file, []).append(i)
            continue
        if fold(life.cause) in declared:
            continue
        near = misspelt.get(fold(life.cause), "")
        if near:
            yield (
                life_finding(
                    "cause-misspelt",
                    life,
                    f"The cause '{life.cause}' is not declared; it is taken as '{near}'.",
                    f'If it is another, write causes."{life.cause}" = "{life.cause}" for the file.',
                    column="cause",
                    value=life.cause,
                ),
                i,
            )
        elif q.causes and life.ending not in PLANNED:
            yield (
                life_finding(
                    "cause-undeclared",
                    life,
                    f"The study file does not name the cause '{life.cause}'; it counts as one "
                    "that is not in question.",
                    "Add it to question.causes, question.outside_causes or "
                    "question.censoring_causes.",
                    column="cause",
                    value=life.cause,
                ),
                i,
            )
    for file, which in silent.items():
        yield (
            make_finding(
                "cause-missing",
                f"{_many(len(which), 'failure or finding', 'failures or findings')} without a "
                "cause.",
                f"They count as {q.unknown_cause} (question.unknown_cause).",
                file=file,
                row=lives[which[0]].origin.row,
                column="cause",
            ),
            -1,
        )
    for file, which in unexplained.items():
        yield (
            make_finding(
                "removal-unexplained",
                f"{_many(len(which), 'removal', 'removals')} without a reason, counted as "
                "censored.",
                "Ask why: an engine removed because of a finding is no fair censoring.",
                file=file,
                row=lives[which[0]].origin.row,
                column="cause",
            ),
            -1,
        )


def _many(n: int, one: str, many: str) -> str:
    return f"{n} {one if n == 1 else many}"


def audit_meters(lives: Sequence[LifeRow], settings: Settings) -> Iterator[Finding]:
    """Yield a warning when more than one meter kind stands behind the hours."""
    kinds = Counter(x.meter or settings.hours.meter for x in lives)
    if len(kinds) > 1:
        factors = stated_factors(settings)
        told = ", ".join(f"{n} rows of {m} hours" for m, n in kinds.most_common())
        ranges = ", ".join(
            f"{m} × {f.factor:g} ({f.low:g} to {f.high:g})"
            for m, f in factors.items()
            if m in kinds and m != settings.hours.meter
        )
        yield make_finding(
            "meter-mixed",
            f"The records hold {told}, converted by {ranges}.",
            "An error in a factor is the same error in every answer; the report shows both ends.",
            column="meter",
        )


def audit_heaps(lives: Sequence[LifeRow], settings: Settings) -> Iterator[Finding]:
    """Yield sources whose hours end in round figures more often than chance.

    By chance 1 reading in 10 is a multiple of 10 h, 1 in 50 of 50 h, 1 in 100 of 100 h; the
    exact binomial tail judges each. Hours are looked at as they were read, before conversion.
    """
    factors = stated_factors(settings)
    by_source: dict[str, list[float]] = {}
    for x in lives:
        f = factors.get(x.meter)
        k = f.factor if f else 1.0
        hours = [h + x.life_start_h for h in (x.entry_h, x.exit_h) if h > 0.0]
        by_source.setdefault(x.source, []).extend(round(h / k, 6) for h in hours)
    for source, hours in by_source.items():
        n = len(hours)
        if n < LEAST_FOR_HEAPS:
            continue
        for step in STEPS:
            hits = int((np.mod(hours, step) <= ROUND_H).sum())
            if hits * step > HEAP_SHARE * n and binomial_tail(hits, n, 1.0 / step) < HEAP_CHANCE:
                yield make_finding(
                    "hours-heaped",
                    f"{hits} of the {n} readings of "
                    f"{f'source {source!r}' if source else 'the records'} are "
                    f"multiples of {step:g} h; chance would have "
                    f"{f'{n / step:.0f}' if n >= step else 'fewer than 1'}.",
                    f"Ask for readings as the meter shows them; until then take each as good to "
                    f"{step / 2:g} h.",
                    column="exit_hours",
                    value=f"{step:g}",
                )
                break


def binomial_tail(hits: int, n: int, p: float) -> float:
    """Return the chance of at least `hits` in `n` trials, each with chance `p`; exact."""
    from scipy.special import betainc

    return float(betainc(hits, n - hits + 1, p)) if hits > 0 else 1.0


def audit_undated(lives: Sequence[LifeRow]) -> Iterator[Finding]:
    """Yield, per file, how many running engines have no date of their last reading."""
    running = [x for x in lives if x.ending == "running"]
    files = Counter(x.origin.file for x in running if x.last_date is None)
    for file, n in files.items():
        yield make_finding(
            "reading-undated",
            f"{n} of the {sum(x.origin.file == file for x in running)} running engines have no "
            "date of their last reading.",
            "Without it stale readings cannot be told, nor the rate of use.",
            file=file,
            column="last_reading_date",
        )


def audit_covariates(lives: Sequence[LifeRow], settings: Settings) -> Iterator[Finding]:
    """Yield each covariate that the study asks for and no life gives."""
    for name in settings.groups.covariates:
        if lives and not any(name in x.extra for x in lives):
            yield make_finding(
                "covariate-missing",
                f"No row gives the covariate '{name}'; it is left out.",
                "Name it in groups.covariates as its column is headed; columns that are not used "
                "are listed with each file.",
                column=name,
            )


def audit_built(records: Records, lives: Sequence[LifeRow], settings: Settings) -> Iterator[Mark]:
    """Yield what the count of engines built, or the list of their serials, says of the records."""
    built, serials = settings.fleet.built, {normalise_id(s): s for s in records.serials}
    unknown = count_unknown(records, settings)
    guesses = 0
    if serials:
        for i, x in enumerate(lives):
            if x.count == 1 and x.engine_id not in serials:
                guesses += 1
                near = ""
                if guesses <= MAX_GUESSES:
                    near = nearest(x.engine, serials.values(), cutoff=0.8)
                yield (
                    life_finding(
                        "serial-not-built",
                        x,
                        f"Engine '{x.engine}' is not in the list of serials built.",
                        f"Did you mean '{near}'?" if near else "Correct the serial or the list.",
                        column="engine",
                        value=x.engine,
                    ),
                    i,
                )
    total = built if built is not None else len(serials)
    seen = 0 if built is None else seen_engines(records)
    if built is not None and seen > built:
        yield (
            make_finding(
                "more-than-built",
                f"The records hold {seen} engines; fleet.built says {built}.",
                "One id may be written in two ways, or the count is old.",
                value=str(seen),
            ),
            -1,
        )
    if unknown:
        missing = [s for k, s in serials.items() if k not in seen_ids(records)]
        names = f" Among them {', '.join(missing[:8])}." if missing else ""
        yield (
            make_finding(
                "fate-unknown",
                f"{unknown} of the {total} engines built are not in the records.{names}",
                "They are counted, never dropped: ask for them.",
                file=settings.fleet.serials_file,
                value=str(unknown),
            ),
            -1,
        )


def seen_ids(records: Records) -> set[str]:
    """Return the ids of all engines named in the records, rows set aside included."""
    known = {x.engine: x.engine_id for x in records.rows}
    named = {e for r in records.readings for e in r.engines}
    ids = {known[e] if e in known else normalise_id(e) for e in named}
    return (ids | {x.engine_id for x in records.rows if x.count == 1}) - {""}


def seen_engines(records: Records) -> int:
    """Return how many engines the records name, rows set aside included."""
    many = [x for x in records.rows if x.count > 1]
    # the id of a row for many engines is a label, which several rows may bear
    labels = {x.engine_id for x in many} - {x.engine_id for x in records.rows if x.count == 1}
    return len(seen_ids(records) - labels) + sum(x.count for x in many)


def count_unknown(records: Records, settings: Settings) -> int:
    """Return how many engines were built and are in no row: their fate is unknown."""
    if settings.fleet.built is None and not records.serials:
        return 0
    serials = {normalise_id(s) for s in records.serials}
    missing = len(serials - seen_ids(records))
    if settings.fleet.built is None:
        return missing
    return max(missing, settings.fleet.built - seen_engines(records), 0)
