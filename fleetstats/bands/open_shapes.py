"""The pessimistic bound over all shapes that the records leave open: one rule from no failure on.

Given shape b the cumulative hazard by an age is at most m / N(b): m the upper bound of a Poisson
mean after r failures, N the equivalents (`advice/equivalents.py`; Garwood 1936, Nelson 1985). What
is not known is b. Its deviance against the best shape, plus a penalty outside the range that the
study states (or, where the study states a prior on the shape, minus twice its log density), is what
b has already used up of the deviance that a one-sided bound at z allows. What is left is the level
of its own bound:

    level(b) = Phi(sqrt(c z^2 - deviance(b))),      H(t) <= max over b of m(level(b)) / N(b) at t.

Nothing failed: no shape is told from another, and this is the least favourable shape of the range.
Many failed: few shapes are left, and it is the profile likelihood's bound. Nothing switches between
(signed roots of a profile: Barndorff-Nielsen & Cox 1994, as a frame; joining them with an exact
conditional bound is our own, and so is the constant in c: both rest on the study of
``tests/tools/quoted_study.py``).

One failure more is no better news. A failure at a young age can speak for a flat curve, and so for
less to come at far later hours. So the bound at an age is the worst of those that arise when the
youngest 0, 1, 2 ... of the failures up to that age are taken as running: exposure does not hang on
that, so a failure added at or below an age cannot better the bound there. For the chance of failing
before the next check each failure so taken away is allowed to ease the bound by `EASED`; without
that the slope of the few oldest failures would outweigh all the data.

A failure of which only the ages are known between which it came may be given to `OpenShapes.of` as
such. Then b is asked at the ages that speak for it most, and the bound is the worst of all placings
and of any number of such failures taken away: one more of them, too, betters no bound.
"""

from __future__ import annotations

import math
from typing import ClassVar

import numpy as np

from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.bands.quantity import log_hazard_factor
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells

Unplaced = tuple[tuple[float, float, float], ...]

EDGE_SD = 0.35
"""Log distance past the stated range of shapes at which the penalty is that of one deviate. Each
failure adds two of its squares to the square, as in the default prior."""

LIFT, LIFT_AT = 5.0, 8.0
"""c is 1 + LIFT r / (r + LIFT_AT)^2: exact for none, at most 1.16, and 1 again with many."""

EASED = 0.2
"""Log by which one further failure may at most lower the quoted chance before the next check."""

STEP, FINER_PAST = 0.0025, 2500.0
"""Log distance of the shapes tried, and the engines past which it is halved for each fourfold."""

MANY_SHAPES, STRIDE = 4096, 16
"""Shapes past which only every so many are looked at first."""

ALL_COUNTED = 40
"""Failures taken away one by one; past so many, in steps that grow by a fifth."""


