"""Fitting the delay-time model: profile over the mean warning time, given detection.

Detection, the delay and the rate of faults are only weakly told apart by field records, so
detection is held at stated values and the answer is shown over their range. With few failures the
mean warning time has a lower limit only; the profile then says so instead of giving a number.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.survival.delay.delay import CheckLives, DelayModel, slip_share
from fleetstats.survival.delay.delay_likelihood import Prepared, prepare_delay
from fleetstats.survival.delay.delay_limits import (
    binomial_fall,
    chi_square_cut,
    crossings,
    exact_share,
    refine,
    weighted_quantiles,
)
from fleetstats.survival.delay.delay_profile import DelayPrior, Row, refit_arrival, sharpen

MEANS = 18
"""Mean warning times on the profile's grid, even in log."""
DELAY_SHAPES = (0.7, 1.0, 1.4, 2.0, 2.8, 4.0)
"""Shapes of the warning time tried when it is Weibull."""


@value
class DelayFit(Value):
    """The delay-time model fitted at one stated chance of detection.

    Parameters
    ----------
    model : DelayModel
        Best values. `mean_delay_h` is infinite when no failure was seen and no prior stated.
    log_likelihood : float
        At the best values, the prior's term included when one was stated.
    prior : DelayPrior or None
    mean_h, delay_shape : (g,) float
        Grid of warning times; the last mean may be infinite.
    deviance : (g,) float
        Twice the fall of the log-likelihood below the best, the rate of faults refitted.
    log_faults, log_faults_se : (g,) float
        Refitted log of expected faults to the horizon at each grid point, and its standard error.
    arrival_shape : (g,) float
    log_at, log_at_se : (g,) float
        The same for the rate of faults at the age `at_h`, times the horizon.
    at_h : float or None
        That age; None for the mean from new to the horizon.
    n_lives, n_found, n_failed : int
    exposure_h : float
    """

    model: DelayModel
    log_likelihood: float
    prior: DelayPrior | None
    mean_h: Floats
    delay_shape: Floats
    deviance: Floats
    log_faults: Floats
    log_faults_se: Floats
    arrival_shape: Floats
    log_at: Floats
    log_at_se: Floats
    at_h: float | None
    n_lives: int
    n_found: int
    n_failed: int
    exposure_h: float

    def mean_limits(self, level: float) -> tuple[float | None, float | None]:
        """Limits of the mean warning time; None where the grid ends inside.

        From the profile likelihood, or credible limits where a prior was stated.
        """
        if self.prior is not None:
            mean, _, _, _, weight = self._posterior()
            low, high = weighted_quantiles(np.log(mean), weight, level)
            return math.exp(low), math.exp(high)
        means = np.unique(self.mean_h)
        lowest = np.array([self.deviance[self.mean_h == m].min() for m in means])
        means, lowest = refine(means, lowest)
        for_low, for_high = self.cuts(level)
        return crossings(means, lowest, for_high)[0], crossings(means, lowest, for_low)[1]

    def cuts(self, level: float) -> tuple[float, float]:
        """Falls in twice the log-likelihood that mark the low and the high edge of the slip share.

        The chi-square quantile promises too much with few failures: none among n faults would
        bound the share at ``1.35 / n``, where the exact binomial limit is ``3 / n`` (each at
        one-sided 95 %). So each cut is the fall of a binomial log-likelihood, with the same
        numbers failed and found, at its exact limit (Clopper & Pearson 1934); never below the
        chi-square quantile. Coverage is checked in ``tests/coverage/test_delay_coverage.py``.
        """
        r, n = self.n_failed, self.n_failed + self.n_found
        least = chi_square_cut(level)
        low, high = exact_share(r, n, level)
        return (
            max(least, binomial_fall(r, n, low)) if r else least,
            max(least, binomial_fall(r, n, high)) if r < n else least,
        )

    def slip_limits(self, interval_h: Array, level: float) -> tuple[Array, Array]:
        """Limits (m,) of the share of faults that fail before being found; see `limits`."""
        return self.limits(lambda _, slip: slip, interval_h, level)

    def limits(
        self,
        what: Callable[[float, Array], Array],
        interval_h: Array,
        level: float,
        *,
        at_age: bool = False,
    ) -> tuple[Array, Array]:
        """Limits (m,) of any rising function of fault rate and slip share.

        `what` gets faults per engine hour and the shares (m,); with `at_age` the rate is that at
        `at_h`, not the mean. Limits are of the profile
        likelihood: at each grid point the rate moves by what the deviance leaves of the quantile,
        in its own quadratic approximation. With a stated prior they are credible limits instead,
        integrated over the grid and, at each point, over the rate.
        """
        if self.prior is not None:
            return self._credible(what, interval_h, level, at_age)
        edges = []
        for sign, cut in zip((-1.0, 1.0), self.cuts(level), strict=True):
            rows = []
            for m, k, centre, room in self._within(cut, at_age):
                s = slip_share(interval_h, m, shape=k, detection=self.model.detection)
                rows.append(what(math.exp(centre + sign * room), s))
            edges.append(np.min(rows, axis=0) if sign < 0 else np.max(rows, axis=0))
        return np.asarray(edges[0]), np.asarray(edges[1])

    def _refined(self, at_age: bool) -> list[tuple[float, Array, Array, Array, Array]]:
        """Gaps filled, for each delay shape: means, deviances, log faults and their errors."""
        out = []
        faults, errors = self.log_faults, self.log_faults_se
        if at_age:
            faults, errors = self.log_at, self.log_at_se
        for k in np.unique(self.delay_shape):
            at = np.flatnonzero(self.delay_shape == k)
            at = at[np.argsort(self.mean_h[at])]
            filled = refine(self.mean_h[at], self.deviance[at], faults[at], errors[at])
            out.append((float(k), filled[0], filled[1], filled[2], filled[3]))
        return out

    def _posterior(self, at_age: bool = False) -> tuple[Array, Array, Array, Array, Array]:
        """Means, shapes, log faults, their errors, and posterior weights over log hours."""
        parts = []
        for k, mean, deviance, faults, se in self._refined(at_age):
            gaps = np.diff(np.log(mean))
            width = 0.5 * (np.append(gaps, 0.0) + np.insert(gaps, 0, 0.0))
            weight = np.exp(-0.5 * deviance) * se * width
            parts.append((mean, np.full(len(mean), k), faults, se, weight))
        mean, shape, faults, se, weight = (np.concatenate(c) for c in zip(*parts, strict=True))
        return mean, shape, faults, se, weight / weight.sum()

    def _credible(
        self,
        what: Callable[[float, Array], Array],
        interval_h: Array,
        level: float,
        at_age: bool,
    ) -> tuple[Array, Array]:
        z, w = np.polynomial.hermite_e.hermegauss(15)
        log_h = math.log(self.model.horizon_h)
        values, weights = [], []
        for mean, shape, faults, se, share in zip(*self._posterior(at_age), strict=True):
            s = slip_share(interval_h, mean, shape=shape, detection=self.model.detection)
            for node, weight in zip(z, w / w.sum(), strict=True):
                values.append(what(math.exp(faults + node * se - log_h), s))
                weights.append(share * weight)
        table, weight = np.array(values), np.array(weights)
        edges = [weighted_quantiles(column, weight, level) for column in table.T]
        return np.array([e[0] for e in edges]), np.array([e[1] for e in edges])

    def _within(self, limit: float, at_age: bool) -> list[tuple[float, float, float, float]]:
        """Points of the profile region: mean, shape, log rate, and room left for the log rate."""
        log_h, out = math.log(self.model.horizon_h), []
        for k, mean, deviance, faults, se in self._refined(at_age):
            for i in np.flatnonzero(deviance <= limit):
                room = math.sqrt(limit - float(deviance[i])) * float(se[i])
                out.append((float(mean[i]), k, float(faults[i]) - log_h, room))
            for a in np.flatnonzero((deviance[:-1] <= limit) != (deviance[1:] <= limit)):
                if math.isfinite(mean[a + 1]):
                    w = float((limit - deviance[a]) / (deviance[a + 1] - deviance[a]))
                    edge = float(mean[a]) ** (1 - w) * float(mean[a + 1]) ** w
                    rate = (1 - w) * float(faults[a]) + w * float(faults[a + 1])
                    out.append((edge, k, rate - log_h, 0.0))
        return out


