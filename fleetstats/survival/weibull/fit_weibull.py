"""The Weibull fit: one door for every kind of spell."""

from __future__ import annotations

import math
from functools import partial

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError, NoMaximum
from fleetstats.core.gate import AMOUNTS, FLAGS, HOURS_ABOVE_0, HOURS_EACH, POSITIVE, gate
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.spells.column_checks import each_is_one
from fleetstats.survival.ascent import maximise
from fleetstats.survival.fit import Fit, corrected_criterion
from fleetstats.survival.lives import LIVES
from fleetstats.survival.weibull.levels import best_levels
from fleetstats.survival.weibull.weibull_general import (
    covariance_at,
    evaluate,
    prepare_lives,
    refuse_hopeless,
)
from fleetstats.survival.weibull.weibull_kernel import (
    WeibullSolution,
    solve_weibull,
    solve_with_covariance,
)

__all__ = [
    "WeibullSolution",
    "fit_weibull",
    "solve_weibull",
    "try_fit",
    "weibull_log_likelihood",
]


@gate(
    shape=POSITIVE,
    scale_h=HOURS_ABOVE_0,
    entry=HOURS_EACH,
    lower=HOURS_EACH,
    upper=HOURS_EACH,
    failed=FLAGS,
    weight=AMOUNTS.or_none,
)
def weibull_log_likelihood(
    shape: float,
    scale_h: float,
    entry: ArrayLike,
    lower: ArrayLike,
    upper: ArrayLike,
    failed: ArrayLike,
    weight: ArrayLike | None = None,
) -> float:
    """Return the Weibull log likelihood of spells, full densities on hours, entry divided out.

    Parameters
    ----------
    shape, scale_h : float
        Positive.
    entry, lower, upper : (n,) float
        Hours, as `entry`, `exit_lower` and `exit_upper` of `Spells`.
    failed : (n,) bool
        A failure with ``lower < upper`` is only known to lie in between.
    weight : (n,) float or None
        How many lives each row stands for.

    Returns
    -------
    float
        The sum over lives, each counted by its weight.

    References
    ----------
    Lawless (2003), *Statistical Models and Methods for Lifetime Data*, sections 2.2 to 2.4.

    Examples
    --------
    >>> import fleetstats as fs
    >>> round(fs.weibull_log_likelihood(2.0, 900.0, 0, [400, 650], [400, 650], [1, 0]), 4)
    -7.6393
    """
    up = np.asarray(upper, dtype=np.float64)
    lives = prepare_lives(
        np.broadcast_to(np.asarray(entry, dtype=np.float64), up.shape),
        np.asarray(lower, dtype=np.float64),
        up,
        np.asarray(failed, dtype=bool),
        np.ones(up.shape) if weight is None else np.asarray(weight, dtype=np.float64),
    )
    level = shape * (math.log(lives.reference_h) - math.log(scale_h))
    return evaluate(lives, shape, level)[0]


def _interval_start(spells: Spells) -> float:
    """Return a shape to start from: that of the fit with each failure at mid-interval."""
    middle = np.where(
        spells.interval_known,
        0.5 * (spells.exit_lower + spells.exit_upper),
        spells.exit_upper,
    )
    try:
        return solve_weibull(spells.entry, middle, spells.failed, spells.weight).shape
    except FitError:
        return 1.0


@gate(spells=LIVES)
def fit_weibull(spells: Spells) -> Fit:
    """Fit a Weibull to spells of any kind: exact, running, interval- and left-known, late entry.

    Parameters
    ----------
    spells : Spells
        Endings other than the failure in question censor.

    Returns
    -------
    Fit
        Parameters `shape` and `scale_h`; covariance from the observed information.

    Raises
    ------
    NoMaximum
        When the likelihood has no maximum; `reason` says why.
    FitError
        When no number can hold the scale.

    References
    ----------
    Lawless (2003), Statistical Models and Methods for Lifetime Data, sections 2.2 to
    2.4 and 5.2.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, [400, 650, 800, 900, 1100, 1200], [1, 0, 1, 0, 1, 0])
    >>> print(fs.fit_weibull(lives))
    Weibull fit to 6 lives, 3 failed, 5,050 h at risk
      shape     2.814 (std error 1.38)
      scale     1,167 h (std error 254 h)
      log likelihood -23.8144, AICc 55.629
    """
    if len(spells) == 0:
        raise NoMaximum("There are no lives to fit.", "Add records.", reason="no-failures")
    if spells.interval_known.any():
        shape, scale_h, log_likelihood, covariance = _between_checks(spells)
    else:
        weight = None if each_is_one(spells.weight) else spells.weight
        best, covariance = solve_with_covariance(
            spells.entry, spells.exit_upper, spells.failed, weight
        )
        shape, scale_h, log_likelihood = best.shape, best.scale_h, best.log_likelihood
    n = float(spells.weight.sum())
    return Fit(
        family="weibull",
        names=("shape", "scale_h"),
        estimate=np.array([shape, scale_h]),
        covariance=covariance,
        log_likelihood=log_likelihood,
        aicc=corrected_criterion(log_likelihood, 2, n),
        n=n,
        n_failed=spells.n_failed,
        converged=True,
        spells=spells,
    )


def _between_checks(spells: Spells) -> tuple[float, float, float, Array]:
    """Return shape, scale, log likelihood and covariance where failures lie between checks."""
    lives = prepare_lives(
        spells.entry, spells.exit_lower, spells.exit_upper, spells.failed, spells.weight
    )
    refuse_hopeless(lives.n_failed, nothing_survived=len(lives.stop) == 0, title="Weibull")
    shape, level, log_likelihood, _ = maximise(
        partial(evaluate, lives),
        _interval_start(spells),
        lives.n_failed,
        partial(best_levels, lives),
    )
    log_scale = math.log(lives.reference_h) - level / shape
    if abs(log_scale) > 700.0:
        raise FitError(
            f"The Weibull fit has shape {shape:.3g} and a scale that no number can hold.",
            "Such data say nothing of a scale; use bounds for assumed shapes.",
        )
    return shape, math.exp(log_scale), log_likelihood, covariance_at(lives, shape, level)


def try_fit(spells: Spells) -> Fit | None:
    """Return the Weibull fit of the spells; None where it has no maximum or does not converge."""
    if spells.n_failed < 1:
        return None
    try:
        return fit_weibull(spells)
    except FitError:
        return None