@value
class OpenShapes(Value):
    """Pessimistic bounds of one fleet, prepared for any age.

    Parameters
    ----------
    reference_h : float
        Age in hours that rates belong to.
    theta : (G,) float
        Log shapes, rising.
    log_rate, log_rate_eased : (K, G) float
        Log of the bound of the cumulative hazard at the reference age, at each shape's own level;
        row k is the worst over the members up to k. ``-inf`` where a shape is ruled out.
    from_h : (K,) float
        Age in hours from which member k counts.
    """

    reference_h: float
    theta: Array
    log_rate: Array
    log_rate_eased: Array
    from_h: Array

    _not_in_dict: ClassVar[tuple[str, ...]] = ("theta", "log_rate", "log_rate_eased", "from_h")

    @classmethod
    def of(
        cls,
        spells: Spells,
        *,
        confidence: float,
        shapes: tuple[float, ...],
        prior: ShapePrior | None = None,
        exposed: Spells | None = None,
        unplaced: Unplaced = (),
    ) -> OpenShapes:
        """Prepare the bounds of a fleet.

        Parameters
        ----------
        spells : Spells
            Their failures count, each in an interval at its middle, its hours to the last age known
            good.
        confidence : float
            One-sided.
        shapes : tuple of float
            The stated range, by its ends.
        prior : ShapePrior, optional
            A stated prior, which then stands in place of the range.
        exposed : Spells, optional
            Whose hours count, where failures were made up besides.
        unplaced : tuple of (low_h, high_h, count), optional
            Further failures, by the ages in hours between which they came.
        """
        surface = Surface.of_spells(spells if exposed is None else exposed)
        ref = surface.reference_h
        failed = spells.failed
        age = 0.5 * (spells.exit_lower + spells.exit_upper)[failed]
        seen, weight = spells.exit_lower[failed], spells.weight[failed]
        order = np.argsort(age, kind="stable")
        if (weight == np.floor(weight)).all():  # equal failures told in one row are as many rows
            order, weight = np.repeat(order, weight[order].astype(np.int64)), np.ones(len(weight))
        age, seen, weight = age[order], seen[order], weight[order]
        take = _members(len(age))
        log_age = np.log(np.maximum(age, 1e-300) / ref)
        r = weight.sum() - np.concatenate([[0.0], np.cumsum(weight)])[take]
        sums = (weight * log_age).sum() - np.concatenate([[0.0], np.cumsum(weight * log_age)])[take]
        r = np.where(r < 1e-9, 0.0, r)
        more, less, ends = _unplaced(unplaced, ref)
        # one row for each number of both kinds taken away
        r = np.add.outer(r, more).ravel()
        low, high = (np.where(r > 0.0, np.add.outer(sums, s).ravel(), 0.0) for s in ends)
        lives = spells if exposed is None else exposed
        theta = _lattice(surface, float(lives.weight.sum()), shapes, prior)
        # the hours alone say it: many fleets are asked that differ in failures made up besides
        key = ("log power of all shapes", *shapes, None if prior is None else prior.median)
        log_power = kept(lives, key, lambda: surface.log_power(theta))
        if unplaced:
            deviance = _deviance(theta, log_power, r, low, shapes, prior)
            later = _deviance(theta, log_power, r, high, shapes, prior)
            rate = _log_rates(_of_any_age(deviance, later), r, log_power, confidence)
        else:
            rate = _near_log_rates(theta, log_power, r, low, shapes, prior, confidence)
        away = np.add.outer(np.asarray(take, dtype=np.float64), less).ravel()
        eased = rate - EASED * away[:, None]
        if len(more) > 1:
            rate, eased = (x.reshape(len(take), len(more), -1).max(axis=1) for x in (rate, eased))
        return cls(
            reference_h=ref,
            theta=theta,
            log_rate=_worst_so_far(rate),
            log_rate_eased=_worst_so_far(eased),
            # the youngest k are at or below an age from the k-th of them on
            from_h=np.concatenate([[0.0], np.maximum.accumulate(seen)])[take],
        )

    def _rates(self, hours: Array, table: Array) -> Array:
        k = np.searchsorted(self.from_h, hours, side="right") - 1
        return np.asarray(table[np.maximum(k, 0)])

    def log_hazard(self, hours: Array) -> Array:
        """Return (m,) logs of the bound of the cumulative hazard by ages (m,), rising."""
        return self._worst(hours)[0]

    def worst_shape(self, hours: float) -> float:
        """Return the shape that sets the bound of the cumulative hazard by an age."""
        return float(np.exp(self.theta[self._worst(np.array([hours]))[1][0]]))

    def _worst(self, hours: Array) -> tuple[Array, Array]:
        factor = log_hazard_factor(
            "reliability", self.theta[None, :], hours[:, None], 0.0, self.reference_h
        )
        each = self._rates(hours, self.log_rate) + factor
        at = np.argmax(each, axis=1)
        return each[np.arange(len(at)), at], at

    def life_h(self, p: float) -> float:
        """Return the hours up to which at most a share `p` fails, by the bound; 0 if none.

        Where the bound jumps at a failure, the hours end there.
        """
        goal = float(np.log(-np.log1p(-p)))
        with np.errstate(invalid="ignore"):
            own = (goal - self.log_rate) / np.exp(self.theta)[None, :]
        life = self.reference_h * np.exp(np.minimum(own.min(axis=1), 700.0))
        until = np.append(self.from_h[1:], np.inf)
        # each member's own life where it lies in that member's ages, or the age that ends it
        ends = np.flatnonzero(life < until)
        k = int(ends[0])
        return float(max(life[k], self.from_h[k]) if k else life[k])

    def chance(self, hours: Array, width_h: float | Array) -> Array:
        """Return (m,) bounds of the chance of failing within `width_h` after ages (m,).

        `width_h` is one width for all ages, or (m,).
        """
        factor = log_hazard_factor(
            "conditional", self.theta[None, :], hours[:, None], np.asarray(width_h)[..., None],
            self.reference_h,
        )  # fmt: skip
        log_hazard = (self._rates(hours, self.log_rate_eased) + factor).max(axis=1)
        return np.asarray(-np.expm1(-np.exp(np.minimum(log_hazard, 700.0))))


