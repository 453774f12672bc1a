"""Share of faults that slip through checks, at many warning times at once."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from fleetstats.core.value import Array
from fleetstats.survival.delay.delay import slip_share

LOG_ENDS = 7.0
"""Log of interval over mean warning time to which the table of a shape runs, either way."""
STEPS = 800
"""Steps of that table. The share is near a power of the ratio, so a line between two steps is
right to 6e-4 of it (tested)."""


def slip_shares(
    interval_h: Array, mean_h: Array, shape: Array, no_warning: Array, detection: float
) -> Array:
    """Return shares (p, m): for each of p laws of the warning time, at each of m intervals.

    Parameters
    ----------
    interval_h : (m,) float
        Hours between checks.
    mean_h, shape, no_warning : (p,) float
        Mean warning time, its Weibull shape, and the share of faults without any.
    detection : float
        Chance in (0, 1] that a check finds a fault that is there.
    """
    seen = np.zeros((len(mean_h), len(interval_h)))
    for k in np.unique(shape):
        at = np.flatnonzero((shape == k) & np.isfinite(mean_h))
        ratio = (interval_h / mean_h[at, None]).ravel()
        if k == 1.0:
            value = slip_share(ratio, 1.0, detection=detection)
        else:
            log_x, table = _table(float(k), detection)
            # Below the table the share is a power of the ratio.
            below = np.exp(k * np.minimum(np.log(ratio) - log_x[0], 0.0))
            value = np.interp(np.log(ratio), log_x, table) * below
        seen[at] = value.reshape(len(at), len(interval_h))
    v = no_warning[:, None]
    return np.asarray(v + (1.0 - v) * seen)


@lru_cache(maxsize=64)
def _table(shape: float, detection: float) -> tuple[Array, Array]:
    log_x = np.linspace(-LOG_ENDS, LOG_ENDS, STEPS + 1)
    return log_x, slip_share(np.exp(log_x), 1.0, shape=shape, detection=detection)
