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

from typing import ClassVar

import numpy as np

from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.likelihood.surface import Surface
from fleetstats.bands.open.lattice import MOST_LIVES, LatticePower, lattice, shapes_tried
from fleetstats.bands.open.left_open import LeftOpen
from fleetstats.bands.open.unplaced import Unplaced, ages_of, members
from fleetstats.bands.quantity import log_hazard_factor
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.spells.supposed.changed import failure_ages

EASED = 0.2
"""Log by which one further failure may at most lower the quoted chance before the next check."""


@value
class OpenShapes(Value):
    """Pessimistic bounds of one fleet, prepared for any age.

    Members are the fleet as it is and with more and more of its youngest failures taken as running.
    What each leaves open is held shape by shape, member after member; the bound is the worst of the
    members up to the last that counts.

    Parameters
    ----------
    reference_h : float
        Age in hours that rates belong to.
    theta : (G,) float
        Log shapes, rising.
    ends : (K,) int
        How many of the shapes left open belong to the members up to each.
    column : (P,) int
        Which shape each is.
    log_rate, log_rate_eased : (P,) float
        Log of the bound of the cumulative hazard at the reference age, at each shape's own level.
    from_h : (K,) float
        Age in hours from which member k counts.
    """

    reference_h: float
    theta: Array
    ends: Array
    column: Array
    log_rate: Array
    log_rate_eased: Array
    from_h: Array

    _not_in_dict: ClassVar[tuple[str, ...]] = (
        "theta",
        "ends",
        "column",
        "log_rate",
        "log_rate_eased",
        "from_h",
    )

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
        age, seen, weight = _failures(spells)
        log_age = np.log(np.maximum(age, 1e-300) / ref)
        count = np.concatenate([[0.0], np.cumsum(weight)])
        whole = bool((weight == np.floor(weight)).all())
        # equal failures told in one row go one by one, as if each had its own
        take = np.array(members(int(count[-1]) if whole else len(age)))
        gone = take.astype(np.float64) if whole else count[take]
        r = weight.sum() - gone
        logs = np.concatenate([[0.0], np.cumsum(weight * log_age)])
        sums = logs[-1] - np.interp(gone, count, logs)
        r = np.where(r < 1e-9, 0.0, r)
        lives = spells if exposed is None else exposed
        # no failure has a say in it: a maximum over other shapes could be less for one more
        known = (min(shapes), max(shapes)) if prior is None else (prior.median,)
        n = float(lives.weight.sum())
        theta = lattice(*shapes_tried(surface, min(n, MOST_LIVES) if unplaced else n), known)
        log_power = LatticePower(lives, surface, theta, known)
        left_open = LeftOpen(theta, log_power, shapes, prior, confidence)
        if unplaced:
            ages = ages_of(unplaced, ref)
            counts, column, rate, eased = left_open.rates_of_any_age(r, sums, ages, EASED)
        else:
            counts, column, rate = left_open.rates(r, sums)
            eased = rate
        eased = eased - EASED * np.repeat(take.astype(np.float64), counts)
        return cls(
            reference_h=ref,
            theta=theta,
            ends=np.cumsum(counts),
            column=column,
            log_rate=rate,
            log_rate_eased=eased,
            # the youngest k are at or below an age from the k-th of them on
            from_h=np.append(0.0, np.maximum.accumulate(seen))[np.searchsorted(count, gone)],
        )

    def _member(self, hours: Array) -> Array:
        """Return (m,) the last member that counts at each age."""
        return np.maximum(np.searchsorted(self.from_h, hours, side="right") - 1, 0)

    def log_hazard(self, hours: Array) -> Array:
        """Return (m,) logs of the bound of the cumulative hazard by ages (m,), rising."""
        return np.array([self._worst(t)[0] for t in hours.tolist()])

    def worst_shape(self, hours: float) -> float:
        """Return the shape that sets the bound of the cumulative hazard by an age."""
        return float(np.exp(self.theta[self._worst(hours)[1]]))

    def _worst(self, hours: float) -> tuple[float, int]:
        """Return the log of the bound of the cumulative hazard by an age, and its shape's place."""
        factor = log_hazard_factor("reliability", self.theta, hours, 0.0, self.reference_h)
        counted = slice(self.ends[self._member(np.array([hours]))[0]])
        each = self.log_rate[counted] + factor[self.column[counted]]
        most = each.max()
        return float(most), int(self.column[counted][each == most].min())

    def life_h(self, p: float) -> float:
        """Return the hours up to which at most a share `p` fails, by the bound; 0 if none.

        Where the bound jumps at a failure, the hours end there.
        """
        goal = float(np.log(-np.log1p(-p)))
        with np.errstate(invalid="ignore"):
            own = (goal - self.log_rate) / np.exp(self.theta)[self.column]
        least = np.minimum.accumulate(own)[self.ends - 1]
        life = self.reference_h * np.exp(np.minimum(least, 700.0))
        until = np.append(self.from_h[1:], np.inf)
        # each member's own life where it lies in that member's ages, or the age that ends it
        ends = np.flatnonzero(life < until)
        k = int(ends[0])
        return float(max(life[k], self.from_h[k]) if k else life[k])

    def chance(self, hours: Array, width_h: float | Array) -> Array:
        """Return (m,) bounds of the chance of failing within `width_h` after ages (m,).

        `width_h` is one width for all ages, or (m,).
        """
        # of very many shapes tried few are left open, and the others bound nothing
        column, worst = kept(self, "worst eased", self._worst_eased)
        factor = log_hazard_factor(
            "conditional", self.theta[None, column], hours[:, None],
            np.asarray(width_h)[..., None], self.reference_h,
        )  # fmt: skip
        log_hazard = (worst[self._member(hours)] + factor).max(axis=1)
        return np.asarray(-np.expm1(-np.exp(np.minimum(log_hazard, 700.0))))

    def _worst_eased(self) -> tuple[Array, Array]:
        """Return the shapes (C,) that any member leaves open, and (K, C) eased rates of these.

        Each rate is the worst over the members up to its own; ``-inf`` for none.
        """
        column, at = np.unique(self.column, return_inverse=True)
        out = np.full((len(self.ends), len(column)), -np.inf)
        member = np.repeat(np.arange(len(out)), np.diff(self.ends, prepend=0))
        out[member, at.ravel()] = self.log_rate_eased
        return column, np.asarray(np.maximum.accumulate(out))


def _failures(spells: Spells) -> tuple[Array, Array, Array]:
    """Return (r,) middle, last age known good and weight of each failure, by their middles."""
    known = failure_ages(spells)
    if known is not None:
        return known, known, np.ones(len(known))
    failed = spells.failed
    age = 0.5 * (spells.exit_lower + spells.exit_upper)[failed]
    order = np.argsort(age, kind="stable")
    return age[order], spells.exit_lower[failed][order], spells.weight[failed][order]
