"""Does the curve hold near the hours that matter? Failures seen and expected about a claim.

A test over all ages (`goodness`) spreads its power over all of them; a claim rests on the ages up
to its hours. So the failures from new to the claim, in its second half and about it are held
against those that the fitted curve expects there. Counts are small and the curve was fitted to the
same failures, so the chance of so great a difference comes from simulated counts: Poisson numbers
in narrow bands of age, from each of which the part that a new fit would take up is subtracted,
to first order B inv(I) B' inv(E) (N - E), as in `goodness`. The greatest standardised difference of
the windows is one statistic, so that looking at three needs no further allowance.

The two tests together are held to one chance of a false alarm: twice the smaller p-value
(Bonferroni), 2 to 5 in 100 fleets by simulation where 5 are allowed.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.gate import HOURS_ABOVE_0, SEED, gate
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.survival.counting.product_limit import ends
from fleetstats.survival.families.goodness import (
    Goodness,
    check_goodness,
    expected_failures,
    expected_slopes,
    is_vague,
)
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT
from fleetstats.vocabulary.limits import CURVE_DOUBT_P, FEW_FOR_SHAPE

WINDOWS = ((0.0, 1.0), (0.5, 1.0), (0.8, 1.25))
"""Windows of age as shares of the claimed hours."""

BANDS_TO_CLAIM, BANDS_PAST_CLAIM = 20, 15
DRAWS = 2000


@value
class CurveCheck(Value):
    """Whether a fitted curve agrees with its failures, over all ages and near given hours.

    Parameters
    ----------
    hours : float or None
        Claimed hours, about which the windows lie.
    goodness : Goodness
        The test over all ages.
    low_h, high_h : (w,) float
        Windows of age in hours; none without claimed hours.
    n_failed, n_expected : (w,) float
        Failures seen in each, and expected there by the curve.
    p_near : float or None
        Chance of so great a difference, or a greater one, in any window if the curve were right.
    p_value : float or None
        The same of both tests together; None where neither could be made.
    """

    hours: float | None
    goodness: Goodness
    low_h: Floats
    high_h: Floats
    n_failed: Floats
    n_expected: Floats
    p_near: float | None
    p_value: float | None

    @property
    def doubted(self) -> bool:
        """Return whether the failures contradict the curve."""
        return self.p_value is not None and self.p_value < CURVE_DOUBT_P

    @property
    def worst(self) -> tuple[float, float, float, float]:
        """Return the band or window that speaks most: its edges in hours, seen, expected."""
        g = self.goodness
        by_near = self.p_near is not None and self.p_near <= (
            1.0 if g.p_value is None else g.p_value
        )
        low, high, seen, expected = (
            (self.low_h, self.high_h, self.n_failed, self.n_expected)
            if by_near
            else (g.low_h, g.high_h, g.n_failed, g.n_expected)
        )
        i = int(np.argmax(np.abs(seen - expected) / np.sqrt(np.maximum(expected, 1e-9))))
        return float(low[i]), float(high[i]), float(seen[i]), float(expected[i])


@gate(fit=FIT, hours=HOURS_ABOVE_0.or_none, seed=SEED)
def check_curve(fit: Fit, hours: float | None = None, *, seed: int = 1) -> CurveCheck:
    """Hold the failures against the curve fitted to them, over all ages and about given hours.

    Parameters
    ----------
    fit : Fit
        With its lives.
    hours : float, optional
        Claimed hours; without them only the test over all ages is made.
    seed : int
        Of the simulated counts.

    Returns
    -------
    CurveCheck
        `p_near` is None below 5 failures, past the ages seen, or where checks leave open on which
        side of a window's edge too many failures lie.

    References
    ----------
    The covariance of Hjort (1990), Annals of Statistics 18, 1221-1258, asked of windows of age; the
    windows are ours.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 2100, 50), [0, 0, 0, 1] * 10)
    >>> told = fs.check_curve(fs.fit_weibull(lives), 1200)
    >>> len(told.n_failed), round(told.p_near, 2)
    (3, 0.76)
    """
    goodness = check_goodness(fit)
    none = np.zeros(0)
    low, high, seen, expected = none, none, none, none
    p_near = None
    if hours is not None and hours < fit.spells.oldest_h:
        w = np.array(WINDOWS) * hours
        low, high = w[:, 0], np.minimum(w[:, 1], fit.spells.oldest_h)
        seen, expected, p_near = _near(fit, hours, low, high, seed)
    tried = [p for p in (goodness.p_value, p_near) if p is not None]
    return CurveCheck(
        hours=hours,
        goodness=goodness,
        low_h=low,
        high_h=high,
        n_failed=seen,
        n_expected=expected,
        p_near=p_near,
        p_value=min(1.0, len(tried) * min(tried)) if tried else None,
    )


def _near(
    fit: Fit, hours: float, low: Array, high: Array, seed: int
) -> tuple[Array, Array, float | None]:
    """Return failures seen and expected in windows (w,), and the chance of the greatest gap."""
    s = fit.spells
    edges = np.unique(
        np.concatenate(
            [
                np.linspace(0.0, hours, BANDS_TO_CLAIM + 1),
                np.linspace(hours, s.oldest_h, BANDS_PAST_CLAIM + 1),
                low,
                high,
            ]
        )
    )
    expected = expected_failures(fit, fit.estimate, edges)
    number, _ = np.histogram(ends(s)[s.failed], bins=edges, weights=s.weight[s.failed])
    inside = (edges[:-1] >= low[:, None] - 1e-9) & (edges[1:] <= high[:, None] + 1e-9)
    windows = inside.astype(float)
    vague = is_vague(fit, np.unique(np.concatenate([low, high])))
    if fit.n_failed < FEW_FOR_SHAPE or vague:
        return windows @ number, windows @ expected, None
    slopes = expected_slopes(fit, edges)
    left = np.diag(expected) - slopes @ fit.covariance @ slopes.T
    sd = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", windows, left, windows), 1e-9))
    drawn = stream(seed, "curve near the claim").poisson(expected, (DRAWS, len(expected)))
    gap = drawn - expected
    taken = (gap / np.maximum(expected, 1e-12)) @ slopes @ fit.covariance @ slopes.T
    simulated = np.abs((gap - taken) @ windows.T / sd).max(axis=1)
    greatest = float(np.abs(windows @ (number - expected) / sd).max())
    p = (1.0 + float((simulated >= greatest - 1e-9).sum())) / (DRAWS + 1.0)
    return windows @ number, windows @ expected, p
