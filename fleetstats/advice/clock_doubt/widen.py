"""Bounds mixed over clocks drawn from a stated doubt: the rule by which quoted edges widen.

With the clocks known, a bound at confidence c is exceeded by the truth in 1 - c of fleets, whatever
c is; so the bounds at all confidences are draws of what the truth may be, and doubt of the clocks
is one more source of it, drawn beside. Each draw takes a confidence at random, the bound at it, and
clocks at random, and reads the bound at the age that these make of the hours asked. The edge is the
quantile of the draws at the study's confidence.

Why that holds: for a life of which the log estimate errs by a normal law with variance v and of
which the log clock errs by another with variance w, independent of it, the draws spread with v + w,
which is the variance of the estimate in hours that the clocks do not tell: the edge holds exactly
what it says. It does so over clocks drawn from the stated doubt, not for each clock alone: for
clocks that are all off by more than the doubt says it holds less. With no doubt it is the bound
itself, so that it does not jump; and it is never better than that (the doubt of the clocks is no
evidence). That it holds on fleets is measured in ``tests/coverage/test_clock_coverage.py``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fleetstats.advice.clock_doubt.draws import ClockDraws
from fleetstats.core.value import Array

ASIDE = (0.75, 0.995)
"""Confidences at which the bound is worked out beside the study's; between and beyond these its
log cumulative hazard is read on lines in the normal score (a bound is near a line there)."""
LEAST, MOST = -30.0, 6.5
"""Log cumulative hazards beyond which a chance is 0 or 1 to all purposes."""
AGES = 32
"""Ages at which a bound is worked out, even in log."""


def log_hazard(reliability: float | None, *, missing: float) -> float:
    """Return the log cumulative hazard of a reliability; `missing` where it has no edge."""
    if reliability is None:
        return missing
    if reliability <= 0.0:
        return MOST
    hazard = -math.log(reliability)
    return LEAST if hazard <= 0.0 else min(max(math.log(hazard), LEAST), MOST)


@dataclass(frozen=True, slots=True)
class BoundTable:
    """One edge of a log cumulative hazard by normal score and log age.

    Parameters
    ----------
    scores : (s,) float
        Normal scores of the one-sided confidences, rising.
    log_ages : (a,) float
        Rising.
    values : (s, a) float
        Upper edges, where `upper`, else lower ones.
    upper : bool
    """

    scores: Array
    log_ages: Array
    values: Array
    upper: bool

    @classmethod
    def of(
        cls, ask: Callable[[float, float], float], confidence: float, log_ages: Array, *,
        upper: bool,
    ) -> BoundTable:  # fmt: skip
        """Return the table of ``ask(confidence, hours)``, the log cumulative hazard's edge."""
        from scipy.special import ndtri

        levels = sorted({confidence, *(c for c in ASIDE if abs(c - confidence) > 0.004)})
        values = np.array([[ask(c, math.exp(x)) for x in log_ages] for c in levels])
        # A surer edge is no nearer, whatever a method's own noise says.
        rising = np.maximum.accumulate if upper else np.minimum.accumulate
        return cls(
            scores=np.asarray(ndtri(np.array(levels))),
            log_ages=log_ages,
            values=rising(rising(values, axis=0), axis=1) if upper else rising(values, axis=0),
            upper=upper,
        )

    def _read(self, score: Array, log_age: Array) -> Array:
        """Return the edges (k,) at scores and log ages, on lines between and beyond the table's."""
        rows = np.array([_line(log_age, self.log_ages, v) for v in self.values])
        if len(self.scores) == 1:
            return np.asarray(rows[0])
        i = np.clip(np.searchsorted(self.scores, score) - 1, 0, len(self.scores) - 2)
        w = (score - self.scores[i]) / (self.scores[i + 1] - self.scores[i])
        k = np.arange(len(score))
        return np.asarray((1.0 - w) * rows[i, k] + w * rows[i + 1, k])

    def mixed(self, draws: ClockDraws, score: float, log_age: float) -> float:
        """Return the edge at one score and log age with the clocks mixed in."""
        from scipy.special import ndtr

        sign = 1.0 if self.upper else -1.0
        told = self._read(sign * draws.z, log_age - draws.common_at(log_age)) + draws.moved(log_age)
        share = float(ndtr(score))
        return float(np.quantile(told, share if self.upper else 1.0 - share))


def _line(x: Array, at: Array, values: Array) -> Array:
    """Interpolate on lines, the first and the last carried on."""
    inside = np.interp(x, at, values)
    if len(at) < 2:
        return np.asarray(inside)
    first = (values[1] - values[0]) / (at[1] - at[0])
    last = (values[-1] - values[-2]) / (at[-1] - at[-2])
    below, above = np.minimum(x - at[0], 0.0), np.maximum(x - at[-1], 0.0)
    return np.asarray(inside + first * below + last * above)
