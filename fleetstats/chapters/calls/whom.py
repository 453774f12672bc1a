"""Whom can be asked: engines last read before the analysis date, lost, or without hours.

Hours since the last reading are those that the use per year gives: the engine's own, else the
stated one, else the median of the others (`spells/running.py`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from fleetstats.chapters.chapter import Base
from fleetstats.records.audit.audit_fleet import seen_ids
from fleetstats.records.clocks.clocks import stated_factors
from fleetstats.records.clocks.usage import DAYS_PER_YEAR
from fleetstats.records.life import LifeRow
from fleetstats.records.set_aside import SetAside
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.placings import earliest_h, latest_h
from fleetstats.spells.running import RunningEngine, find_running_at
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.ids import normalise_id

KINDS = {
    "running": "running when last read",
    "lost": "lost to follow-up",
    "no-hours": "in the records without hours",
    "unknown": "built, and in no record",
    "failed-no-hours": "failed, at hours not known",
}
"""What an engine is asked for, and the same in words."""

NO_HOURS = ("hours-missing",)
"""Why a row of a running engine was set aside that a call can mend."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Askable:
    """An engine that can be asked about.

    `at` is its place among the spells, None where it has none; `known_h` its hours when last read,
    on the study's clock and life basis; between `from_h` and `to_h` lies what nobody read. `row`
    is its last life, and `left_out` the failure without hours that a call would tell of.
    """

    engine: str
    source: str
    build: str
    kind: str
    from_h: float
    to_h: float
    use_h: float
    use_from: str
    at: int | None = None
    row: LifeRow | None = None
    left_out: LeftOut | None = None
    in_service: dt.date | None = None

    @property
    def unread_h(self) -> float:
        """Return the hours expected since the last reading; 0 for a failure that is known."""
        return 0.0 if self.left_out is not None else self.to_h - self.from_h


@dataclass(frozen=True, slots=True, kw_only=True)
class Whom:
    """Those who can be asked, and how many cannot be put on a list.

    `undated` engines have no date from which hours could be reckoned, `no_use` no use per year,
    `several` stand in rows of several engines, `unnamed` were built and are named nowhere.
    """

    asked: tuple[Askable, ...]
    undated: int = 0
    no_use: int = 0
    several: int = 0
    unnamed: int = 0


def find_asked(base: Base) -> Whom:
    """Return the engines of a study that can be asked about; none without an analysis date."""
    day = base.settings.study.analysis_date
    if day is None:
        return Whom(asked=())
    # an engine lost to follow-up may be running, for all that is known of it
    rows = [replace(r, ending="running") if r.ending == "lost" else r for r in base.built.rows]
    out: list[Askable] = []
    undated = no_use = several = 0
    uses: list[float] = []
    for at, e in find_running_at(rows, base.settings):
        row = base.built.rows[at]
        if e.count > 1:
            several += e.count
            continue
        if e.use_from == "own":
            uses.append(e.use_h)
        to_h = _expected_h(row, e, day)
        if e.use_from == "none":
            no_use += 1
        elif to_h is None:
            undated += 1
        elif to_h > row.exit_h - row.carried_h:
            out.append(_known(at, row, e, to_h))
    typical = base.settings.fleet.hours_per_year or (float(np.median(uses)) if uses else None)
    expected = [x.to_h for x in out]
    typical_h = float(np.median(expected)) if expected else None
    use_from = "stated" if base.settings.fleet.hours_per_year else "fleet"
    for x in _without_hours(base):
        to_h = typical_h
        if x.in_service is not None and typical is not None:
            to_h = typical * (day - x.in_service).days / DAYS_PER_YEAR
        if to_h is None or typical is None:
            no_use += 1
        elif to_h > 0.0:
            out.append(replace(x, to_h=to_h, use_h=typical, use_from=use_from))
    out += _failed(base)
    named = sum(x.kind == "unknown" for x in out)
    return Whom(
        asked=tuple(out),
        undated=undated,
        no_use=no_use,
        several=several,
        unnamed=max(base.built.n_fate_unknown - named, 0),
    )


def _expected_h(row: LifeRow, e: RunningEngine, day: dt.date) -> float | None:
    """Return the hours expected today on the life's clock; None where no date tells."""
    read = row.last_date
    if read is not None:
        return row.exit_h - row.carried_h + e.use_h * max((day - read).days, 0) / DAYS_PER_YEAR
    begun, hours = (row.observed_from, row.entry_h) if row.observed_from else (row.in_service, 0.0)
    if begun is None:
        return None
    # the date of entry into service is the engine's, and not that of a later life
    start_h = 0.0 if row.observed_from else row.life_start_h
    return hours - start_h + e.use_h * max((day - begun).days, 0) / DAYS_PER_YEAR


def _known(at: int, row: LifeRow, e: RunningEngine, to_h: float) -> Askable:
    return Askable(
        engine=row.engine,
        source=row.source,
        build=row.build,
        kind=row.ending,
        from_h=row.exit_h - row.carried_h,
        to_h=to_h,
        use_h=e.use_h,
        use_from=e.use_from,
        at=at,
        row=row,
        in_service=row.in_service,
    )


def _without_hours(base: Base) -> Iterator[Askable]:
    """Yield engines set aside for want of hours, and serials built that are in no record."""
    lives = {r.engine_id for r in base.records.rows}
    seen = set(lives)
    for s in base.audit.set_aside:
        key = normalise_id(s.engine)
        if _is_asked(s) and key and key not in seen:
            seen.add(key)
            yield _bare(s.engine, s.source, "no-hours", s.in_service)
    heard = seen_ids(base.records) if base.records.serials else set()
    for serial in base.records.serials:
        if normalise_id(serial) not in heard:
            yield _bare(serial, "", "unknown", None)


def _is_asked(s: SetAside) -> bool:
    return s.reason in NO_HOURS and s.ending in ("running", "lost")


def _bare(engine: str, source: str, kind: str, in_service: dt.date | None) -> Askable:
    return Askable(
        engine=engine, source=source, build="", kind=kind, from_h=0.0, to_h=0.0, use_h=0.0,
        use_from="", in_service=in_service,
    )  # fmt: skip


def _failed(base: Base) -> Iterator[Askable]:
    """Yield failures without hours of named engines that have no life: their hours can be told."""
    told = [x for x in base.built.left_out if x.count == 1 and x.engine]
    if not told:
        return
    lives = {normalise_id(u) for u in base.spells.unit.tolist()}
    oldest = base.spells.oldest_h
    for x in told:
        if normalise_id(x.engine) not in lives:
            yield Askable(
                engine=x.engine, source=x.source, build=x.build, kind="failed-no-hours",
                from_h=earliest_h(x, oldest), to_h=latest_h(x, oldest), use_h=0.0, use_from="",
                left_out=x,
            )  # fmt: skip


def own_meters(asked: Iterable[Askable], settings: Settings) -> list[tuple[str, float]]:
    """Return the kinds of meter that engines' hours are read from, and their hours for one."""
    standard, factors = settings.hours.meter, stated_factors(settings)
    out = []
    for x in asked:
        meter = x.row.meter if x.row is not None and x.row.meter else standard
        factor = factors.get(meter)
        out.append((meter, factor.factor) if factor is not None else (standard, 1.0))
    return out
