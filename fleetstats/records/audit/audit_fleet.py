"""Audit of the records as a whole: meters, causes, rounded hours, serials never heard of."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from fleetstats.records.audit.audit_dates import life_finding
from fleetstats.records.audit.audit_pairs import Mark
from fleetstats.records.audit.fleet_counts import (
    ROUND_H,
    STEPS,
    find_missing_cause,
    tell_fate_unknown,
    tell_heap,
    tell_meters,
    tell_missing_causes,
    tell_more_than_built,
    tell_undated,
)
from fleetstats.records.clocks.clocks import stated_factors
from fleetstats.records.life import LifeRow
from fleetstats.records.reading import Records
from fleetstats.records.rules import PLANNED
from fleetstats.records.spelling import named_causes
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id
from fleetstats.vocabulary.nearest import nearest
from fleetstats.vocabulary.spelling import one_spelling
from fleetstats.vocabulary.unknown import cause_known

MISSPELT = 0.85
"""Likeness from which a cause is a slip of another: "pistn" and "piston" have 0.91."""
MAX_GUESSES = 50
"""Unknown serials for which the nearest one is looked up; each look-up walks the whole list."""


def declared_causes(study: Study) -> dict[str, str]:
    """Return every cause that the study file names, by its form for comparison."""
    return one_spelling({}, named_causes(study))


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
    missing: dict[tuple[str, str], list[int]] = {}
    for i, life in enumerate(lives):
        code = find_missing_cause(life.ending, life.cause, life.found_at_teardown)
        if code:
            missing.setdefault((code, life.origin.file), []).append(i)
        if life.ending in ("running", "lost", "modified") or not cause_known(life.cause):
            continue
        if fold(life.cause) in declared:
            continue
        near = misspelt.get(fold(life.cause), "")
        if near:
            yield (
                life_finding(
                    "cause-misspelt",
                    life,
                    column="cause",
                    value=life.cause,
                    cause=life.cause,
                    near=near,
                ),
                i,
            )
        elif q.causes and life.ending not in PLANNED:
            yield (
                life_finding(
                    "cause-undeclared", life, column="cause", value=life.cause, cause=life.cause
                ),
                i,
            )
    for (code, file), which in sorted(missing.items(), key=lambda kv: kv[0][0]):
        yield (
            tell_missing_causes(code, len(which), study.settings, file, lives[which[0]].origin.row),
            -1,
        )


def audit_meters(lives: Sequence[LifeRow], settings: Settings) -> Iterator[Finding]:
    """Yield a warning when more than one meter kind stands behind the hours."""
    yield from tell_meters(Counter(x.meter or settings.hours.meter for x in lives), settings)


def hours_as_read(lives: Sequence[LifeRow], settings: Settings) -> dict[str, list[float]]:
    """Return the hours since new at both ends of lives by source, as they stood on the meter."""
    factors = stated_factors(settings)
    by_source: dict[str, list[float]] = {}
    for x in lives:
        f = factors.get(x.meter)
        k = f.factor if f else 1.0
        hours = [h + x.life_start_h for h in (x.entry_h, x.exit_h) if h > 0.0]
        by_source.setdefault(x.source, []).extend(round(h / k, 6) for h in hours)
    shown = one_spelling({s: len(read) for s, read in by_source.items()})
    by_name: dict[str, list[float]] = {}
    for source, read in by_source.items():
        by_name.setdefault(shown[fold(source)], []).extend(read)
    return by_name


def audit_heaps(lives: Sequence[LifeRow], settings: Settings) -> Iterator[Finding]:
    """Yield sources whose hours end in round figures more often than chance.

    `tell_heap` is the judge. Hours are looked at as they were read, before conversion.
    """
    for source, read in hours_as_read(lives, settings).items():
        hits = {step: int((np.mod(read, step) <= ROUND_H).sum()) for step in STEPS}
        yield from tell_heap(source, len(read), hits)


def audit_undated(lives: Sequence[LifeRow]) -> Iterator[Finding]:
    """Yield, per file, how many running engines have no date of their last reading."""
    running = [x for x in lives if x.ending == "running"]
    files = Counter(x.origin.file for x in running if x.last_date is None)
    for file, n in files.items():
        yield tell_undated(n, sum(x.origin.file == file for x in running), file)


def audit_covariates(lives: Sequence[LifeRow], settings: Settings) -> Iterator[Finding]:
    """Yield each covariate that the study asks for and no life gives."""
    for name in settings.groups.covariates:
        if lives and not any(name in x.extra for x in lives):
            yield make_finding("covariate-missing", column=name, name=name)


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
                        "serial-not-built/near" if near else "serial-not-built",
                        x,
                        near=near,
                        column="engine",
                        value=x.engine,
                    ),
                    i,
                )
    total = built if built is not None else len(serials)
    seen = 0 if built is None else seen_engines(records)
    if built is not None and seen > built:
        yield tell_more_than_built(seen, built), -1
    if unknown:
        missing = [s for k, s in serials.items() if k not in seen_ids(records)]
        names = f" Among them {', '.join(missing[:8])}." if missing else ""
        file = settings.fleet.serials_file
        yield tell_fate_unknown(unknown, total, names=names, file=file), -1


def seen_ids(records: Records) -> set[str]:
    """Return the ids of all engines named in the records, rows set aside included."""
    known = {x.engine: x.engine_id for x in records.rows}
    named = {e for r in records.readings for e in r.engines}
    ids = {known[e] if e in known else normalise_id(e) for e in named}
    return (ids | {x.engine_id for x in records.rows if x.count == 1}) - {""}


def seen_engines(records: Records) -> int:
    """Return how many engines the records name, rows set aside included."""
    single = {x.engine_id for x in records.rows if x.count == 1}
    # an engine that returns name otherwise, or that is told apart, is counted by its lives alone
    with_lives = {x.engine: x.engine_id for r in records.readings for x in r.rows if x.count == 1}
    named = {e for r in records.readings for e in r.engines} - with_lives.keys()
    # the label of equal engines is none of theirs, but a row set aside under it tells of one
    aside = {normalise_id(s.engine) for s in records.set_aside}
    equal = {x.engine for r in records.readings for x in r.rows if x.count > 1}
    named -= {e for e in equal if normalise_id(e) not in aside}
    bare = {normalise_id(e) for e in named} - set(with_lives.values()) - {""}
    return len(single | bare) + sum(x.count for x in records.rows if x.count > 1)


def count_unknown(records: Records, settings: Settings) -> int:
    """Return how many engines were built and are in no row: their fate is unknown."""
    if settings.fleet.built is None and not records.serials:
        return 0
    serials = {normalise_id(s) for s in records.serials}
    missing = len(serials - seen_ids(records))
    if settings.fleet.built is None:
        return missing
    return max(missing, settings.fleet.built - seen_engines(records), 0)
