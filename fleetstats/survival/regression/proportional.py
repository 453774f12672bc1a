"""Proportional hazards: by what factor a covariate multiplies the hazard, without a life law.

The climb is lifelines' (with delayed entry), which stops up to 1e-6 short; the last steps are our
own Newton's, on the same likelihood. The check that hazards are proportional is our own score test,
since the library's residuals do not know of late entry.
"""

from __future__ import annotations

import warnings

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.gate import LEVEL, gate, one_of
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.last_steps import has_settled
from fleetstats.survival.lives import LIVES
from fleetstats.survival.regression.covariates import COVARIATES, Covariates, lives_behind

TIES = ("efron", "breslow")

MOST_TO_START = 4_000
"""Lives from twice of which on the library is asked about a part of them."""

MOST_LAST_STEPS = 20
"""Newton steps from where the library stopped; two or three are enough."""


@value
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


@value
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


def _start(lives: Spells, standard: Array) -> Array:
    """Return lifelines' coefficients (k,) of standard covariates (n, k), near the maximum."""
    import pandas as pd
    from lifelines import CoxPHFitter
    from lifelines.exceptions import ConvergenceError, ConvergenceWarning

    frame = pd.DataFrame(
        {f"x{j}": x for j, x in enumerate(standard.T)}
        | {"entry": lives.entry, "exit": lives.exit_upper, "failed": lives.failed.astype(int)}
        | {"weight": lives.weight}
    )
    fitter = CoxPHFitter()
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
    return np.asarray(fitter.params_.to_numpy())


def _start_of_some(lives: Spells, standard: Array) -> Array:
    """Return coefficients near the maximum, from some of the lives where there are many.

    The library's time grows with the square of the lives; from the maximum of every so many of them
    our own steps reach that of all. Where some do not do, all are asked.
    """
    apart = len(lives) // MOST_TO_START
    if apart > 1:
        keep = np.lexsort((lives.entry, lives.exit_upper))[::apart]
        try:
            near = _start(lives.select(keep), standard[keep])
        except FitError:
            return _start(lives, standard)
        return near
    return _start(lives, standard)


@gate(spells=LIVES, covariates=COVARIATES, level=LEVEL, ties=one_of(*TIES))
def fit_proportional(
    spells: Spells, covariates: Covariates, *, level: float = 0.90, ties: str = "efron"
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

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for; `ties` is one of the two words.
    FitError
        If lifelines finds no maximum, as when a group has no failure.

    References
    ----------
    .. [1] Cox, D. R. (1972). J. R. Statist. Soc. B 34, 187-220. Ties: Efron (1977),
       Breslow (1974), Biometrics 30, 89-99.
    .. [2] Grambsch, P. M. and Therneau, T. M. (1994). Biometrika 81, 515-526 (the check; here as a
       score test with log age).
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
    from scipy import special

    spread = covariates.deviation
    standard = covariates.values / spread
    near, covariance = _climb_on(lives, standard, _start_of_some(lives, standard), ties)
    coef = near / spread
    se = np.sqrt(np.diag(covariance)) / spread
    null = partial_log_likelihood(lives, covariates.values, np.zeros(k), ties)
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
        log_likelihood=partial_log_likelihood(lives, covariates.values, coef, ties),
        log_likelihood_without=null,
        proportional_p=together,
        n=round(float(lives.weight.sum())),
        n_failed=lives.n_failed,
        level=level,
        note=(f"{moved} failures found at a check count at the check's hours." if moved else ""),
    )


def _risk_sums(lives: Spells, values: Array, ages: Array) -> Array:
    """Return (k, m) sums of `values` (n, m) over the lives at risk at each of `ages` (k,).

    At risk when entry < age <= exit: a tail over exits less a tail over entries.
    """

    def tail(at: Array) -> Array:
        order = np.argsort(at, kind="stable")
        sums = np.concatenate(
            [np.cumsum(values[order][::-1], axis=0)[::-1], np.zeros((1, values.shape[1]))]
        )
        return np.asarray(sums[np.searchsorted(at[order], ages, side="left")])

    return tail(lives.exit_upper) - tail(lives.entry)


