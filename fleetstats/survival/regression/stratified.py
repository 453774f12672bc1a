"""Proportional hazards within strata: each stratum has a hazard by age of its own.

What the strata stand for, a build or the years in which engines entered, is adjusted for without
a law of any kind. The partial likelihood is the product of those of the strata (Kalbfleisch &
Prentice 2002, section 4.4).
"""

from __future__ import annotations

from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.arguments import texts_of
from fleetstats.core.errors import FitError
from fleetstats.core.gate import LEVEL, TEXTS, gate, one_of
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.lives import LIVES
from fleetstats.survival.regression.covariates import COVARIATES, Covariates, lives_behind
from fleetstats.survival.regression.partial_climb import Parts, climb_partial
from fleetstats.survival.regression.partial_likelihood import partial_parts
from fleetstats.survival.regression.partial_profile import LIMITS, limit_ratios
from fleetstats.survival.regression.proportional import HazardRatio


@value
class Stratified(Value):
    """Hazard ratios within strata; `left_out` names the covariates without one, and why.

    `limits` is how the limits of the ratios were made, ``"normal"`` or ``"profile"``.
    """

    _lines: ClassVar[str] = "ratios"

    ratios: tuple[HazardRatio, ...]
    log_likelihood: float
    strata: tuple[str, ...]
    n: int
    n_failed: float
    level: float
    left_out: tuple[str, ...] = ()
    limits: str = "normal"


@gate(spells=LIVES, covariates=COVARIATES, strata=TEXTS, level=LEVEL, limits=one_of(*LIMITS))
def fit_stratified(
    spells: Spells,
    covariates: Covariates,
    strata: ArrayLike,
    *,
    level: float = 0.90,
    limits: str = "normal",
) -> Stratified:
    """Fit hazard ratios by partial likelihood within strata (ties by Efron), late entry allowed.

    Parameters
    ----------
    spells : Spells
        The n0 lives that `covariates` was built from.
    covariates : Covariates
        As `build_covariates` returns them.
    strata : (n0,) str
        Stratum of each.
    level : float
        Two-sided confidence of the limits.
    limits : {"normal", "profile"}
        As for `fit_proportional`.

    Returns
    -------
    Stratified
        A ratio of hazards for each covariate; `left_out` names those without one, and why.

    Raises
    ------
    FitError
        If no covariate can be told within the strata.

    References
    ----------
    Kalbfleisch & Prentice (2002), The Statistical Analysis of Failure Time Data, section
    4.4; ties by Efron (1977), J. Am. Stat. Assoc. 72, 557-565.

    Examples
    --------
    >>> import numpy as np
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 2100, 50), [0, 0, 0, 1] * 10, build=["A", "B"] * 20)
    >>> design = fs.build_covariates(lives, {"use": np.arange(40) % 5 * 50.0})
    >>> fit = fs.fit_stratified(lives, design, lives.build)
    >>> [(r.name, round(r.ratio, 2)) for r in fit.ratios]
    [('use', 0.87)]
    """
    lives = lives_behind(spells, covariates)
    mine = texts_of(strata, "strata", n=len(spells))[covariates.keep]
    names = sorted(set(mine.tolist()))
    parts = [(lives.select(mine == s), np.flatnonzero(mine == s)) for s in names]
    parts = [(part, at) for part, at in parts if part.failed.any()]
    tells, left_out = _telling(parts, covariates)
    if not tells.any():
        raise FitError(
            "Within these strata no covariate can be told.",
            "Each needs a failure at which lives of two values were at risk.",
        )
    reach = np.ptp(covariates.values, axis=0)
    x = (covariates.values / np.where(reach > 0, reach, 1.0))[:, tells]
    within = _total([(p, x[at]) for p, at in parts])
    top = climb_partial(within, np.zeros(x.shape[1]))
    if top is None:
        raise FitError(
            "The hazard ratios within strata have no maximum on these lives.",
            "A level without failures, or two covariates that say the same, would do that.",
        )
    best, value_, information = top
    scale, covariance = reach[tells], np.linalg.inv(information)
    edges = limit_ratios(within, best, covariance, level, limits)
    low, high = (e / scale for e in edges)
    se, coef = np.sqrt(np.diag(covariance)) / scale, best / scale
    step = covariates.steps[tells]
    ratios = tuple(
        HazardRatio(
            name=name,
            step=float(s),
            ratio=float(np.exp(b * s)),
            low=float(np.exp(lo * s)),
            high=float(np.exp(hi * s)),
            coef=float(b),
            std_error=float(e),
            proportional_p=None,
        )
        for name, s, b, e, lo, hi in zip(
            [n for n, t in zip(covariates.names, tells, strict=True) if t],
            step, coef, se, low, high, strict=True,
        )
    )  # fmt: skip
    return Stratified(
        ratios=ratios,
        log_likelihood=value_,
        strata=tuple(names),
        n=round(float(lives.weight.sum())),
        n_failed=lives.n_failed,
        level=level,
        left_out=left_out,
        limits=limits,
    )


def _telling(
    parts: list[tuple[Spells, Array]], covariates: Covariates
) -> tuple[Array, tuple[str, ...]]:
    """Return (k,) bool of covariates with a finite ratio, and what is said of the others."""
    k = len(covariates.names)
    low, high = np.full(k, np.inf), np.full(k, -np.inf)
    contrast = np.zeros(k, dtype=bool)
    for part, at in parts:
        x = covariates.values[at]
        contrast |= np.ptp(x, axis=0) > 0
        dead = x[part.failed]
        low, high = np.minimum(low, dead.min(axis=0)), np.maximum(high, dead.max(axis=0))
    levels = np.array([": " in n for n in covariates.names])
    one_sided = levels & (low == high)
    said = [
        f"{name}: no failure on one side"
        if one_sided[j]
        else f"{name}: no stratum with a failure holds two values"
        for j, name in enumerate(covariates.names)
        if one_sided[j] or not contrast[j]
    ]
    return contrast & ~one_sided, tuple(said)


def _total(parts: list[tuple[Spells, Array]]) -> Parts:
    """Return the partial likelihood of all strata together, as `partial_parts` gives each."""

    def total(coef: Array) -> tuple[float, Array, Array]:
        found = [partial_parts(p, x, coef) for p, x in parts]
        return (
            sum(f[0] for f in found),
            np.sum([f[1] for f in found], axis=0),
            np.sum([f[2] for f in found], axis=0),
        )

    return total
