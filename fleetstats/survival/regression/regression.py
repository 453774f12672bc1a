"""Weibull accelerated life: by what factor a covariate stretches or shortens life.

The number of failures bounds what can be asked. With fewer than ten per covariate the effects are
held back by a prior around "no effect"; with fewer than three no effects are given at all.
"""

from __future__ import annotations

from typing import ClassVar

import numpy as np

from fleetstats.core.errors import NoMaximum
from fleetstats.core.gate import AMOUNT, LEVEL, PROBABILITY, gate
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.lives import LIVES
from fleetstats.survival.parameter import profile_drop
from fleetstats.survival.regression.accelerated import Problem, Solution, solve_accelerated
from fleetstats.survival.regression.covariates import COVARIATES, Covariates, lives_behind
from fleetstats.survival.regression.fitted import Fitted, bare_levels, limit_bare
from fleetstats.survival.regression.law_limits import LawProfile
from fleetstats.survival.regression.varying_shape import compare_shapes
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import PLAIN_FROM

REFUSED_BELOW = 3.0
"""Failures per covariate below which no effect is given: even a prior would only speak for itself
(a choice of this package, no source)."""


@value
class LifeFactor(Value):
    """What a step of one covariate does to life.

    Parameters
    ----------
    name : str
        The covariate.
    step : float
        The change for which the factor is quoted, in the covariate's own unit.
    factor : float or None
        Life is multiplied by this; below 1 it shortens. None for a level without failures, of
        which only `low` is known.
    low, high : float or None
        Band at the level of the regression; None where the likelihood gives no limit.
    coef, std_error : float or None
        Log life factor per unit, and its normal-theory error (for comparison only).
    shape_p_value : float or None
        Likelihood-ratio test that the shape does not vary with this covariate.
    prior_share : float
        Share of the information on the effect that comes from the prior; 0 when fitted freely.
    """

    name: str
    step: float
    factor: float | None
    low: float | None
    high: float | None
    coef: float | None
    std_error: float | None
    shape_p_value: float | None
    prior_share: float

    @property
    def reading(self) -> str:
        """Return ``"longer"``, ``"shorter"`` or ``"not shown"``."""
        if self.low is not None and self.low > 1.0:
            return "longer"
        if self.high is not None and self.high < 1.0:
            return "shorter"
        return "not shown"


@value
class Regression(Value):
    """Weibull accelerated-life regression.

    `treatment` is ``"plain"``, ``"penalised"`` or ``"refused"``; `because` says why in a sentence.
    `life_h` holds at the mean of the numeric covariates and the reference levels, and so do the
    intercept, the log of the hours by which 63.2 % have failed, and the shape. Limits of the two
    are of the profile likelihood; None where it gives none.
    """

    _lines: ClassVar[str] = "factors"

    treatment: str
    because: str
    factors: tuple[LifeFactor, ...]
    intercept: float
    intercept_std_error: float
    intercept_low: float | None
    intercept_high: float | None
    shape: float
    shape_std_error: float
    shape_low: float | None
    shape_high: float | None
    log_likelihood: float
    log_likelihood_without: float
    p_value: float | None
    n: int
    n_failed: float
    failures_per_covariate: float
    level: float
    set_aside: tuple[tuple[str, int], ...]
    cautions: tuple[Caution, ...] = ()

    def __repr__(self) -> str:
        lines = [self.because]
        lines += [
            f"  {f.name}, per {f.step:g}: life x {_text(f.factor)} "
            f"({_text(f.low)} to {_text(f.high)}, {100 * self.level:g} %)"
            for f in self.factors
        ]
        return "\n".join(lines)

    @gate(p=PROBABILITY)
    def life_h(self, p: float) -> float:
        """Return hours by which a share `p` has failed, at mean covariates and reference levels."""
        return float(np.exp(self.intercept) * (-np.log1p(-p)) ** (1.0 / self.shape))


def _text(x: float | None) -> str:
    return "no limit" if x is None else f"{x:.3g}"


