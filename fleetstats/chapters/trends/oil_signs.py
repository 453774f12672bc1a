"""Oil use: which engines burn more than they used to."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from fleetstats.bands.interval import Interval
from fleetstats.chapters.trends.values import OilSign
from fleetstats.core.errors import FitError
from fleetstats.core.units import text_number
from fleetstats.records.condition.checks import CheckRow
from fleetstats.survival.regression.mixed_trend import Readings, TrendFit, fit_mixed_trend

LEAST_RISE = 0.10
"""Rise per 100 h, as a share of the usual use, below which a rise is told from the fleet's but not
worth a name."""
METHOD = "oil use"
"""Word of the check method whose readings are oil use."""
ODD_SD = 3.0
"""Noise scales above its own trend at which a last reading is called odd."""


def read_oil(
    checks: Sequence[CheckRow], *, level: float, min_readings: int
) -> tuple[tuple[OilSign, ...], int]:
    """Return the engines whose oil use rises or whose last reading is odd, and the readings' count.

    Parameters
    ----------
    checks : sequence of CheckRow
        Checks of any kind; those of method "oil use" with a value are read.
    level : float
        Two-sided confidence of the rise.
    min_readings : int
        Readings of an engine below which no rise is claimed.

    Returns
    -------
    tuple of OilSign, int
    """
    from scipy.special import ndtri

    rows = [c for c in checks if c.method == METHOD and c.value is not None]
    by_engine: dict[str, list[CheckRow]] = defaultdict(list)
    for c in sorted(rows, key=lambda c: c.hours_h):
        by_engine[c.engine].append(c)
    engines = sorted(by_engine)
    fit = _fit([by_engine[e] for e in engines])
    if fit is None:
        return (), len(rows)
    z = float(ndtri((1.0 + level) / 2.0))
    out = []
    for i, engine in enumerate(engines):
        mine = by_engine[engine]
        if len(mine) < min_readings:
            continue
        p = fit.predict(i, mine[-1].hours_h)
        low, high = p.slope - z * p.slope_sd, p.slope + z * p.slope_sd
        last = mine[-1].value or 0.0
        odd = float(fit.residual[fit.readings.segment == i][-1]) > ODD_SD * fit.sd["noise"]
        usual = float(np.median([c.value or 0.0 for c in mine]))
        sign = ""
        grows = 100.0 * p.slope >= LEAST_RISE * usual
        if grows and low > max(0.0, float(fit.fixed[1])):
            sign = f"oil use rises by {text_number(100 * p.slope, digits=2)} per 100 h"
        elif odd:
            sign = f"last oil use {text_number(last)} beside a usual {text_number(usual)}"
        if sign:
            rise = Interval(
                name="rise of oil use per 100 h",
                estimate=100.0 * p.slope,
                low=100.0 * low,
                high=100.0 * high,
                level=level,
                method="mixed model",
                unit="",
            )
            out.append(
                OilSign(
                    engine=engine,
                    hours_h=mine[-1].hours_h,
                    last=last,
                    usual=usual,
                    rise_per_100_h=rise,
                    sign=sign,
                )
            )
    out.sort(key=lambda o: -(o.rise_per_100_h.estimate or 0.0) if o.rise_per_100_h else 0.0)
    return tuple(out), len(rows)


def _fit(runs: list[list[CheckRow]]) -> TrendFit | None:
    rows = [(c, i) for i, mine in enumerate(runs) for c in mine]
    n = len(rows)
    try:
        return fit_mixed_trend(
            Readings(
                value=np.array([c.value or 0.0 for c, _ in rows]),
                hours=np.array([c.hours_h for c, _ in rows]),
                engine=np.array([i for _, i in rows], dtype=np.int64),
                segment=np.array([i for _, i in rows], dtype=np.int64),
                check=np.arange(n),
                cold=np.zeros(n, dtype=bool),
            ),
            check_share=False,
        )
    except FitError:
        return None
