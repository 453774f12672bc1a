"""Ordered grades against hours: the cumulative-logit model.

``P(grade >= k) = 1 / (1 + exp(cut_k - slope * x))`` (McCullagh 1980, J. R. Statist. Soc. B 42).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.value import Array, Floats, Ints, Value, value

RIDGE = 1e-3
"""Weight of a normal pull on the slope per standard deviation of hours: keeps it finite when the
grades are parted completely, and moves nothing that the data can tell."""


NEWTON_STEPS = 3
"""Steps that follow the search: it ends about 1e-5 from the maximum, and each step squares that."""
NEWTON_REACH = 0.1
"""A longer step would mean that the search had not come near the maximum; it then stands."""


@value
class GradeFit(Value):
    """Fitted grades. `cut` (k - 1,) are for the grades that occurred above the lowest, in
    `grades`; `slope_per_h` is the rise of the log odds with hours.
    """

    grades: Ints
    cut: Floats
    slope_per_h: float
    log_likelihood: float

    def at_least(self, grade: int, hours: ArrayLike) -> Array:
        """Return the chance (m,) of `grade` or more at `hours`."""
        h = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        k = int(np.searchsorted(self.grades, grade))
        if k == 0:
            return np.ones_like(h)
        if k >= len(self.grades):
            return np.zeros_like(h)
        return np.asarray(1.0 / (1.0 + np.exp(self.cut[k - 1] - self.slope_per_h * h)))


def fit_grades(grade: ArrayLike, hours: ArrayLike) -> GradeFit:
    """Fit ordered grades against hours by maximum likelihood.

    Parameters
    ----------
    grade : array_like (n,)
        Whole numbers.
    hours : array_like (n,)
        Hours, such as those since the oil change.

    Raises
    ------
    FitError
        If fewer than two grades occur.
    """
    from scipy.optimize import minimize

    g, h = np.asarray(grade, dtype=np.int64), np.asarray(hours, dtype=np.float64)
    seen, place = np.unique(g, return_inverse=True)
    if len(seen) < 2:
        raise FitError("All readings have the same grade.", "Two grades are needed to tell odds.")
    spread = float(h.std()) or 1.0
    x = (h - h.mean()) / spread
    above = np.array([(g >= s).mean() for s in seen[1:]])
    start = -np.log(above / (1.0 - above))
    gaps = np.log(np.maximum(np.diff(start), 1e-3))

    def cuts(p: Array) -> Array:
        return np.concatenate([[p[0]], p[0] + np.cumsum(np.exp(p[1:-1]))])

    def minus(p: Array) -> float:
        c = cuts(p)
        up = 1.0 / (1.0 + np.exp(np.clip(c[None, :] - p[-1] * x[:, None], -500, 500)))
        full = np.concatenate([np.ones((len(x), 1)), up, np.zeros((len(x), 1))], axis=1)
        each = full[np.arange(len(x)), place] - full[np.arange(len(x)), place + 1]
        return float(-np.log(np.maximum(each, 1e-300)).sum() + 0.5 * RIDGE * p[-1] ** 2)

    out = minimize(minus, np.concatenate([[start[0]], gaps, [0.0]]), method="BFGS")
    found = _refine(np.concatenate([cuts(out.x), out.x[-1:]]), x, place)
    slope = float(found[-1]) / spread
    return GradeFit(
        grades=seen,
        cut=found[:-1] + slope * float(h.mean()),
        slope_per_h=slope,
        log_likelihood=-float(out.fun),
    )


def _refine(p: Array, x: Array, place: Array) -> Array:
    """Take Newton steps from near the maximum to it; p holds the cuts and the slope.

    Differences leave the search above good to about 1e-6 only, and then its answer hangs on the
    order of the rows. The gradient and curvature are those of McCullagh 1980, section 2.
    """
    n, k = len(x), len(p) - 1
    rows = np.arange(n)
    # design of the upper and the lower bound of each row's grade: slope x - cut
    upper, lower = np.zeros((n, k + 1)), np.zeros((n, k + 1))
    has_upper, has_lower = place > 0, place < k
    upper[rows[has_upper], place[has_upper] - 1] = -1.0
    lower[rows[has_lower], place[has_lower]] = -1.0
    upper[:, -1] = lower[:, -1] = x
    for _ in range(NEWTON_STEPS):
        up = np.where(has_upper, 1.0 / (1.0 + np.exp(np.clip(-(upper @ p), -500, 500))), 1.0)
        down = np.where(has_lower, 1.0 / (1.0 + np.exp(np.clip(-(lower @ p), -500, 500))), 0.0)
        each = np.maximum(up - down, 1e-300)
        d_up, d_down = up * (1.0 - up), down * (1.0 - down)
        slope = (d_up[:, None] * upper - d_down[:, None] * lower) / each[:, None]
        bend = (upper.T * (d_up * (1.0 - 2.0 * up) / each)) @ upper
        bend -= (lower.T * (d_down * (1.0 - 2.0 * down) / each)) @ lower
        gradient = slope.sum(axis=0)
        curve = bend - slope.T @ slope
        gradient[-1] -= RIDGE * p[-1]
        curve[-1, -1] -= RIDGE
        try:
            step = np.linalg.solve(-curve, gradient)
        except np.linalg.LinAlgError:
            return p
        if not np.all(np.isfinite(step)) or np.max(np.abs(step)) > NEWTON_REACH:
            return p
        p = p + step
    return p
