"""What failures and overhauls of the season may cost: a reserve by simulated seasons."""

from __future__ import annotations

import numpy as np

from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.chapters.ahead.forecast_values import CountForecast, Reserve
from fleetstats.chapters.ahead.season_paths import PATHS, season_ends
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.study.settings import Settings

RESERVE_LEVELS = (0.5, 0.8, 0.9, 0.95)


def reserve_for(
    draws: LifeCurves,
    age: Array,
    width: Array,
    planned: float | None,
    found: CountForecast | None,
    settings: Settings,
) -> tuple[Reserve | None, str]:
    """Return the reserve, or None and why there is none."""
    ratio, price = settings.cost.ratio, settings.cost.planned
    if ratio is None:
        return None, (
            "No reserve is computed: the study does not state what a failure costs beside a "
            "planned overhaul ([cost] ratio)."
        )
    rng = stream(settings.study.seed, "forecast-reserve")
    gap = np.full(len(age), np.inf) if planned is None else planned - age
    due = (gap > 0.0) & (gap <= width)
    fails, done = season_ends(draws, age, np.where(due, gap, width), due, rng)
    cost = price * (ratio * fails + done)
    if found is not None:
        law = found.law.probability
        cost += price * rng.choice(len(law), size=PATHS, p=law / law.sum())
    hours = float(width.sum())
    long_run = None
    if planned is not None:
        failed = -np.expm1(-draws.cumulative_hazard(planned)[:, 0])
        rate = price * (1.0 + (ratio - 1.0) * failed) / draws.mean_hours(planned)
        a, b, c = (float(x) for x in np.quantile(rate, (0.05, 0.5, 0.95)))
        long_run = (a, b, c)
    return (
        Reserve(
            currency=settings.cost.currency or "planned overhauls",
            levels=RESERVE_LEVELS,
            per_h=tuple(float(x) for x in np.quantile(cost / hours, RESERVE_LEVELS)),
            mean_per_h=float(cost.mean() / hours),
            fleet_hours=hours,
            long_run_per_h=long_run,
        ),
        "",
    )
