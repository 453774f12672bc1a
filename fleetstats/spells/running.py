"""The engines that run today: their hours, their own rate of use, and how fresh that is."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.gate import an, gate
from fleetstats.core.kept import Same, kept
from fleetstats.core.value import Array, Value, value
from fleetstats.records.clocks.usage import DAYS_PER_YEAR
from fleetstats.records.life import LifeRow
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.ids import id_order

LEAST_DAYS = 90
"""Days of record below which an engine's own rate of use is not read from them."""
MOST_USE_H = 2_000.0
"""Hours a year beyond which a rate is a slip in a date, not a habit of flying."""


MOST_ENGINES = 50_000
"""Running engines that outlook and forecast take; they keep every engine times every draw."""


ENDED = ("failed", "lost", "removed")
"""Endings after which an engine runs no more, unless a later life of it does."""


@value
class RunningEngine(Value):
    """One engine in service.

    `age_h` are its hours at the last reading; `use_h` hours a year, with `use_from` ``"own"``,
    ``"fleet"`` (median of the others), ``"stated"`` (in the study) or ``"none"`` (then NaN);
    `stale` that the last reading is older than the study allows; `count` how many equal engines.
    `age_high_h` are the highest hours that words leave open where `age_h` is the lowest, infinite
    for "at least"; None where the hours are one number.

    Parameters
    ----------
    engine, source, build : str
        Id and labels; empty where unknown.
    age_h : float
        Hours at the last reading.
    use_h : float
        Hours a year; NaN where nobody knows.
    use_from : str
        ``"own"``, ``"fleet"`` (median of the others), ``"stated"`` (in the study) or ``"none"``.
    read_on : str
        Date of the last reading.
    stale : bool
        Whether that is older than the study allows.
    count : int
        How many equal engines.
    age_high_h : float or None
        Highest hours that words leave open where `age_h` is the lowest, infinite for "at least";
        None where the hours are one number.

    Examples
    --------
    >>> import fleetstats as fs
    >>> engine = fs.RunningEngine(
    ...     engine="E1",
    ...     source="",
    ...     build="",
    ...     age_h=820,
    ...     use_h=90,
    ...     use_from="own",
    ...     read_on="2026-05-01",
    ...     stale=False,
    ... )
    >>> engine.told_between
    False
    """

    engine: str
    source: str
    build: str
    age_h: float
    use_h: float
    use_from: str
    read_on: str
    stale: bool
    count: int = 1
    age_high_h: float | None = None

    @property
    def told_between(self) -> bool:
        """Return whether its hours are told as lying between two that are known."""
        return self.age_high_h is not None and self.age_h < self.age_high_h < math.inf


@gate(settings=an(Settings, "Give the settings of a study, as fs.read_study(folder).settings."))
def find_running(rows: Iterable[LifeRow], settings: Settings) -> tuple[RunningEngine, ...]:
    """Return the engines that run today, oldest first.

    Hours are those of the last reading; they are not carried to the analysis date, unless the
    study says so, since nobody read them, and then once. An engine with several rows counts with
    its last life.

    Parameters
    ----------
    rows : iterable of LifeRow
        Lives in use.
    settings : Settings
        Tables study, hours and fleet.

    Returns
    -------
    tuple of RunningEngine

    Raises
    ------
    ArgumentError
        If `settings` are none.

    References
    ----------
    Our own rule, no source.

    Examples
    --------
    >>> import fleetstats as fs
    >>> study = fs.read_study("datasets/quiet-fleet")
    >>> engines = fs.find_running(fs.read_records(study).rows, study.settings)
    >>> len(engines), engines[0].age_h
    (260, 1611.2)
    """
    return tuple(e for _, e in find_running_at(rows, settings))


def running_among(
    rows: Sequence[LifeRow], spells: Spells, settings: Settings
) -> tuple[RunningEngine, ...]:
    """Return the same, found once for the rows behind some spells; more chapters than one ask."""
    hours, study = settings.hours, settings.study
    asked = (study.analysis_date, settings.fleet.hours_per_year, hours.carry_to_analysis_date,
             hours.stale_days, hours.basis)  # fmt: skip
    key = ("running", Same(rows), asked)
    return kept(spells, key, lambda: find_running(rows, settings))