def _members(n: int) -> list[int]:
    """Return how many of the youngest of `n` failures are taken away, member by member."""
    out = list(range(min(n, ALL_COUNTED) + 1))
    while out[-1] < n:
        out.append(min(n, max(out[-1] + 1, int(1.2 * out[-1]))))
    return out


def _unplaced(unplaced: Unplaced, reference_h: float) -> tuple[Array, Array, tuple[Array, Array]]:
    """Return how many failures of unknown age are left, and taken away, and their log ages.

    Of the log ages, over the reference, the (L,) least and greatest sums that so many can have.
    """
    low, high, n = np.array(unplaced, dtype=np.float64).reshape(-1, 3).T
    less = np.asarray(_members(round(float(n.sum()))), dtype=np.float64)
    more = n.sum() - less
    least, greatest = (np.log(np.maximum(x, 1e-300) / reference_h) for x in (low, high))
    return more, less, (_sum_of(least, n, more), -_sum_of(-greatest, n, more))


def _sum_of(each: Array, n: Array, m: Array) -> Array:
    """Return (L,) sums of the `m` smallest of values that each occur `n` times."""
    order = np.argsort(each, kind="stable")
    counts = np.concatenate([[0.0], np.cumsum(n[order])])
    return np.asarray(np.interp(m, counts, np.concatenate([[0.0], np.cumsum((n * each)[order])])))


def _of_any_age(earliest: Array, latest: Array) -> Array:
    """Return (K, G) least deviances over all ages, from those at the least and greatest ages.

    Ages enter by the sum of their logs alone, in which the deviance of one shape is convex, and the
    best shape rises with it: any shape between the two best is the best at some ages.
    """
    at = np.arange(earliest.shape[1])[None, :]
    first, last = (x.argmin(axis=1)[:, None] for x in (earliest, latest))
    return np.where(at < first, earliest, np.where(at > last, latest, 0.0))


def _deviance(
    theta: Array,
    log_power: Array,
    r: Array,
    sums: Array,
    shapes: tuple[float, ...],
    prior: ShapePrior | None,
) -> Array:
    """Return (K, G) deviances of shapes with their penalty, least 0 in each row."""
    with np.errstate(invalid="ignore"):
        like = r[:, None] * (theta - np.where(np.isfinite(log_power), log_power, 0.0))
    like = like + sums[:, None] * np.exp(theta)
    if prior is None:
        past = np.maximum(np.log(min(shapes)) - theta, 0.0) + np.maximum(
            theta - np.log(max(shapes)), 0.0
        )
        penalty = (past / EDGE_SD) ** 2 / (1.0 + 2.0 * r[:, None])
    else:
        penalty = -2.0 * prior.log_density(theta, r)
    out = penalty - 2.0 * like
    return np.asarray(out - out.min(axis=1, keepdims=True))


def shapes_tried(surface: Surface, lives: float) -> tuple[float, float, int]:
    """Return least and greatest log shape that are tried for so many lives, and how many evenly."""
    halvings = max(math.ceil(0.5 * math.log2(max(lives, 1.0) / FINER_PAST)), 0)
    low, high = surface.sums.low, surface.sums.high
    return low, high, math.ceil((high - low) / STEP * 2.0**halvings)


