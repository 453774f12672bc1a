"""Proportional hazards: by what factor a covariate multiplies the hazard, without a life law.

The fit is lifelines' (with delayed entry); the check that hazards are proportional is our own score
test, since the library's residuals do not know of late entry.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.value import Array, Value
from fleetstats.spells import Spells
from fleetstats.survival.covariates import Covariates


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HazardRatio(Value):
    """What a step of one covariate does to the hazard.

    `ratio` above 1 means more failures per hour; `low` and `high` are normal-theory limits on the
    log scale. `proportional_p` tests that the ratio does not change with log age.
    """

    name: str
    step: float
    ratio: float
    low: float
    high: float
    coef: float
    std_error: float
    proportional_p: float | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Proportional(Value):
    """Cox model. `proportional_p` tests all covariates together; `note` says what was moved."""

    ratios: tuple[HazardRatio, ...]
    log_likelihood: float
    log_likelihood_without: float
    proportional_p: float | None
    n: int
    n_failed: float
    level: float
    note: str = ""

    def __repr__(self) -> str:
        return "\n".join(
            f"{r.name}, per {r.step:g}: hazard x {r.ratio:.3g} ({r.low:.3g} to {r.high:.3g})"
            for r in self.ratios
        )


def fit_proportional(
    spells: Spells, covariates: Covariates, *, level: float = 0.90
) -> Proportional:
    """Fit a Cox model by partial likelihood (ties by Efron), late entry allowed.

    Parameters
    ----------
    spells : Spells
        The lives that `covariates` was built from. A failure known to lie in an interval counts
        at its upper edge, where it was found; the note says how many.
    covariates : Covariates
        As `build_covariates` returns them.
    level : float
        Two-sided confidence.

    Raises
    ------
    FitError
        If lifelines finds no maximum, as when a group has no failure.

    References
    ----------
    .. [1] Cox, D. R. (1972). J. R. Statist. Soc. B 34, 187-220. Ties: Efron (1977).
    .. [2] Grambsch, P. M. and Therneau, T. M. (1994). Biometrika 81, 515-526 (the check; here as a
       score test with log age).
    """
    import pandas as pd
    from lifelines import CoxPHFitter
    from lifelines.exceptions import ConvergenceError, ConvergenceWarning
    from scipy import special

    lives = spells.select(covariates.keep)
    k = len(covariates.names)
    spread = covariates.deviation
    frame = pd.DataFrame(
        {f"x{j}": covariates.values[:, j] / spread[j] for j in range(k)}
        | {"entry": lives.entry, "exit": lives.exit_upper, "failed": lives.failed.astype(int)}
        | {"weight": lives.weight}
    )
    fitter = CoxPHFitter(alpha=1.0 - level)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            warnings.simplefilter("error", ConvergenceWarning)
            fitter.fit(
                frame,
                duration_col="exit",
                event_col="failed",
                entry_col="entry",
                weights_col="weight",
                fit_options={"precision": 1e-13, "r_precision": 1e-14},
            )
    except (ConvergenceError, ConvergenceWarning, np.linalg.LinAlgError, ValueError) as error:
        raise FitError(
            "The proportional-hazards fit has no maximum on these lives.",
            "A group without failures, or two covariates that say the same, would do that.",
        ) from error
    coef = fitter.params_.to_numpy() / spread
    se = fitter.standard_errors_.to_numpy() / spread
    null = partial_log_likelihood(lives, covariates.values, np.zeros(k))
    each, together = check_proportional(lives, covariates.values, coef)
    z = float(special.ndtri(0.5 + 0.5 * level))
    moved = int(lives.interval_known.sum())
    step = covariates.steps
    return Proportional(
        ratios=tuple(
            HazardRatio(
                name=covariates.names[j],
                step=float(step[j]),
                ratio=float(np.exp(coef[j] * step[j])),
                low=float(np.exp((coef[j] - z * se[j]) * step[j])),
                high=float(np.exp((coef[j] + z * se[j]) * step[j])),
                coef=float(coef[j]),
                std_error=float(se[j]),
                proportional_p=each[j],
            )
            for j in range(k)
        ),
        log_likelihood=float(fitter.log_likelihood_),
        log_likelihood_without=null,
        proportional_p=together,
        n=len(lives),
        n_failed=lives.n_failed,
        level=level,
        note=(f"{moved} failures found at a check count at the check's hours." if moved else ""),
    )


def _tied_groups(lives: Spells) -> tuple[Array, Array]:
    ages = np.unique(lives.exit_upper[lives.failed])
    return ages, lives.exit_upper


def partial_log_likelihood(lives: Spells, x: Array, coef: Array) -> float:
    """Return Efron's partial log-likelihood with late entry; at risk when entry < t <= exit."""
    eta = x @ coef
    risk = lives.weight * np.exp(eta)
    ages, stop = _tied_groups(lives)
    total = 0.0
    for t in ages:
        at_risk = (lives.entry < t) & (stop >= t)
        dead = lives.failed & (stop == t)
        s, tied = float(risk[at_risk].sum()), float(risk[dead].sum())
        d = int(dead.sum())
        mean_weight = float(lives.weight[dead].mean())
        total += float((lives.weight * eta)[dead].sum())
        total -= mean_weight * float(np.log(s - np.arange(d) / d * tied).sum())
    return total


def check_proportional(
    lives: Spells, x: Array, coef: Array
) -> tuple[list[float | None], float | None]:
    """Test each coefficient, and all together, for change with log age.

    Returns
    -------
    each : list of float or None
        p-values, one degree of freedom.
    together : float or None

    Notes
    -----
    Score test of ``x g(t)`` added to the model at its maximum, ``g`` = log age centred on the
    failures; moments of the risk set as Breslow ties take them.
    """
    from scipy import special

    k = x.shape[1]
    risk = lives.weight * np.exp(x @ coef)
    ages, stop = _tied_groups(lives)
    deaths = np.array([lives.weight[lives.failed & (stop == t)].sum() for t in ages])
    if len(ages) < k + 2:
        return [None] * k, None
    g = np.log(ages) - float((deaths * np.log(ages)).sum() / deaths.sum())
    score = np.zeros(k)
    base, mixed, own = np.zeros((k, k)), np.zeros((k, k)), np.zeros((k, k))
    for t, d, gt in zip(ages, deaths, g, strict=True):
        at_risk = (lives.entry < t) & (stop >= t)
        dead = lives.failed & (stop == t)
        w = risk[at_risk] / risk[at_risk].sum()
        mean = w @ x[at_risk]
        centred = x[at_risk] - mean
        v = d * (centred * w[:, None]).T @ centred
        score += gt * (lives.weight[dead] @ x[dead] - d * mean)
        base += v
        mixed += gt * v
        own += gt * gt * v
    try:
        spread = own - mixed.T @ np.linalg.solve(base, mixed)
        together = float(special.chdtrc(k, float(score @ np.linalg.solve(spread, score))))
    except np.linalg.LinAlgError:
        return [None] * k, None
    each: list[float | None] = []
    for j in range(k):
        one = float(own[j, j] - mixed[:, j] @ np.linalg.solve(base, mixed[:, j]))
        each.append(float(special.chdtrc(1, score[j] ** 2 / one)) if one > 0 else None)
    return each, together
