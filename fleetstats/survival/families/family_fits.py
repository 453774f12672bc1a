"""Fits of every family to lives of any kind."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from fleetstats.core.arguments import choice
from fleetstats.core.errors import NoMaximum
from fleetstats.core.gate import ArgumentKind, gate
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.survival.ascent import best_level, maximise
from fleetstats.survival.distribution import DISTRIBUTIONS
from fleetstats.survival.families.gamma import gamma_likelihood
from fleetstats.survival.families.location_scale import (
    Rows,
    Standard,
    evaluate_rows,
    extreme,
    logistic,
    normal,
    prepare_rows,
)
from fleetstats.survival.fit import Fit, corrected_criterion
from fleetstats.survival.lives import LIVES
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.survival.weibull.weibull_general import evaluate, prepare_lives, refuse_hopeless
from fleetstats.vocabulary.slugs import slug


def _fit(
    family: str, spells: Spells, estimate: Array, covariance: Array, log_likelihood: float
) -> Fit:
    n = float(spells.weight.sum())
    return Fit(
        family=family,
        names=DISTRIBUTIONS[family].names,
        estimate=estimate,
        covariance=covariance,
        log_likelihood=log_likelihood,
        aicc=corrected_criterion(log_likelihood, len(estimate), n),
        n=n,
        n_failed=spells.n_failed,
        converged=True,
        spells=spells,
    )


def _fit_exponential(spells: Spells) -> Fit:
    lives = prepare_lives(
        spells.entry, spells.exit_lower, spells.exit_upper, spells.failed, spells.weight
    )
    refuse_hopeless(lives.n_failed, nothing_survived=len(lives.stop) == 0, title="exponential")

    def likelihood(shape: float, level: float) -> tuple[float, Array, Array]:
        return evaluate(lives, shape, level)

    level, value = best_level(likelihood, 1.0, 0.0)
    scale = lives.reference_h * math.exp(-level)
    _, _, hess = likelihood(1.0, level)
    return _fit(
        "exponential", spells, np.array([scale]), np.array([[scale**2 / -hess[1, 1]]]), value
    )


def _location_scale(
    family: str,
    spells: Spells,
    standard: Standard,
    natural: Callable[[Rows, float, float], tuple[Array, Array]],
    *,
    log: bool = True,
) -> Fit:
    """Maximise in (shape, level); `natural` gives the parameters and their derivatives."""
    rows = prepare_rows(spells, log=log)
    title = DISTRIBUTIONS[family].title
    refuse_hopeless(rows.n_failed, nothing_survived=len(rows.stop) == 0, title=title)

    def likelihood(shape: float, level: float) -> tuple[float, Array, Array]:
        return evaluate_rows(rows, standard, shape, level)

    spread = _spread(rows)
    shape, level, value, _ = maximise(likelihood, 1.0 / spread, rows.n_failed)
    _, _, hess = likelihood(shape, level)
    estimate, change = natural(rows, shape, level)
    return _fit(family, spells, estimate, change @ np.linalg.inv(-hess) @ change.T, value)


def _spread(rows: Rows) -> float:
    """Return a rough scale of y: the distance of failures from the ends of life, at least 0.1."""
    far = float(np.abs(rows.stop[np.isfinite(rows.stop)]).mean()) if len(rows.stop) else 1.0
    return min(max(far, 0.1), 10.0)


def _lognormal(rows: Rows, shape: float, level: float) -> tuple[Array, Array]:
    mu, sigma = rows.reference - level / shape, 1.0 / shape
    change = np.array([[level / shape**2, -1.0 / shape], [-1.0 / shape**2, 0.0]])
    return np.array([mu, sigma]), change


def _loglogistic(rows: Rows, shape: float, level: float) -> tuple[Array, Array]:
    scale = math.exp(rows.reference - level / shape)
    change = np.array([[scale * level / shape**2, -scale / shape], [1.0, 0.0]])
    return np.array([scale, shape]), change


def _extreme(rows: Rows, shape: float, level: float) -> tuple[Array, Array]:
    estimate, change = _lognormal(rows, shape, level)
    return rows.unit * estimate, rows.unit * change


def _fit_gamma(spells: Spells) -> Fit:
    refuse_hopeless(
        spells.n_failed,
        nothing_survived=not bool((spells.exit_lower > spells.entry).any()),
        title="gamma",
    )
    likelihood, unit = gamma_likelihood(spells)
    shape, level, value, _ = maximise(likelihood, 1.5, spells.n_failed)
    _, _, hess = likelihood(shape, level)
    scale = unit * math.exp(level) / shape
    change = np.array([[1.0, 0.0], [-scale / shape, scale]])
    covariance = change @ np.linalg.inv(-hess) @ change.T
    return _fit("gamma", spells, np.array([shape, scale]), covariance, value)


FAMILIES: dict[str, Callable[[Spells], Fit]] = {
    "weibull": fit_weibull,
    "exponential": _fit_exponential,
    "lognormal": lambda s: _location_scale("lognormal", s, normal, _lognormal),
    "loglogistic": lambda s: _location_scale("loglogistic", s, logistic, _loglogistic),
    "gamma": _fit_gamma,
    "smallest-extreme-value": lambda s: _location_scale(
        "smallest-extreme-value", s, extreme, _extreme, log=False
    ),
}
"""Every family that can be fitted, by name, in the order in which they are shown."""


def _as_printed(value: object, name: str) -> str:
    """Return a family's key from any name under which it is printed: its key, or its title."""
    if isinstance(value, str):
        for family in FAMILIES:
            if _bare(value) in (_bare(family), _bare(DISTRIBUTIONS[family].title)):
                return family
    return choice(value, name, FAMILIES)


def _bare(text: str) -> str:
    return slug(text).replace("-", "")


FAMILY = ArgumentKind(word="choice", check=_as_printed)


@gate(spells=LIVES, family=FAMILY)
def fit_family(spells: Spells, family: str) -> Fit:
    """Fit one family to spells of any kind.

    Parameters
    ----------
    spells : Spells
        Exact, running, interval- and left-known lives, with delayed entry.
    family : str
        ``"weibull"``, ``"exponential"``, ``"lognormal"``, ``"loglogistic"``, ``"gamma"`` or
        ``"smallest-extreme-value"``; or its name in a sentence, such as ``"log-logistic"``.

    Returns
    -------
    Fit
        With covariance from the observed information.

    Raises
    ------
    NoMaximum
        When the likelihood has no maximum; `reason` says why.
    ArgumentError
        When the family is unknown.
    FitError
        When the fit does not settle.

    References
    ----------
    Lawless (2003), Statistical Models and Methods for Lifetime Data, chapters 4
    and 5.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, [400, 650, 800, 900, 1100, 1200], [1, 0, 1, 0, 1, 0])
    >>> print(fs.fit_family(lives, "lognormal"))
    lognormal fit to 6 lives, 3 failed, 5,050 h at risk
      mu        6.927 (std error 0.277)
      sigma     0.5463 (std error 0.235)
      log likelihood -23.9140, AICc 55.828
    """
    if len(spells) == 0:
        raise NoMaximum("There are no lives to fit.", "Add records.", reason="no-failures")
    return FAMILIES[family](spells)
