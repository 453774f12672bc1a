"""Who could have told each failure in question, and who told it."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

from fleetstats.core.errors import SettingError
from fleetstats.records.life import LifeRow
from fleetstats.records.reading import Records
from fleetstats.records.rules import Ruling, ending_judge
from fleetstats.records.told_by import Telling, read_telling, source_of
from fleetstats.spells.build import Built
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.fold import fold


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldFailure:
    """A failure in question: the sources that could have told it, and those that did."""

    could: tuple[str, ...]
    told: frozenset[str]
    dated: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Lists:
    """All failures in question by their tellers, and how many engines each set of sources covers.

    `n_alone` failures could have been told by one source only.
    """

    failures: tuple[ToldFailure, ...]
    engines: Mapping[tuple[str, ...], int]
    n_alone: int


def list_failures(records: Records, built: Built, settings: Settings) -> Lists:
    """Return who could have told each failure in question and who did.

    A source covers an engine that it lists, if it lists engines that run too: on a list of failures
    alone an engine stands because it failed, so its silence about others tells nothing. Sources
    that the study says are of one population each cover what any of them lists. A failure after the
    last day of which a source tells is none that it could have told.

    Raises
    ------
    SettingError
        If the study names a source that the records do not have.
    """
    telling = read_telling(records)
    one = _one_population(settings, telling)
    covers = {
        s: engines
        for s, engines in telling.listed.items()
        if any(r.ending == "running" for rows in engines.values() for r in rows)
    }
    covered = _covered(built.rows, covers, telling, one)
    latest = {s: telling.latest(s) for s in telling.listed}
    found, alone, judge = [], 0, ending_judge(settings)
    for life, ruling in zip(built.rows, built.verdicts, strict=True):
        if ruling.counts_as != "failure" or life.count != 1:
            continue
        told = _tellers(life, telling, judge)
        day = life.last_date
        could = tuple(
            s
            for s in covered[life.engine_id]
            if s in told or _in_time(s, life, day, telling, latest)
        )
        if len(could) < 2 or not told & set(could):
            alone += 1
            continue
        found.append(ToldFailure(could=could, told=told & set(could), dated=day is not None))
    engines = Counter(covered.values())
    return Lists(failures=tuple(found), engines=engines, n_alone=alone)


def _covered(
    rows: Iterable[LifeRow], covers: Collection[str], telling: Telling, one: Collection[str]
) -> dict[str, tuple[str, ...]]:
    """Return the sources that cover each engine of single lives.

    Engines are gone through source by source as they were read: looked up one by one in the lists
    of all sources, a hundred thousand took more than twenty times as long as five thousand.
    """
    every = sorted({*covers, *one})
    found = dict.fromkeys((r.engine_id for r in rows if r.count == 1), 0)
    for i, source in enumerate(every):
        # one that lists failures alone covers what is listed by another of its population
        own = (1 << i) if source in covers else 0
        mark = own | ((1 << len(every)) if source in one else 0)
        for engine in telling.listed[source]:
            if engine in found:
                found[engine] |= mark
    names = {
        told: tuple([
            s for i, s in enumerate(every)
            if told >> i & 1 or (told >> len(every) & 1 and s in one)
        ])
        for told in set(found.values())
    }  # fmt: skip
    return {engine: names[told] for engine, told in found.items()}


def _one_population(settings: Settings, telling: Telling) -> set[str]:
    known = {fold(s): s for s in telling.listed}
    asked = settings.merge.same_population
    missing = [s for s in asked if fold(s) not in known]
    if missing:
        raise SettingError(
            f"merge.same_population names '{missing[0]}', which is no source of the records.",
            f"They have: {', '.join(sorted(telling.listed))}.",
        )
    return {known[fold(s)] for s in asked}


def _tellers(life: LifeRow, telling: Telling, judge: Callable[[LifeRow], Ruling]) -> frozenset[str]:
    """Return who told a failure: as one of any kind, since the merging knows its cause."""
    reports = telling.reports_of(life)
    who = {
        source_of(r)
        for r in reports
        if r.ending in FAILING_ENDINGS or judge(r).counts_as == "failure"
    }
    return frozenset(who or {source_of(life)})


def _in_time(
    source: str,
    life: LifeRow,
    day: dt.date | None,
    telling: Telling,
    latest: Mapping[str, dt.date | None],
) -> bool:
    """Return whether a source's time holds a failure; so it is where dates do not say."""
    last = latest[source]
    if day is None:
        return True
    if last is not None and last < day:
        return False
    mine = telling.listed[source].get(life.engine_id, ())
    begun = [r.observed_from for r in mine if r.observed_from is not None]
    return len(begun) < len(mine) or not begun or min(begun) <= day
