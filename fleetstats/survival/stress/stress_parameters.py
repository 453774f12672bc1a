"""Parameters of a stress-life law with standard errors and profile-likelihood limits.

The law is a Weibull accelerated life on one covariate, x of stress, so that shape, intercept and
slope are held by the solver of the regression (`regression/accelerated.py`).
"""

from __future__ import annotations

import math

import numpy as np

from fleetstats.core.gate import FLAG, LEVEL, gate, one_of
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.survival.parameter import Parameter
from fleetstats.survival.regression.accelerated import Problem, solve_accelerated
from fleetstats.survival.regression.law_limits import LawProfile
from fleetstats.survival.regression.regression import profile_coefficient
from fleetstats.survival.stress.field_lives import FIELD, FieldLives
from fleetstats.survival.stress.stress_life import (
    RELATIONS,
    RUNS,
    StressLifeFit,
    StressRuns,
    fit_stress_life,
    transform,
    transforms,
)

SLOPE_UNITS = {"power": "per log stress", "exponential": "per unit of stress", "arrhenius": "eV"}
"""What the slope of log life on x is measured in."""


@value
class StressParameters(Value):
    """What a stress-life law is made of, each with its limits.

    Parameters
    ----------
    fit : StressLifeFit
    shape : Parameter
        Common to all stresses.
    intercept : Parameter
        Log scale where x is 0: at a stress of 1 (power), 0 (exponential) or past all temperatures
        (Arrhenius). Far from the runs, so wide by nature; quote a life at a stress instead.
    slope : Parameter
        Of log scale on x.
    activation_ev : Parameter or None
        The activation energy in eV, the slope with its sign turned; None but for Arrhenius.
    """

    fit: StressLifeFit
    shape: Parameter
    intercept: Parameter
    slope: Parameter
    activation_ev: Parameter | None

    def __repr__(self) -> str:
        named = (self.shape, self.intercept, self.activation_ev or self.slope)
        return "\n".join(repr(p) for p in named)


@gate(runs=RUNS, relation=one_of(*RELATIONS), level=LEVEL, field=FIELD.or_none, own_ratio=FLAG)
def limits_parameters(
    runs: StressRuns,
    *,
    relation: str = "power",
    level: float = 0.90,
    field: FieldLives | None = None,
    own_ratio: bool = False,
) -> StressParameters:
    """Return shape, intercept and slope of a stress-life law with their limits.

    Parameters
    ----------
    runs, relation, field, own_ratio
        As for `fit_stress_life`.
    level : float
        Two-sided.

    Returns
    -------
    StressParameters
        Each with its estimate and limits; an edge is None where the profile does not close.

    Raises
    ------
    ArgumentError
        If an argument is not what it stands for.
    FitError
        As `fit_stress_life`.

    Notes
    -----
    Each limit is where twice the fall of the log-likelihood, the other parameters at their best,
    reaches the chi-square quantile with one degree of freedom (Meeker & Escobar 1998, sections 8.3
    and 17.4: from memory). These hold in large samples: in 600 benches made on three stresses with
    8 runs each, a quarter of them run-outs, limits of 0.90 held the true shape 87 % of the time and
    slope and intercept 88 % (``tests/coverage/test_parameter_coverage.py``).

    References
    ----------
    Meeker & Escobar (1998), Statistical Methods for Reliability Data, sections 8.3
    and 17.4 (from memory).

    Examples
    --------
    >>> import fleetstats as fs
    >>> kelvin = [353, 353, 353, 373, 373, 373, 393, 393, 393]
    >>> runs = fs.StressRuns.of(kelvin, [2100, 3000, 4300, 800, 1150, 1500, 300, 420, 600], True)
    >>> told = fs.stress_parameter_limits(runs, relation="arrhenius")
    >>> print(told.activation_ev)
    activation energy: 0.5881 eV (0.4795 to 0.6974, 90 %)
    """
    fit = fit_stress_life(runs, relation=relation, field=field, own_ratio=own_ratio)
    lives, x = as_lives(runs, relation, field)
    columns = [np.ones(len(x)), x]
    start = [fit.intercept, fit.slope]
    if fit.ratio is not None and field is not None:
        if math.isfinite(fit.ratio):
            columns.append(np.arange(len(x)) >= len(runs))
            start.append(math.log(fit.ratio))
        else:  # nothing failed in the field: with a ratio of its own it drops out
            lives, columns = lives.select(np.arange(len(runs))), [c[: len(runs)] for c in columns]
    problem, design = Problem.of(lives), np.column_stack(columns)
    start.append(math.log(fit.shape))
    best = solve_accelerated(problem, design, start=np.array(start))
    law = LawProfile(problem=problem, design=design, best=best, penalty=np.zeros(design.shape[1]))
    slope = _slope(problem, design, start, level, SLOPE_UNITS[relation])
    return StressParameters(
        fit=fit,
        shape=law.shape(level),
        intercept=law.intercept(level, unit="log life"),
        slope=slope,
        activation_ev=_turned(slope) if relation == "arrhenius" else None,
    )


def as_lives(
    runs: StressRuns, relation: str, field: FieldLives | None = None
) -> tuple[Spells, Array]:
    """Return runs as lives in the bench's unit, the field's after them, and x (n,) of each."""
    x = transforms(runs.stress, relation)
    entry, life = np.zeros(len(runs)), np.array(runs.life)
    failed, weight = np.array(runs.failed), np.array(runs.weight)
    if field is not None:
        s = field.spells
        # as in `StressLikelihood`: a failure between two checks counts in the middle of them
        life = np.concatenate([life, 0.5 * (s.exit_lower + s.exit_upper) * field.per_h])
        entry = np.concatenate([entry, s.entry * field.per_h])
        failed, weight = np.concatenate([failed, s.failed]), np.concatenate([weight, s.weight])
        x = np.concatenate([x, np.full(len(s), transform(field.stress, relation))])
    return Spells.of(entry, life, failed, weight=weight), x


def _slope(
    problem: Problem, design: Array, start: list[float], level: float, unit: str
) -> Parameter:
    # about the middle of the runs, where the intercept hardly goes with the slope
    middle = float(design[:, 1].mean())
    centred = design - np.eye(design.shape[1])[1] * middle
    best = solve_accelerated(
        problem, centred, start=np.array([start[0] + start[1] * middle, *start[1:]])
    )
    low, high = profile_coefficient(problem, centred, best, 1, level)
    return Parameter(
        name="slope",
        unit=unit,
        estimate=float(best.coef[1]),
        std_error=math.sqrt(best.covariance()[1, 1]),
        low=low,
        high=high,
        level=level,
    )


def _turned(slope: Parameter) -> Parameter:
    return Parameter(
        name="activation energy",
        unit="eV",
        estimate=-slope.estimate,
        std_error=slope.std_error,
        low=None if slope.high is None else -slope.high,
        high=None if slope.low is None else -slope.low,
        level=slope.level,
    )
