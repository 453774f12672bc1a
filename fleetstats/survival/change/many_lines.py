"""On which months lives stood at each of many ages, by where each life passes from month to month.

Going through all lives for each failure costs their product. A life stands in a month from one age
to another, so it is counted in at the first and out past the second, and the running sums over the
ages tell all of them at once. Where an age is passed on a day that parts two months, to the last
digit, the two ways may place it on either side.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array

_TOGETHER = 20_000
"""Lives taken at once, to bound memory."""


def weight_by_month(
    entry_h: Array, end_h: Array, entry_day: Array, end_day: Array, weight: Array,
    age_h: Array, edge_day: Array,
) -> Array:  # fmt: skip
    """Return (k, m) weights of lives that stood in each month when they had each age.

    Parameters
    ----------
    entry_h, end_h, entry_day, end_day, weight : (n,) float
        Lives as straight lines in hours and days; a life has the ages past its entry to its end.
    age_h : (k,) float
        Rising.
    edge_day : (m + 1,) float
        Days between which the months lie; what lies outside goes to the first or the last.
    """
    k, m = len(age_h), len(edge_day) - 1
    change = np.zeros((k + 1) * m)
    for i in range(0, len(weight), _TOGETHER):
        part = slice(i, i + _TOGETHER)
        h, h1, day, day1, w = (x[part] for x in (entry_h, end_h, entry_day, end_day, weight))
        first = np.clip(np.searchsorted(edge_day, day, side="right") - 1, 0, m - 1)
        last = np.clip(np.searchsorted(edge_day, day1, side="left") - 1, first, m - 1)
        passed = last - first
        life = np.repeat(np.arange(len(w)), passed)
        nth = np.arange(len(life)) - np.repeat(np.cumsum(passed) - passed, passed)
        month = first[life] + nth
        at_h = h[life] + (edge_day[month + 1] - day[life]) * ((h1 - h) / (day1 - day))[life]
        at = np.searchsorted(age_h, np.clip(at_h, h[life], h1[life]), side="right") * m + month
        begin = np.searchsorted(age_h, h, side="right") * m + first
        end = np.searchsorted(age_h, h1, side="right") * m + last
        change += np.bincount(
            np.concatenate([begin, at + 1, at, end]),
            weights=np.concatenate([w, w[life], -w[life], -w]),
            minlength=len(change),
        )
    told = np.cumsum(change.reshape(k + 1, m), axis=0)[:k]
    return np.asarray(np.maximum(told, 0.0))
