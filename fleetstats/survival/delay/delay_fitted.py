"""A fit of the delay-time model: estimates averaged over its laws, limits over all of them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, fields
from functools import partial

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Floats, Value, as_asked, value
from fleetstats.survival.delay.delay import DelayModel
from fleetstats.survival.delay.delay_laws import EXPONENTIAL, UNSEEN, DelayLaw, laws_of
from fleetstats.survival.delay.delay_limits import (
    binomial_fall,
    chi_square_cut,
    crossings,
    exact_share,
    refine,
    weighted_quantiles,
)
from fleetstats.survival.delay.delay_profile import DelayPrior
from fleetstats.survival.delay.delay_slip import slip_shares

LAWS_WIDER = 1.2
"""Factor on a cut where several laws are asked. A profile over laws on a grid promises too much
where the hazard of a warning's end falls: with 150 engines the low edge at the interval flown and
at twice it held 90.6 and 91.2 % (gamma 0.5, Weibull 0.5; 160 fleets each), and 93.1 and 94.4 % with
it. No other source."""


@dataclass(frozen=True, slots=True)
class Points:
    """Points of a profile: warning times (p,), rates of faults and their room or error."""

    mean_h: Array
    shape: Array
    unseen: Array
    log_rate: Array
    room: Array
    weight: Array

    def where(self, keep: Array) -> Points:
        """Return the points that are kept."""
        return Points(*(getattr(self, f.name)[keep] for f in fields(self)))


@value
class DelayFit(Value):
    """The delay-time model fitted at one stated chance of detection.

    Parameters
    ----------
    log_likelihood : float
        At the best values over all laws, the prior's term included when one was stated.
    laws : tuple of DelayLaw
        Each law fitted, with its weight in the estimates; the exponential first.
    prior : DelayPrior or None
    mean_h, delay_shape, no_warning : (g,) float
        Grid of warning times and of the share of faults without any; a mean may be infinite.
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

    log_likelihood: float
    laws: tuple[DelayLaw, ...]
    prior: DelayPrior | None
    mean_h: Floats
    delay_shape: Floats
    no_warning: Floats
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

    @property
    def law(self) -> DelayLaw:
        """Return the law of the greatest weight: the exponential, unless the records tell.

        The highest point over all laws would not do: a free shape or share always fits a little
        better, and few failures put it anywhere. On exponential lives the median of its mean
        warning time came to 77 h of 120 h, that of this law's to 111 to 131 h.
        """
        return max(self.laws, key=lambda x: x.weight)

    @property
    def model(self) -> DelayModel:
        """Return that law's best values; its mean is infinite where no failure was seen."""
        return self.law.model

    def slip(self, interval_h: ArrayLike) -> Array:
        """Return the share of faults that fail before being found, averaged over the laws."""
        return self._average(lambda m: m.slip(interval_h))

    def failures_per_1000_h(self, interval_h: ArrayLike) -> Array:
        """Return failures before detection per 1,000 engine hours, averaged over the laws."""
        return self._average(lambda m: m.failures_per_1000_h(interval_h))

    def avoided_per_1000_h(self, interval_h: ArrayLike) -> Array:
        """Return failures that the checks avoid per 1,000 engine hours, averaged over the laws."""
        return self._average(lambda m: 1000.0 * m.faults_per_h * (1.0 - m.slip(interval_h)))

    def failures_per_interval(self, interval_h: ArrayLike, at_h: float | None = None) -> Array:
        """Return failures of one engine between two checks, averaged over the laws."""
        return self._average(lambda m: m.failures_per_interval(interval_h, at_h))

    def cost_per_h(
        self, interval_h: ArrayLike, check: float, repair: float, failure: float
    ) -> Array:
        """Return money per engine hour, averaged over the laws."""
        return self._average(lambda m: m.cost_per_h(interval_h, check, repair, failure))

    def estimate(
        self, what: Callable[[Array, Array], Array], interval_h: Array, *, at_h: float | None = None
    ) -> Array:
        """Return any function (m,) of fault rate and slip share, averaged over the laws."""

        def one(m: DelayModel) -> Array:
            times = 1.0 if at_h is None else m.times_mean_rate(at_h)
            rate = np.array([[m.faults_per_h * times]])
            return np.asarray(what(rate, m.slip(interval_h)[None, :])[0])

        return self._average(one)

    def _average(self, what: Callable[[DelayModel], Array]) -> Array:
        return as_asked(
            np.asarray(sum(x.weight * what(x.model) for x in self.laws if x.weight > 0.0))
        )

    @property
    def mean_delay_h(self) -> float:
        """Return the mean warning time of a fault that gives any, averaged in log hours.

        Over the laws where each does: beside a free share without warning it has no upper limit.
        Infinity where a law that weighs sets no limit.
        """
        mine = [x for x in self.laws if x.law != UNSEEN]
        whole = sum(x.weight for x in mine)
        return math.exp(
            sum(x.weight / whole * math.log(x.model.mean_delay_h) for x in mine if x.weight > 0.0)
        )

    def mean_limits(self, level: float) -> tuple[float | None, float | None]:
        """Limits of that mean; None where the grid ends inside.

        From the profile likelihood, or credible limits where a prior was stated.
        """
        if self.prior is not None:
            p = self._posterior()
            p = p.where(p.unseen == 0.0)
            low, high = weighted_quantiles(np.log(p.mean_h), p.weight / p.weight.sum(), level)
            return math.exp(low), math.exp(high)
        for_low, for_high = self.cuts(level)
        # A high share goes with a short warning: the cut of its high edge is that of the low mean.
        mine = [(m, d) for _, v, m, d, *_ in self._refined(False) if v == 0.0]
        least = min(float(d.min()) for _, d in mine)
        lows: list[float | None] = []
        highs: list[float | None] = []
        for mean, deviance in mine:
            fall = deviance - least
            if fall.min() <= for_high:
                lows.append(crossings(mean, fall, for_high)[0])
            if fall.min() <= for_low:
                highs.append(crossings(mean, fall, for_low)[1])
        return (
            None if None in lows else min(x for x in lows if x is not None),
            None if None in highs else max(x for x in highs if x is not None),
        )

    def cuts(self, level: float, *, wider: bool = True) -> tuple[float, float]:
        """Falls in twice the log-likelihood that mark the low and the high edge of the slip share.

        The chi-square quantile promises too much with few failures: none among n faults would
        bound the share at ``1.35 / n``, where the exact binomial limit is ``3 / n`` (each at
        one-sided 95 %). So each cut is the fall of a binomial log-likelihood, with the same
        numbers failed and found, at its exact limit (Clopper & Pearson 1934); never below the
        chi-square quantile. Wider by `LAWS_WIDER` where laws are averaged. Coverage is checked in
        ``tests/coverage/test_delay_coverage.py``.
        """
        r, n = self.n_failed, self.n_failed + self.n_found
        least = chi_square_cut(level)
        low, high = exact_share(r, n, level)
        by = LAWS_WIDER if wider and len(self.laws) > 1 else 1.0
        return (
            by * (max(least, binomial_fall(r, n, low)) if r else least),
            by * (max(least, binomial_fall(r, n, high)) if r < n else least),
        )

    def slip_limits(self, interval_h: Array, level: float) -> tuple[Array, Array]:
        """Limits (m,) of the share of faults that fail before being found; see `limits`."""
        return self.limits(lambda _, slip: slip, interval_h, level)

    def slip_limits_of(
        self, law: str, interval_h: Array, level: float
    ) -> tuple[Array, Array] | None:
        """Limits (m,) of the share under one law alone; None where the records rule it out.

        Laws that hold the exponential as a special case have limits at least as wide as its own.
        """
        edges = []
        for pick, cut in zip((np.min, np.max), self.cuts(level), strict=True):
            p = self._within(cut, False)
            p = p.where(np.isin(laws_of(p.shape, p.unseen), (law, EXPONENTIAL)))
            if not len(p.mean_h):
                return None
            edges.append(pick(self._slips(interval_h, p), axis=0))
        return np.asarray(edges[0]), np.asarray(edges[1])

    def unseen_limits(self, level: float) -> tuple[float, float]:
        """Limits of the share of faults that no check sees, beside an exponential warning time.

        From the profile likelihood over the grid of shares; the upper one is the bound that the
        share which failed sets, the lower one is mostly 0.
        """
        share = np.unique(self.no_warning)
        alone = self.delay_shape == 1.0
        fall = np.array([self.deviance[alone & (self.no_warning == v)].min() for v in share])
        fall -= fall.min()
        for_low, for_high = self.cuts(level, wider=False)
        a = int(np.flatnonzero(fall <= for_low)[0])
        b = int(np.flatnonzero(fall <= for_high)[-1])
        low, high = float(share[a]), float(share[b])
        if a > 0:
            low -= (for_low - fall[a]) / (fall[a - 1] - fall[a]) * (low - float(share[a - 1]))
        if b + 1 < len(share):
            w = (for_high - fall[b]) / (fall[b + 1] - fall[b])
            high += w * (float(share[b + 1]) - high)
        return low, high

    def limits(
        self,
        what: Callable[[Array, Array], Array],
        interval_h: Array,
        level: float,
        *,
        at_age: bool = False,
    ) -> tuple[Array, Array]:
        """Limits (m,) of any rising function of fault rate and slip share.

        `what` gets faults per engine hour (p, 1) and the shares (p, m) at the points of a profile;
        with `at_age` the rate is that at `at_h`, not the mean. Limits are of the profile
        likelihood: at each grid point the rate moves by what the deviance leaves of the quantile,
        in its own quadratic approximation. With a stated prior they are credible limits instead,
        integrated over the grid and, at each point, over the rate.
        """
        if self.prior is not None:
            return self._credible(what, interval_h, level, at_age)
        edges = []
        for sign, cut in zip((-1.0, 1.0), self.cuts(level), strict=True):
            p = self._within(cut, at_age)
            slips = kept(
                self, ("delay.slips", cut, at_age, tuple(interval_h.tolist())),
                partial(self._slips, interval_h, p),
            )  # fmt: skip
            rows = what(np.exp(p.log_rate + sign * p.room)[:, None], slips)
            edges.append(np.min(rows, axis=0) if sign < 0 else np.max(rows, axis=0))
        return np.asarray(edges[0]), np.asarray(edges[1])

    def _slips(self, interval_h: Array, p: Points) -> Array:
        return slip_shares(interval_h, p.mean_h, p.shape, p.unseen, self.model.detection)

    def _refined(
        self, at_age: bool, limit: float = math.inf
    ) -> list[tuple[float, float, Array, Array, Array, Array]]:
        """Gaps filled, for each law's shape and share: means, deviances, log faults, errors.

        Only where a deviance is within `limit`; filling a gap goes no lower than its ends.
        """
        out = []
        faults, errors = self.log_faults, self.log_faults_se
        if at_age:
            faults, errors = self.log_at, self.log_at_se
        pairs = np.stack([self.delay_shape, self.no_warning])
        for k, v in np.unique(pairs, axis=1).T:
            at = np.flatnonzero((self.delay_shape == k) & (self.no_warning == v))
            if self.deviance[at].min() > limit:
                continue
            at = at[np.argsort(self.mean_h[at])]
            filled = refine(self.mean_h[at], self.deviance[at], faults[at], errors[at])
            out.append((float(k), float(v), filled[0], filled[1], filled[2], filled[3]))
        return out

    def _falls(self) -> dict[str, float]:
        """Return twice the fall of each law's best log-likelihood below the best of all.

        A law that holds the exponential as a special case is at least as high.
        """
        names = laws_of(self.delay_shape, self.no_warning)
        return {
            str(law): float(self.deviance[np.isin(names, (law, EXPONENTIAL))].min())
            for law in np.unique(names)
        }

    def _posterior(self, at_age: bool = False) -> Points:
        """Points with posterior weights over log hours; each law as likely before the records."""
        parts = []
        groups = self._refined(at_age)
        names = laws_of([g[0] for g in groups], [g[1] for g in groups]).tolist()
        for name, (k, v, mean, deviance, faults, se) in zip(names, groups, strict=True):
            gaps = np.diff(np.log(mean))
            width = 0.5 * (np.append(gaps, 0.0) + np.insert(gaps, 0, 0.0))
            weight = np.exp(-0.5 * deviance) * se * width / names.count(name)
            each = np.full(len(mean), k), np.full(len(mean), v)
            parts.append((mean, *each, faults - math.log(self.model.horizon_h), se, weight))
        mean, shape, unseen, rate, error, weight = (
            np.concatenate(c) for c in zip(*parts, strict=True)
        )
        return Points(mean, shape, unseen, rate, error, weight / weight.sum())

    def _credible(
        self,
        what: Callable[[Array, Array], Array],
        interval_h: Array,
        level: float,
        at_age: bool,
    ) -> tuple[Array, Array]:
        z, w = np.polynomial.hermite_e.hermegauss(15)
        p = self._posterior(at_age)
        p = p.where(p.weight > 1e-9)
        slips = self._slips(interval_h, p)
        table = np.concatenate([what(np.exp(p.log_rate + x * p.room)[:, None], slips) for x in z])
        weight = np.concatenate([p.weight * x for x in w / w.sum()])
        edges = [weighted_quantiles(column, weight, level) for column in table.T]
        return np.array([e[0] for e in edges]), np.array([e[1] for e in edges])

    def _within(self, limit: float, at_age: bool) -> Points:
        return kept(self, ("delay.points", limit, at_age), lambda: self._region(limit, at_age))

    def _region(self, limit: float, at_age: bool) -> Points:
        """Points of the profile region, with the room that the limit leaves for the log rate.

        A law that the limit does not rule out has its region about its own best: two laws alike in
        height are both possible, and the chance by which one leads must not cut the other short.
        """
        parts = []
        falls = self._falls()
        for k, v, mean, whole, faults, se in self._refined(at_age, 2.0 * limit):
            fall = falls[str(laws_of(k, v))]
            deviance = whole - fall if fall <= limit else whole
            inside = deviance <= limit
            room = np.sqrt(limit - deviance[inside]) * se[inside]
            a = np.flatnonzero((inside[:-1] != inside[1:]) & np.isfinite(mean[1:]))
            w = (limit - deviance[a]) / (deviance[a + 1] - deviance[a])
            edge = mean[a] ** (1.0 - w) * mean[a + 1] ** w
            rate = (1.0 - w) * faults[a] + w * faults[a + 1]
            n = int(inside.sum()) + len(a)
            parts.append((
                np.append(mean[inside], edge), np.full(n, k), np.full(n, v),
                np.append(faults[inside], rate), np.append(room, np.zeros(len(a))),
            ))  # fmt: skip
        mean, shape, unseen, faults, room = (np.concatenate(c) for c in zip(*parts, strict=True))
        log_rate = faults - math.log(self.model.horizon_h)
        return Points(mean, shape, unseen, log_rate, room, np.ones(len(mean)))
