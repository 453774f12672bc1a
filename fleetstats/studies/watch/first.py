"""Which engines to look at first, once a watch asks for it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.studies.watch.values import STATES, First, FleetWatch
from fleetstats.survival.change.carried import CarriedLives

MOST_FIRST = 6
"""Engines that are named."""


def engines_first(
    watch: FleetWatch, known: CarriedLives, rows: Sequence[LifeRow]
) -> tuple[First, ...]:
    """Return running engines, those nearest to the ones that failed first; none while quiet.

    Engines of a build in which all of the gravest line's failures of the watch fell come first,
    then those nearest in hours to one that failed.
    """
    if watch.state == "quiet":
        return ()
    worst = max(watch.lines, key=lambda x: (STATES.index(x.state), x.line.told - x.line.to_alarm))
    day = float(watch.base_day.toordinal())
    since = known.failed & (known.lines.end_day > day)
    mine = since & (known.asked if worst.by == "all" else known.cause == worst.name)
    running = np.flatnonzero(known.running)
    if not mine.any() or not len(running):
        return ()
    ages = np.sort(known.lines.end_h[mine])
    now = known.lines.end_h[running]
    away = np.abs(now[:, None] - ages[None, :]).min(axis=1)
    build = _only(known.build[mine])
    same = known.build[running] == build if build else np.ones(len(running), dtype=bool)
    order = np.lexsort((known.unit[running], away, ~same))[:MOST_FIRST]
    span = f"{ages[0]:,.0f} h" if len(ages) == 1 else f"{ages[0]:,.0f} to {ages[-1]:,.0f} h"
    return tuple(
        First(
            engine=rows[int(known.row[running[i]])].engine,
            source=str(known.source[running[i]]),
            build=str(known.build[running[i]]),
            hours=float(now[i]),
            why=f"build '{build}', in which all of them failed at {span}"
            if build and same[i]
            else f"near the hours at which they failed ({span})",
        )
        for i in order.tolist()
    )


def _only(labels: Array) -> str:
    """Return the label that all have; blank where they differ or have none."""
    names = np.unique(labels)
    return str(names[0]) if len(names) == 1 else ""