def _lattice(
    surface: Surface, lives: float, shapes: tuple[float, ...], prior: ShapePrior | None
) -> Array:
    """Return log shapes over all that can be, as close as so many lives could ever tell apart.

    No failure has a say in it: a maximum over other shapes could be less for one failure more.
    """
    low, high, count = shapes_tried(surface, lives)
    even = np.linspace(low, high, count)
    known = [min(shapes), max(shapes)] if prior is None else [prior.median]
    return np.union1d(even, np.clip(np.log(known), low, high))


def _near_log_rates(
    theta: Array,
    log_power: Array,
    r: Array,
    sums: Array,
    shapes: tuple[float, ...],
    prior: ShapePrior | None,
    confidence: float,
) -> Array:
    """Return what `_log_rates` does, looking closely only at shapes that may not be ruled out.

    Of very many lives nearly all shapes are. The log-likelihood is concave in the shape, as A over
    the shape is log-convex, and the penalty grows away from the stated range: the shapes of a row
    that are left lie together. Where two neighbours of every `STRIDE`-th shape are ruled out on one
    side of the best of these, so are those between.
    """
    if len(theta) <= MANY_SHAPES:
        return _log_rates(
            _deviance(theta, log_power, r, sums, shapes, prior), r, log_power, confidence
        )
    some = np.unique(np.append(np.arange(0, len(theta), STRIDE), len(theta) - 1))
    rough = _deviance(theta[some], log_power[some], r, sums, shapes, prior)
    near = rough <= _full(r, confidence)[:, None]
    near[np.arange(len(r)), rough.argmin(axis=1)] = True
    first = near.argmax(axis=1)
    last = near.shape[1] - 1 - near[:, ::-1].argmax(axis=1)
    out = np.full((len(r), len(theta)), -np.inf)
    for k in range(len(r)):
        part = slice(some[max(first[k] - 2, 0)], some[min(last[k] + 2, len(some) - 1)] + 1)
        own = slice(k, k + 1)
        deviance = _deviance(theta[part], log_power[part], r[own], sums[own], shapes, prior)
        out[own, part] = _log_rates(deviance, r[own], log_power[part], confidence)
    return out


def _worst_so_far(rate: Array) -> Array:
    """Return (K, G) the greatest in each column down to each row; most are ruled out in most."""
    out = np.array(rate)
    left = out > -np.inf
    first = np.where(left.any(axis=1), left.argmax(axis=1), out.shape[1])
    last = np.where(left.any(axis=1), out.shape[1] - left[:, ::-1].argmax(axis=1), 0)
    first, last = np.minimum.accumulate(first), np.maximum.accumulate(last)
    for k in range(1, len(out)):
        part = slice(first[k - 1], last[k - 1])
        np.maximum(out[k, part], out[k - 1, part], out=out[k, part])
    return out


def _full(r: Array, confidence: float) -> Array:
    """Return (K,) the deviance from which on a shape is ruled out."""
    from scipy.special import ndtri

    return np.asarray((1.0 + LIFT * r / (r + LIFT_AT) ** 2) * float(ndtri(confidence)) ** 2)


def _log_rates(deviance: Array, r: Array, log_power: Array, confidence: float) -> Array:
    """Return (K, G) log bounds of the rate, each shape at the level that its deviance leaves."""
    from scipy.special import gammaincinv, ndtr

    full = _full(r, confidence)
    left = full[:, None] - deviance
    # failures of unknown age leave many shapes of a row without any deviance: one bound for all
    mean = np.repeat(gammaincinv(r + 1.0, ndtr(np.sqrt(full)))[:, None], len(log_power), axis=1)
    row, column = np.nonzero((left >= 0.0) & (deviance != 0.0))
    mean[row, column] = gammaincinv(r[row] + 1.0, ndtr(np.sqrt(left[row, column])))
    out = np.full(deviance.shape, -np.inf)
    row, column = np.nonzero(left >= 0.0)
    with np.errstate(divide="ignore"):
        out[row, column] = np.log(mean[row, column]) - log_power[column]
    return out
