"""Proportional hazards: by what factor a covariate multiplies the hazard, without a life law.

The likelihood is in `partial_likelihood`; `partial_climb` finds its top from no effect at all. The
check that hazards are proportional is a score test, which knows of late entry.
"""

from __future__ import annotations

from typing import ClassVar

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.gate import LEVEL, gate, one_of
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.lives import LIVES
from fleetstats.survival.regression.covariates import COVARIATES, Covariates, lives_behind
from fleetstats.survival.regression.partial_climb import climb_partial
from fleetstats.survival.regression.partial_likelihood import (
    RiskSets,
    moments_with_age,
    partial_parts,
)
from fleetstats.survival.regression.partial_profile import LIMITS, limit_ratios

TIES = ("efron", "breslow")


@value
class HazardRatio(Value):
    """What a step of one covariate does to the hazard.

    `ratio` above 1 means more failures per hour; `low` and `high` are limits by normal theory on
    the log scale or from the profile of the partial likelihood, as the fit was asked for (NaN where
    that gives none). `proportional_p` tests that the ratio does not change with log age.
    """

    name: str
    step: float
    ratio: float
    low: float
    high: float
    coef: float
    std_error: float
    proportional_p: float | None


@value
class Proportional(Value):
    """Cox model.

    `proportional_p` tests all covariates together; `note` says what was moved. `ties` is how
    failures at one age shared the risk set, ``"efron"`` or ``"breslow"``, and `limits` how the
    limits of the ratios were made, ``"normal"`` or ``"profile"``.
    """

    _lines: ClassVar[str] = "ratios"

    ratios: tuple[HazardRatio, ...]
    log_likelihood: float
    log_likelihood_without: float
    proportional_p: float | None
    n: int
    n_failed: float
    level: float
    note: str = ""
    ties: str = "efron"
    limits: str = "normal"

    def __repr__(self) -> str:
        lines = [
            f"{r.name}, per {r.step:g}: hazard x {r.ratio:.3g} ({r.low:.3g} to {r.high:.3g})"
            for r in self.ratios
        ]
        told = f"{100 * self.level:g} % limits: {self.limits}; ties: {self.ties.capitalize()}"
        return "\n".join([*lines, told])


@gate(
    spells=LIVES,
    covariates=COVARIATES,
    level=LEVEL,
    ties=one_of(*TIES),
    limits=one_of(*LIMITS),
)
def fit_proportional(
    spells: Spells,
    covariates: Covariates,
    *,
    level: float = 0.90,
    ties: str = "efron",
    limits: str = "normal",
) -> Proportional:
    """Fit a Cox model by partial likelihood, late entry allowed.

    Parameters
    ----------
    spells : Spells
        The lives that `covariates` was built from. A failure known to lie in an interval counts
        at its upper edge, where it was found; the note says how many.
    covariates : Covariates
        As `build_covariates` returns them.
    level : float
        Two-sided confidence.
    ties : {"efron", "breslow"}
        How failures at one age share the risk set; the two agree without ties, and Efron's is the
        closer to the exact likelihood with many.
    limits : {"normal", "profile"}
        Limits of the ratios from the standard error, or where twice the fall of the partial
        log-likelihood, the others at their best, reaches the chi-square quantile.

    Returns
    -------
    Proportional
        A ratio of hazards for each covariate, with the check that it holds at all ages.

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for; `ties` is one of the two words.
    FitError
        If there is no maximum, as when a group has no failure.

    References
    ----------
    .. [1] Cox, D. R. (1972). J. R. Statist. Soc. B 34, 187-220. Ties: Efron (1977),
       Breslow (1974), Biometrics 30, 89-99.
    .. [2] Grambsch, P. M. and Therneau, T. M. (1994). Biometrika 81, 515-526 (the check; here as a
       score test with log age).

    Examples
    --------
    >>> import numpy as np
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 2100, 50), [0, 0, 0, 1] * 10)
    >>> design = fs.build_covariates(lives, {"use": np.arange(40) % 5 * 50.0})
    >>> print(fs.fit_proportional(lives, design))
    use, per 50: hazard x 0.845 (0.569 to 1.25)
    90 % limits: normal; ties: Efron
    """
    lives = lives_behind(spells, covariates)
    k = len(covariates.names)
    for name, x in zip(covariates.names, covariates.values.T, strict=True):
        if ": " in name and len(np.unique(x[lives.failed])) < 2:
            raise FitError(
                f"The proportional-hazards fit has no maximum: one side of '{name}' has no "
                "failure.",
                "Give a bound for that group instead.",
            )
    spread = covariates.deviation
    standard = covariates.values / spread

    def parts(b: Array) -> tuple[float, Array, Array]:
        return partial_parts(lives, standard, b, ties)

    top = climb_partial(parts, np.zeros(k))
    if top is None:
        raise FitError(
            "The proportional-hazards fit has no maximum on these lives.",
            "A group without failures, or two covariates that say the same, would do that.",
        )
    near, covariance = top[0], np.linalg.inv(top[2])
    coef, se = near / spread, np.sqrt(np.diag(covariance)) / spread
    null = partial_log_likelihood(lives, covariates.values, np.zeros(k), ties)
    each, together = check_proportional(lives, covariates.values, coef)
    low, high = limit_ratios(parts, near, covariance, level, limits)
    moved = int(lives.interval_known.sum())
    step = covariates.steps
    return Proportional(
        ratios=tuple(
            HazardRatio(
                name=covariates.names[j],
                step=float(step[j]),
                ratio=float(np.exp(coef[j] * step[j])),
                low=float(np.exp(low[j] / spread[j] * step[j])),
                high=float(np.exp(high[j] / spread[j] * step[j])),
                coef=float(coef[j]),
                std_error=float(se[j]),
                proportional_p=each[j],
            )
            for j in range(k)
        ),
        log_likelihood=partial_log_likelihood(lives, covariates.values, coef, ties),
        log_likelihood_without=null,
        proportional_p=together,
        n=round(float(lives.weight.sum())),
        n_failed=lives.n_failed,
        level=level,
        note=(f"{moved} failures found at a check count at the check's hours." if moved else ""),
        ties=ties,
        limits=limits,
    )


def partial_log_likelihood(lives: Spells, x: Array, coef: Array, ties: str = "efron") -> float:
    """Return the partial log-likelihood with late entry; at risk when entry < t <= exit."""
    return partial_parts(lives, x, coef, ties)[0]


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
    sets = RiskSets.of(lives)
    if len(sets.ages) < k + 2:
        return [None] * k, None
    g = np.log(sets.ages) - float(sets.deaths @ np.log(sets.ages)) / float(sets.deaths.sum())
    score, base, mixed, own = moments_with_age(lives, x, coef, g)
    try:
        spread = own - mixed.T @ np.linalg.solve(base, mixed)
        together = float(special.chdtrc(k, float(score @ np.linalg.solve(spread, score))))
    except np.linalg.LinAlgError:
        return [None] * k, None
    each: list[float | None] = []
    for i in range(k):
        one = float(own[i, i] - mixed[:, i] @ np.linalg.solve(base, mixed[:, i]))
        each.append(float(special.chdtrc(1, score[i] ** 2 / one)) if one > 0 else None)
    return each, together