def partial_log_likelihood(lives: Spells, x: Array, coef: Array, ties: str = "efron") -> float:
    """Return the partial log-likelihood with late entry; at risk when entry < t <= exit."""
    return partial_parts(lives, x, coef, ties)[0]


def partial_parts(
    lives: Spells, x: Array, coef: Array, ties: str = "efron"
) -> tuple[float, Array, Array]:
    """Return the partial log-likelihood, its slope (k,) and minus its second derivatives (k, k).

    Efron's (1977) ties: the j-th of d tied failures sees the risk set less j/d of what the tied
    ones bring, each with their mean weight. Breslow's (1974) see the whole risk set, all of them.
    """
    k = x.shape[1]
    eta = x @ coef
    products = (x[:, :, None] * x[:, None, :]).reshape(len(x), -1)
    risk = (lives.weight * np.exp(eta))[:, None] * np.column_stack([np.ones(len(x)), x, products])
    dead = lives.failed
    ages, place, count = np.unique(lives.exit_upper[dead], return_inverse=True, return_counts=True)
    tied = np.zeros((len(ages), risk.shape[1]))
    np.add.at(tied, place, risk[dead])
    weight = np.repeat(np.bincount(place, weights=lives.weight[dead]) / count, count)
    j = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    share = (j / np.repeat(count, count))[:, None] * (ties == "efron")
    sums = np.repeat(_risk_sums(lives, risk, ages), count, axis=0)
    sums = sums - share * np.repeat(tied, count, axis=0)
    mean = sums[:, 1 : 1 + k] / sums[:, :1]
    second = (sums[:, 1 + k :] / sums[:, :1]).reshape(-1, k, k)
    value = float((lives.weight * eta)[dead].sum() - weight @ np.log(sums[:, 0]))
    slope = lives.weight[dead] @ x[dead] - weight @ mean
    spread = second - mean[:, :, None] * mean[:, None, :]
    return value, slope, np.einsum("i,ijk->jk", weight, spread)


def _climb_on(lives: Spells, x: Array, coef: Array, ties: str) -> tuple[Array, Array]:
    """Return the coefficients at the maximum and their covariance, from close beside it."""
    before = np.inf
    for _ in range(MOST_LAST_STEPS):
        _, slope, information = partial_parts(lives, x, coef, ties)
        step = np.linalg.solve(information, slope)
        decrement = float(step @ slope)
        if has_settled(decrement, before):
            break
        coef, before = coef + step, decrement
    return coef, np.linalg.inv(information)


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
    dead = lives.failed
    ages, place = np.unique(lives.exit_upper[dead], return_inverse=True)
    if len(ages) < k + 2:
        return [None] * k, None
    risk = lives.weight * np.exp(x @ coef)
    deaths = np.bincount(place, weights=lives.weight[dead])
    products = (x[:, :, None] * x[:, None, :]).reshape(len(x), -1)
    sums = _risk_sums(lives, risk[:, None] * np.column_stack([np.ones(len(x)), x, products]), ages)
    mean = sums[:, 1 : 1 + k] / sums[:, :1]
    second = (sums[:, 1 + k :] / sums[:, :1]).reshape(-1, k, k)
    spread_at = deaths[:, None, None] * (second - mean[:, :, None] * mean[:, None, :])
    g = np.log(ages) - float(deaths @ np.log(ages)) / float(deaths.sum())
    seen = np.column_stack(
        [np.bincount(place, weights=(lives.weight * x[:, i])[dead]) for i in range(k)]
    )
    score = g @ (seen - deaths[:, None] * mean)
    base = spread_at.sum(axis=0)
    mixed = (g[:, None, None] * spread_at).sum(axis=0)
    own = (g[:, None, None] ** 2 * spread_at).sum(axis=0)
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
