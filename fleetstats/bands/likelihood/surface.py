"""The Weibull likelihood of one fleet over log shape and log rate, with all kinds of failure.

A failure known to lie in ``(a, z]`` adds ``log(exp(-c (a^b - e^b)) - exp(-c (z^b - e^b)))``,
which is a survival to `a` and one term ``log(1 - exp(-c (z^b - a^b)))``. So the rows seen to fail
between checks are the only ones summed anew; everything else is power sums (`PowerSums`). Given
shape the log-likelihood is concave in log rate, so each section of it is solved by Newton's
method.
"""

from __future__ import annotations

from dataclasses import replace
from typing import ClassVar

import numpy as np

from fleetstats.bands.likelihood.kept_power import power_of, stops, sums_changed
from fleetstats.bands.likelihood.power import PowerSums
from fleetstats.core.errors import NoMaximum
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.spells.supposed.changed import change_of
from fleetstats.survival.weibull.levels import between_slopes, log_grown

MAX_STEPS = 80
"""Newton steps before a section is called unsolved; four are usual."""


@value
class Surface(Value):
    """Log-likelihood over (log shape, log rate).

    Parameters
    ----------
    sums : PowerSums
        Of one fleet; failures between checks enter it as survivals to the last good check.
    gap_low, gap_high : (m,) float
        Logs of the ends of each interval over the reference age; ``-inf`` for 0.
    gap_weight : (m,) float
    n_failed : float
        All failures, weighted.
    """

    sums: PowerSums
    gap_low: Array
    gap_high: Array
    gap_weight: Array
    n_failed: float

    _not_in_dict: ClassVar[tuple[str, ...]] = ("sums", "gap_low", "gap_high", "gap_weight")

    @classmethod
    def of_spells(cls, spells: Spells) -> Surface:
        """Build the surface of one fleet, once for the same spells."""
        return kept(spells, "surface", lambda: cls._of_spells(spells))

    @classmethod
    def _of_spells(cls, spells: Spells) -> Surface:
        between = spells.interval_known
        ref = spells.oldest_h
        change = change_of(spells)
        if change is not None and not between.any():
            old = cls.of_spells(change.before)
            if not old.has_gaps:
                sums = sums_changed(spells, change, old.sums)
                return replace(old, sums=sums, n_failed=spells.n_failed)
        stop = stops(spells)
        keep = stop > spells.entry
        sums = (
            PowerSums.of_arrays(
                spells.entry[keep],
                stop[keep],
                (spells.failed & ~between)[keep],
                spells.weight[keep],
                reference_h=ref,
                sums=lambda theta: power_of(spells, theta)[None, :],
            )
            if keep.any()
            else _no_exposure(ref)
        )
        ends, at = np.unique(
            np.column_stack([spells.exit_lower[between], spells.exit_upper[between]]),
            axis=0,
            return_inverse=True,
        )
        weight = np.bincount(at.ravel(), weights=spells.weight[between], minlength=len(ends))
        with np.errstate(divide="ignore"):
            gaps = np.log(ends / ref)
        return cls(
            sums=sums,
            gap_low=gaps[:, 0],
            gap_high=gaps[:, 1],
            gap_weight=weight,
            n_failed=spells.n_failed,
        )

    @property
    def reference_h(self) -> float:
        """Return the age in hours that the rate belongs to."""
        return self.sums.reference_h

    @property
    def has_gaps(self) -> bool:
        """Return whether some failures are only known to lie in an interval."""
        return len(self.gap_weight) > 0

    def _log_gap(self, theta: Array) -> Array:
        """Return (G, m) log of z^b - a^b."""
        b = np.exp(theta)
        span = self.gap_high - self.gap_low
        return np.asarray(b[:, None] * self.gap_high + log_grown(b, span))

    def log_power(self, theta: Array) -> Array:
        """Return (G,) log A."""
        return np.asarray(self.sums.log_power(theta)[0])

    def log_likelihood(self, theta: Array, u: Array) -> Array:
        """Return (G, ...) log-likelihood at log shapes (G,) and log rates (G, ...).

        Constants of the data (minus the sum of log ages of exact failures) are left out.
        """
        tail = (slice(None),) + (None,) * (u.ndim - 1)
        gap = self._log_gap(theta).reshape(len(theta), *(1,) * (u.ndim - 1), len(self.gap_weight))
        return self._log_likelihood(theta[tail], u, self.log_power(theta)[tail], gap)

    def _log_likelihood(self, theta: Array, u: Array, log_power: Array, log_gap: Array) -> Array:
        r, s = self.sums.n_failed[0], self.sums.sum_log[0]
        return section_value(theta, u, (r, s), log_power, log_gap, self.gap_weight)

    def _slopes(self, u: Array, log_power: Array, log_gap: Array) -> tuple[Array, Array]:
        """Return (G,) first and second derivative in log rate at (G,) points."""
        return section_slopes(u, self.sums.n_failed[0], log_power, log_gap, self.gap_weight)

    def _tops(self, theta: Array) -> tuple[Array, Array, Array]:
        """Return (G,) log rates at the maximum of each section, with log A and log gaps."""
        if self.n_failed <= 0.0:
            raise NoMaximum(
                "No failure in question was seen, so the likelihood has no maximum.",
                "Use the bound for an assumed shape, or the mixture over shapes.",
                reason="no-failures",
            )
        power, gap = self.log_power(theta), self._log_gap(theta)
        u = np.log(self.n_failed) - power
        if not self.has_gaps:
            return u, power, gap
        u = np.minimum(u, -gap.max(axis=1) + np.log(self.n_failed + 1.0))
        return section_tops(u, self.sums.n_failed[0], power, gap, self.gap_weight), power, gap

    def profile(self, theta: Array) -> tuple[Array, Array]:
        """Return (G,) log-likelihood maximised over the rate, and the log rates there.

        Raises
        ------
        NoMaximum
            If nothing failed, or nothing survived anything.
        """
        u, power, gap = self._tops(theta)
        return self._log_likelihood(theta, u, power, gap), u

    def sections(self, theta: Array) -> tuple[Array, Array, Array]:
        """Return what `profile` does, and (G,) minus the second derivatives in log rate there."""
        u, power, gap = self._tops(theta)
        return self._log_likelihood(theta, u, power, gap), u, -self._slopes(u, power, gap)[1]

    def edges(self, theta: Array, u_best: Array, drop: Array) -> tuple[Array, Array]:
        """Return log rates below and above the best at which each section has fallen by `drop`.

        Parameters
        ----------
        theta, u_best, drop : (G,) float
            `drop` is 0 or more.
        """
        if not self.has_gaps:
            low, high = _gamma_edges(drop / self.n_failed)
            return u_best + low, u_best + high
        goal = self.log_likelihood(theta, u_best) - drop
        return self._edge(theta, u_best, goal, -1.0), self._edge(theta, u_best, goal, 1.0)

    def _edge(self, theta: Array, u_best: Array, goal: Array, side: float) -> Array:
        power, gap = self.log_power(theta), self._log_gap(theta)
        # outside the root the concave section makes Newton run back to it without overshoot
        far = np.full(theta.shape, 0.5)
        for _ in range(60):
            short = self._log_likelihood(theta, u_best + side * far, power, gap) > goal
            if not short.any():
                break
            far = np.where(short, 2.0 * far, far)
        u = u_best + side * far
        for _ in range(MAX_STEPS):
            over = self._log_likelihood(theta, u, power, gap) - goal
            slope = self._slopes(u, power, gap)[0]
            step = np.where(side * slope < 0.0, -over / np.where(slope == 0.0, 1.0, slope), 0.0)
            u = np.where(side * (u + step - u_best) > 0.0, u + step, 0.5 * (u + u_best))
            # where the section has hardly fallen its slope is near 0 and a step is mostly noise
            if np.all((np.abs(step) < 1e-10) | (np.abs(over) < 1e-12 * (1.0 + np.abs(goal)))):
                break
        return np.asarray(u)