@gate(spells=LIVES, covariates=COVARIATES, level=LEVEL, plain_from=AMOUNT, refused_below=AMOUNT)
def fit_accelerated(
    spells: Spells,
    covariates: Covariates,
    *,
    level: float = 0.90,
    plain_from: float = PLAIN_FROM,
    refused_below: float = REFUSED_BELOW,
) -> Regression:
    """Fit life factors to lives with late entry and any censoring.

    Parameters
    ----------
    spells : Spells
        The lives that `covariates` was built from.
    covariates : Covariates
        As `build_covariates` returns them.
    level : float
        Two-sided confidence of the profile-likelihood bands.
    plain_from, refused_below : float
        Failures per covariate at which effects are fitted freely, and below which none is given.

    Returns
    -------
    Regression
        A factor of life for each covariate; `treatment` says whether the effects were held back.

    Raises
    ------
    ArgumentError
        If the covariates belong to other spells.
    FitError
        If there is no covariate or no failure.

    References
    ----------
    .. [1] Lawless, J. F. (2003). Statistical Models and Methods for Lifetime Data, section 6.3.
    .. [2] Kalbfleisch, J. D. and Prentice, R. L. (2002). The Statistical Analysis of Failure Time
       Data, chapter 3.

    Examples
    --------
    >>> import numpy as np
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 2100, 50), [0, 0, 0, 1] * 10)
    >>> design = fs.build_covariates(lives, {"use": np.arange(40) % 5 * 50.0})
    >>> print(fs.fit_accelerated(lives, design))
    Effects are fitted freely: 10 failures for 1 covariate, 10 each.
      use, per 50: life x 1.04 (0.865 to 1.25, 90 %)
    """
    lives = lives_behind(spells, covariates)
    k = len(covariates.names)
    problem = Problem.of(lives)
    without = solve_accelerated(problem, np.ones((len(lives), 1)))
    open_ = bare_levels(lives, covariates)
    freed = int((~open_).sum())
    per = lives.n_failed / max(freed, 1)
    treatment, because = _treatment(lives, covariates, open_, plain_from, refused_below)
    factors: tuple[LifeFactor, ...] = ()
    best, gain = without, 0.0
    law = LawProfile(
        problem=problem, design=np.ones((len(lives), 1)), best=without, penalty=np.zeros(1)
    )
    if treatment != "refused":
        part = Fitted.of(lives, covariates, ~open_, held=treatment == "penalised")
        best = part.best
        law = LawProfile(problem=part.problem, design=part.design, best=best, penalty=part.ridge)
        own = dict(zip(np.flatnonzero(~open_).tolist(), range(freed), strict=True))
        factors = tuple(
            _one_sided(lives, covariates, open_, j, level, treatment)
            if open_[j]
            else _factor(part, covariates, j, own[j], level, treatment == "plain")
            for j in range(k)
        )
        # lives of a level without failures add nothing at the top, and little without it
        gain = 2.0 * (best.log_likelihood - without.log_likelihood)
    shape, intercept = law.shape(level), law.intercept(level)
    return Regression(
        treatment=treatment,
        because=because,
        factors=factors,
        intercept=intercept.estimate,
        intercept_std_error=intercept.std_error,
        intercept_low=intercept.low,
        intercept_high=intercept.high,
        shape=shape.estimate,
        shape_std_error=shape.std_error,
        shape_low=shape.low,
        shape_high=shape.high,
        log_likelihood=best.log_likelihood,
        log_likelihood_without=without.log_likelihood,
        p_value=_chi_tail(gain, k) if treatment == "plain" else None,
        n=round(float(lives.weight.sum())),
        n_failed=lives.n_failed,
        failures_per_covariate=per,
        level=level,
        set_aside=covariates.set_aside,
        cautions=_cautions(treatment, per, plain_from),
    )


