"""Leak-down readings in runs: one cylinder between two repairs, with what its last check shows."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.condition.leakdown import LeakRow
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.fold import fold

STATIC_PATHS = ("head", "barrel", "crack", "static")
"""Words of a leak path that is not a ring or a valve; such a leak is not a matter of trend."""


@dataclass(frozen=True, slots=True)
class CylinderRun:
    """Readings of one cylinder between two repairs, in order; a retest replaces its reading.

    `mended` says that a repair ended the run.
    """

    engine: str
    cylinder: str
    since_h: float
    rows: tuple[LeakRow, ...]
    earlier: tuple[LeakRow, ...]
    mended: bool


def scaled(row: LeakRow, settings: Settings) -> float:
    """Return a reading brought to the study's supply pressure."""
    return row.reading * settings.leakdown.supply / row.supply


def limit_of(row: LeakRow, settings: Settings) -> tuple[float, str]:
    """Return the limit of a reading at the study's supply, and where it comes from.

    The reference orifice read on the day comes first, then the maker's limit, then the common
    loss rule, which holds only where the maker gives no data.
    """
    keys = settings.leakdown
    if keys.use_reference and row.reference is not None:
        return row.reference * keys.supply / row.supply, "reference"
    if keys.makers_limit is not None:
        return keys.makers_limit, "maker"
    return (1.0 - keys.loss_limit) * keys.supply, "default"


def find_runs(rows: Sequence[LeakRow], settings: Settings) -> list[CylinderRun]:
    """Return the readings by cylinder, cut after each action that starts a trend anew."""
    resets = {fold(a) for a in settings.leakdown.reset_actions}
    by_cylinder: dict[tuple[str, str], list[LeakRow]] = defaultdict(list)
    for r in rows:
        if r.replaced_by is None:
            by_cylinder[r.engine, r.cylinder].append(r)
    out = []
    for (engine, cylinder), mine in sorted(by_cylinder.items()):
        mine.sort(key=lambda r: (r.hours_h, r.origin.row or 0))
        since = 0.0
        run: list[LeakRow] = []
        before: list[LeakRow] = []
        for r in mine:
            run.append(r)
            if fold(r.action) in resets:
                out.append(
                    CylinderRun(engine, cylinder, since, tuple(run), tuple(before), mended=True)
                )
                before += run
                since, run = r.hours_h, []
        if run:
            out.append(
                CylinderRun(engine, cylinder, since, tuple(run), tuple(before), mended=False)
            )
    return out


def last_repairs(runs: list[CylinderRun]) -> dict[tuple[str, str], float]:
    """Return for each engine and cylinder the hours at which its last run begins."""
    out: dict[tuple[str, str], float] = {}
    for r in runs:
        key = (r.engine, r.cylinder)
        out[key] = max(out.get(key, 0.0), r.since_h)
    return out


def deficits_of(run: CylinderRun, runs: list[CylinderRun], settings: Settings) -> Array:
    """How far each reading lies below the median of the engine's other cylinders that day."""
    others: dict[float, list[float]] = defaultdict(list)
    for o in runs:
        if o.engine == run.engine and o.cylinder != run.cylinder:
            for r in o.rows:
                others[r.hours_h].append(scaled(r, settings))
    return np.array(
        [
            float(np.median(others[r.hours_h])) - scaled(r, settings)
            if others[r.hours_h]
            else np.nan
            for r in run.rows
        ]
    )


def deficit_spread(runs: list[CylinderRun], settings: Settings) -> tuple[float, float]:
    """Robust sd over the fleet of deficits, and of their change from one check to the next."""
    level, change = [], []
    for run in runs:
        d = deficits_of(run, runs, settings)
        level += list(d[np.isfinite(d)])
        step = np.diff(d)
        change += list(step[np.isfinite(step)])

    def robust(values: list[float]) -> float:
        if len(values) < 8:
            return math.nan
        x = np.array(values)
        # Readings are whole numbers, so a spread below their rounding would flag everything.
        return max(1.4826 * float(np.median(np.abs(x - np.median(x)))), 0.5)

    return robust(level), robust(change)


def signs_of(
    run: CylinderRun,
    reading: Array,
    limits: list[tuple[float, str]],
    deficits: Array,
    spread: tuple[float, float],
    ok: Array,
    settings: Settings,
) -> tuple[tuple[str, ...], bool]:
    """What is flagged at the last check, and whether it asks for a look first."""
    keys, out, first = settings.leakdown, [], False
    below = [y < lim for y, (lim, _) in zip(reading, limits, strict=True)]
    u = keys.unit
    if below[-1] and len(below) > 1 and below[-2]:
        out.append(f"below its limit at two checks running ({reading[-1]:.0f} {u})")
        first = True
    elif below[-1]:
        out.append(
            f"below its limit at the last check ({reading[-1]:.0f} against {limits[-1][0]:.0f} "
            f"{u}); retest as the manual says"
        )
    d, sd = float(deficits[-1]), spread[0]
    if math.isfinite(d) and math.isfinite(sd) and d > keys.step_sd * sd:
        out.append(f"{d:.0f} {u} below the engine's other cylinders")
        first = True
    if len(deficits) > 1:
        step = float(deficits[-1] - deficits[-2])
        if math.isfinite(step) and math.isfinite(spread[1]) and step > keys.step_sd * spread[1]:
            out.append(
                f"a sudden step down of {step:.0f} {u} since the check before; a retest would tell"
            )
    if not ok[-1] and not out:
        out.append("the last reading is odd beside its own trend; a retest would tell")
    path = fold(run.rows[-1].leak_path)
    if any(w in path for w in STATIC_PATHS):
        out.append(f"air heard at the {run.rows[-1].leak_path}: not a matter of trend")
        first = True
    return tuple(out), first