def section_value(
    theta: Array, u: Array, failed: tuple[Array, Array], log_power: Array, log_gap: Array,
    gap_weight: Array,
) -> Array:  # fmt: skip
    """Return (..., G) log-likelihoods at log shapes and log rates `u` (..., G).

    `failed` are how many failed at known ages and the sum of their log ages, `log_gap` (G, m).
    """
    r, s = failed
    with np.errstate(over="ignore", under="ignore", divide="ignore"):
        out = r * (u + theta) + s * np.exp(theta)
        out = out - np.exp(u + log_power)
        if len(gap_weight):
            v = np.exp(u[..., None] + log_gap)
            out = out + np.log(-np.expm1(-v)) @ gap_weight
    return np.asarray(out)


def section_slopes(
    u: Array, r: Array, log_power: Array, log_gap: Array, gap_weight: Array
) -> tuple[Array, Array]:
    """Return (..., G) first and second derivative in log rate; as of `section_value`."""
    with np.errstate(over="ignore", under="ignore"):
        c_power = np.exp(u + log_power)
        g, bend = between_slopes(np.exp(u[..., None] + log_gap))
    return r - c_power + g @ gap_weight, -c_power + bend @ gap_weight


def section_tops(u: Array, r: Array, log_power: Array, log_gap: Array, gap_weight: Array) -> Array:
    """Return (..., G) log rates at the maximum of each section, sought from `u` on."""
    for _ in range(MAX_STEPS):
        first, second = section_slopes(u, r, log_power, log_gap, gap_weight)
        step = np.minimum(np.maximum(-first / np.minimum(second, -1e-300), -2.0), 2.0)
        u = u + step
        if max(step.max(), -step.min()) < 1e-10:
            break
    return u


def _gamma_edges(d: Array) -> tuple[Array, Array]:
    """Return the roots v of ``exp(v) - 1 - v = d``, one below and one above 0.

    This is how far log rate may move from its best before r log c - c A falls by r d.
    """
    d = np.maximum(np.asarray(d, dtype=np.float64), 0.0)
    high = np.minimum(np.sqrt(2.0 * d), np.log1p(d) + np.sqrt(2.0 * np.log1p(d)) + 1.0)
    low = -np.maximum(np.sqrt(2.0 * d), 0.0) - d
    for _ in range(60):
        step = []
        for v in (low, high):
            slope = np.expm1(v)
            off = slope - v - d
            step.append(np.where(slope == 0.0, 0.0, off / np.where(slope == 0.0, 1.0, slope)))
        low, high = np.minimum(low - step[0], 0.0), np.maximum(high - step[1], 0.0)
        if max(np.abs(step[0]).max(initial=0.0), np.abs(step[1]).max(initial=0.0)) < 1e-14:
            break
    return low, high


def _no_exposure(reference_h: float) -> PowerSums:
    # every row is a failure known only to lie before an age: A is 0
    return PowerSums(
        reference_h=reference_h,
        n_failed=np.zeros(1),
        sum_log=np.zeros(1),
        low=np.log(0.05),
        high=np.log(60.0),
        coef=np.full((1, 1), -745.0),
    )