def find_running_at(
    rows: Iterable[LifeRow], settings: Settings
) -> tuple[tuple[int, RunningEngine], ...]:
    """Return the same, each engine with the place of its last life among the rows."""
    listed = list(rows)
    last: dict[str | tuple[str, int], int] = {}
    over: list[LifeRow] = []
    for i, row in enumerate(listed):
        if row.ending != "running":
            if row.ending in ENDED:
                over.append(row)
            continue
        key = row.engine_id if row.count == 1 else (row.engine_id, i)
        old = last.setdefault(key, i)
        if old != i and _now(listed[old]) < _now(row):
            last[key] = i
    ended = set()
    for row in over:
        mine = last.get(row.engine_id)
        if mine is not None and _now(row) >= _now(listed[mine]):
            ended.add(row.engine_id)
    rates = [_own_rate(listed[i], settings) for i in last.values()]
    known = [u for u in rates if math.isfinite(u)]
    usual = float(np.median(known)) if known else math.nan
    stated = settings.fleet.hours_per_year
    out = []
    for (key, i), own in zip(last.items(), rates, strict=True):
        if key in ended:
            continue
        use, how = own, "own"
        if not math.isfinite(use):
            if stated is not None:
                use, how = stated, "stated"
            else:
                use, how = (usual, "fleet") if known else (use, "none")
        out.append((i, _engine(listed[i], use, how, settings)))
    return tuple(sorted(out, key=lambda x: (-x[1].age_h, id_order(x[1].engine))))


def _now(row: LifeRow) -> float:
    """Return the hours of an engine since new at the end of a life."""
    return row.life_start_h + row.exit_h


def _engine(row: LifeRow, use: float, how: str, settings: Settings) -> RunningEngine:
    read, today = row.last_date, settings.study.analysis_date
    days = (today - read).days if read is not None and today is not None else None
    age = row.exit_h - row.carried_h
    if settings.hours.carry_to_analysis_date and days is not None and days > 0 and how != "none":
        age += use * days / DAYS_PER_YEAR
    return RunningEngine(
        engine=row.engine,
        source=row.source,
        build=row.build,
        age_h=age,
        use_h=use,
        use_from=how,
        read_on=read.isoformat() if read is not None else "",
        stale=days is not None and days > settings.hours.stale_days,
        count=row.count,
        age_high_h=None if row.exit_high_h is None else row.exit_high_h + age - row.exit_h,
    )


def _own_rate(row: LifeRow, settings: Settings) -> float:
    """Hours a year of one engine over its own record; NaN where the dates do not tell.

    The time under observation tells first, since its hours and dates are of one clock; a log's
    lives always have it. Else the date of entry into service, which is the engine's and not the
    life's: on the clock since overhaul the hours before the overhaul belong to it.
    """
    end = row.last_date
    if end is None:
        return float("nan")
    read_h = row.exit_h - row.carried_h
    if row.observed_from is not None and (end - row.observed_from).days >= LEAST_DAYS:
        days, hours = (end - row.observed_from).days, read_h - row.entry_h
    elif row.in_service is not None and row.in_service != row.observed_from:
        days, hours = (end - row.in_service).days, read_h
        if settings.hours.basis == "since-overhaul":
            hours += row.life_start_h
    else:
        return float("nan")
    use = hours / days * DAYS_PER_YEAR if days >= LEAST_DAYS else float("nan")
    return use if 0.0 < use <= MOST_USE_H else float("nan")


def refuse_too_many(engines: tuple[RunningEngine, ...]) -> None:
    """Raise FitError when there are more running engines than `MOST_ENGINES`."""
    n = sum(e.count for e in engines)
    if n > MOST_ENGINES:
        raise FitError(
            f"{n:,} engines run; outlook and forecast take at most {MOST_ENGINES:,}.",
            "Make a study of each family or source.",
        )


def ages_of(engines: tuple[RunningEngine, ...]) -> Array:
    """Return (n,) hours, equal engines repeated."""
    counts = [e.count for e in engines]
    return np.repeat(np.array([e.age_h for e in engines], dtype=np.float64), counts)


def widths_of(engines: tuple[RunningEngine, ...], *, months: float, hours: float | None) -> Array:
    """Return (n,) hours that each engine will run: `hours`, else months at its own rate."""
    counts = [e.count for e in engines]
    if hours is not None:
        return np.full(int(np.sum(counts)), hours)
    use = np.array([e.use_h for e in engines], dtype=np.float64)
    return np.repeat(use * months / 12.0, counts)