def _typical_gap(lives: CheckLives) -> float:
    """Return the median hours between checks."""
    gaps = np.diff(np.concatenate([[0.0], lives.check_h]))
    return float(np.median(gaps[gaps > 0])) if np.any(gaps > 0) else 0.05 * lives.oldest_h


def fit_delay(
    lives: CheckLives,
    *,
    detection: float,
    arrival: str = "steady",
    delay: str = "exponential",
    prior: DelayPrior | None = None,
    prepared: Prepared | None = None,
    grid: int = MEANS,
    at_h: float | None = None,
) -> DelayFit:
    """Fit the delay-time model by likelihood at a stated chance of detection.

    Parameters
    ----------
    lives : CheckLives
        With at least one fault, found or failed.
    detection : float
        Chance in (0, 1] that a check finds a fault that is there.
    arrival : {"steady", "weibull"}
        Whether faults arise at a steady rate or at a power of age.
    delay : {"exponential", "weibull"}
        Law of the warning time.
    prior : DelayPrior or None
        Adds its log density; without it the likelihood speaks alone.
    prepared : Prepared or None
        Integration ages made before, to fit several chances of detection on the same arrays.
    grid : int
        Mean warning times on the profile.
    at_h : float or None
        Age at which the rate of faults is wanted beside its mean; it needs Weibull arrival.

    Returns
    -------
    DelayFit

    Raises
    ------
    FitError
        If no fault was seen at all.
    """
    if lives.n_found + lives.n_failed == 0:
        raise FitError(
            "No fault was found at a check and none failed.",
            "A check interval can be judged from the first few faults on.",
        )
    pre = prepared or prepare_delay(lives, detection_low=detection)
    shapes = DELAY_SHAPES if delay == "weibull" else (1.0,)
    typical = _typical_gap(lives)
    means = np.geomspace(typical / 25.0, typical * 60.0, grid)
    rows: list[Row] = []
    for k in shapes:
        start = (math.log((lives.n_found + lives.n_failed) / max(1, len(lives))), 0.0)
        for m in (*means[::-1], math.inf):
            if math.isinf(m) and (k != 1.0 or prior is not None):
                continue
            row = refit_arrival(pre, m, k, detection, arrival, start, prior, at_h)
            if row is not None:
                rows.append(row)
                start = (row[3], math.log(row[5]))
    best = max(rows, key=lambda r: r[2])
    if math.isfinite(best[0]):
        best = sharpen(pre, best, means[1] / means[0], detection, arrival, prior, at_h)
        rows.append(best)
    table = np.array(sorted(rows, key=lambda r: (r[1], r[0])))
    return DelayFit(
        model=DelayModel(
            faults_to_horizon=math.exp(best[3]),
            horizon_h=pre.horizon_h,
            arrival_shape=best[5],
            mean_delay_h=best[0],
            delay_shape=best[1],
            detection=detection,
        ),
        log_likelihood=best[2],
        prior=prior,
        mean_h=table[:, 0],
        delay_shape=table[:, 1],
        deviance=2.0 * (best[2] - table[:, 2]),
        log_faults=table[:, 3],
        log_faults_se=table[:, 4],
        arrival_shape=table[:, 5],
        log_at=table[:, 6],
        log_at_se=table[:, 7],
        at_h=at_h,
        n_lives=len(lives),
        n_found=lives.n_found,
        n_failed=lives.n_failed,
        exposure_h=lives.exposure_h,
    )


def doubt_steady(pre: Prepared, fit: DelayFit) -> tuple[float, float]:
    """Return how strongly a fit with steady arrival is contradicted: chance, and arrival shape.

    The rate of faults is refitted as a power of age with the warning time held at the fit's; the
    fall of twice the log-likelihood is set against chi-square with one degree of freedom. As the
    warning time is not refitted, the chance can only come out too large.
    """
    from scipy.special import chdtrc

    m = fit.model
    start = (math.log(m.faults_to_horizon), 0.0)
    row = refit_arrival(
        pre, m.mean_delay_h, m.delay_shape, m.detection, "weibull", start, fit.prior
    )
    if row is None:
        return 1.0, 1.0
    return float(chdtrc(1, max(0.0, 2.0 * (row[2] - fit.log_likelihood)))), row[5]