def _treatment(
    lives: Spells, covariates: Covariates, bare: Array, plain_from: float, refused_below: float
) -> tuple[str, str]:
    k, r = int((~bare).sum()), lives.n_failed
    per = r / max(k, 1)
    none = [n for n, b in zip(covariates.names, bare, strict=True) if b]
    tail = f" No failure in {', '.join(none)}: the limit there is one-sided." if none else ""
    what = f"{r:g} failures for {k} covariate{'' if k == 1 else 's'}, {per:.2g} each"
    if k == 0:
        what = f"{r:g} failures"
    if per < refused_below:
        return "refused", (
            f"No effects are given: {what}; at least {refused_below:g} each are needed to say "
            f"anything and {plain_from:g} each to say it freely. Name fewer covariates, or wait "
            "for more evidence."
        )
    if k and per < plain_from:
        return "penalised", (
            f"Effects are held back towards none: {what}, where {plain_from:g} each are needed to "
            f"fit freely. The bands include that prior.{tail}"
        )
    return "plain", f"Effects are fitted freely: {what}.{tail}"


def _factor(
    part: Fitted, covariates: Covariates, j: int, own: int, level: float, plain: bool
) -> LifeFactor:
    """Return the factor of column `j`, which is the `own`-th of those fitted."""
    best, at = part.best, 1 + own
    step = float(covariates.steps[j])
    coef = float(best.coef[at])
    se = float(np.sqrt(best.covariance()[at, at]))
    low, high = profile_coefficient(part.problem, part.design, best, at, level, part.ridge)
    return LifeFactor(
        name=covariates.names[j],
        step=step,
        factor=float(np.exp(coef * step)),
        low=None if low is None else float(np.exp(low * step)),
        high=None if high is None else float(np.exp(high * step)),
        coef=coef,
        std_error=se,
        shape_p_value=compare_shapes(part.problem, part.design, best, at) if plain else None,
        prior_share=min(1.0, float(part.ridge[at]) * se**2),
    )


def _one_sided(
    lives: Spells, covariates: Covariates, bare: Array, j: int, level: float, treatment: str
) -> LifeFactor:
    low = limit_bare(lives, covariates, bare, j, level, held=treatment == "penalised")
    return LifeFactor(
        name=covariates.names[j],
        step=1.0,
        factor=None,
        low=low,
        high=None,
        coef=None,
        std_error=None,
        shape_p_value=None,
        prior_share=0.0,
    )


def profile_coefficient(
    problem: Problem,
    design: Array,
    best: Solution,
    column: int,
    level: float,
    penalty: Array | None = None,
) -> tuple[float | None, float | None]:
    """Return profile-likelihood limits of one coefficient; None where there is no limit.

    Each end is where twice the drop of the (penalised) log-likelihood reaches the chi-square
    quantile with one degree of freedom at `level`.
    """
    from scipy import optimize

    ridge = np.zeros(design.shape[1]) if penalty is None else penalty
    drop = profile_drop(level)
    others = np.arange(design.shape[1]) != column
    x = design[:, column]
    state = {"start": np.concatenate([best.coef[others], [np.log(best.shape)]])}
    se = float(np.sqrt(best.covariance()[column, column]))

    def gap(b: float) -> float:
        fit = solve_accelerated(
            problem,
            design[:, others],
            offset=x * b,
            penalty=ridge[others],
            start=state["start"],
        )
        state["start"] = np.concatenate([fit.coef, [np.log(fit.shape)]])
        prior = 0.5 * float(ridge[column]) * b * b
        return best.objective - (fit.objective - prior) - drop

    out: list[float | None] = []
    for side in (-1.0, 1.0):
        state["start"] = np.concatenate([best.coef[others], [np.log(best.shape)]])
        near, far = float(best.coef[column]), float(best.coef[column]) + side * 1.5 * se
        try:
            for _ in range(12):
                if gap(far) > 0.0:
                    out.append(float(optimize.brentq(gap, near, far, xtol=1e-9 * max(se, 1e-300))))
                    break
                near, far = far, far + side * 2.0 * abs(far - best.coef[column])
            else:
                out.append(None)
        except NoMaximum:
            out.append(None)
    return out[0], out[1]


def _chi_tail(statistic: float, df: int) -> float:
    from scipy import special

    return float(special.chdtrc(df, max(statistic, 0.0)))


def _cautions(treatment: str, per: float, plain_from: float) -> tuple[Caution, ...]:
    if treatment == "plain":
        return ()
    key = "prior-driven/effects" if treatment == "penalised" else "few-failures/effects"
    return (caution(key, value=f"{per:.2g} failures per covariate", limit=f"{plain_from:g}"),)
