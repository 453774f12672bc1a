"""Profile-likelihood limits of stress-life answers: life at service stress, and stress margin."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.gate import LEVEL, POSITIVE, PROBABILITY, an, gate, one_of
from fleetstats.core.value import Array, Value, value
from fleetstats.survival.parameter import walk_out
from fleetstats.survival.stress.field_lives import FIELD, FieldLives
from fleetstats.survival.stress.signed_root import PLAIN, RootShift
from fleetstats.survival.stress.stress_life import (
    BOLTZMANN_EV,
    RELATIONS,
    RUNS,
    Held,
    StressRuns,
    stress_likelihood,
    transform,
)

SHIFT = an(RootShift, "Estimate one by estimate_root_shift.")


FARTHEST = 40.0
"""Distance in logs at which the search for an edge stops and says that there is none."""


@value
class Edges(Value):
    """An estimate with its profile-likelihood edges; None where the profile does not close."""

    estimate: float
    low: float | None
    high: float | None


@gate(
    runs=RUNS,
    p=PROBABILITY,
    stress=POSITIVE,
    relation=one_of(*RELATIONS),
    level=LEVEL,
    field=FIELD.or_none,
    shift=SHIFT,
)
def limits_life(
    runs: StressRuns,
    p: float,
    stress: float,
    *,
    relation: str,
    level: float,
    field: FieldLives | None = None,
    shift: RootShift = PLAIN,
) -> Edges:
    """Profile limits of the life by which a share `p` fails at a stress, in the bench's life.

    Parameters
    ----------
    runs : StressRuns
        The bench.
    p : float
        Share failed, in (0, 1).
    stress : float
        Stress asked for.
    relation : {"power", "exponential", "arrhenius"}
        The law.
    level : float
        Two-sided.
    field : FieldLives or None
        Field lives that share the law.
    shift : RootShift
        What moves the limits so that they hold on so few runs; by default nothing.

    Returns
    -------
    Edges

    References
    ----------
    Meeker & Escobar 1998, section 8.3, for limits from a profile of a function of the parameters.

    Examples
    --------
    >>> import fleetstats as fs
    >>> runs = fs.StressRuns.of([1, 1, 1, 2, 2, 2], [90, 110, 130, 30, 44, 50], True)
    >>> edges = fs.stress_life_limits(runs, 0.10, 1.5, relation="power", level=0.90)
    >>> round(edges.low, 1), round(edges.estimate, 1), round(edges.high, 1)
    (34.1, 48.3, 57.6)
    """
    like = stress_likelihood(runs, relation, p, stress, field)
    best = like.peak()

    def fall(q: float) -> float:
        return best.value - like.peak(Held(log_life=q)).value

    low, high = _edges(fall, best.log_life, level, shift=shift)
    return Edges(
        estimate=math.exp(best.log_life),
        low=None if low is None else math.exp(low),
        high=None if high is None else math.exp(high),
    )


@gate(
    runs=RUNS,
    p=PROBABILITY,
    stress=POSITIVE,
    required=POSITIVE,
    relation=one_of(*RELATIONS),
    level=LEVEL,
    field=FIELD.or_none,
    shift=SHIFT,
)
def limits_margin(
    runs: StressRuns,
    p: float,
    stress: float,
    required: float,
    *,
    relation: str,
    level: float,
    field: FieldLives | None = None,
    shift: RootShift = PLAIN,
) -> Edges:
    """Profile limits of the stress margin: allowed stress over service stress.

    For a temperature it is the allowed one less that of service, in kelvin.

    The allowed stress is the one at which a share `p` has failed by the `required` life; the
    other parameters are those of `limits_life`.

    Parameters
    ----------
    runs : StressRuns
        The bench.
    p : float
        Share failed, in (0, 1).
    stress : float
        Stress in service; kelvin where it is a temperature.
    required : float
        Life that is wanted, in the bench's unit.
    relation, level, field, shift
        As for `stress_life_limits`.

    Returns
    -------
    Edges
        The margin, a ratio or kelvin; None where the profile does not close.

    Raises
    ------
    FitError
        If life does not fall with stress in these runs.

    References
    ----------
    Meeker & Escobar (1998), Statistical Methods for Reliability Data, section 8.3.

    Examples
    --------
    >>> import fleetstats as fs
    >>> runs = fs.StressRuns.of([1, 1, 1, 2, 2, 2], [90, 110, 130, 30, 44, 50], True)
    >>> edges = fs.stress_margin_limits(runs, 0.10, 1.0, 50.0, relation="power", level=0.90)
    >>> round(edges.low, 2), round(edges.estimate, 2), round(edges.high, 2)
    (1.13, 1.46, 1.67)
    """
    like = stress_likelihood(runs, relation, p, stress, field)
    best = like.peak()
    if best.slope >= 0.0:
        raise FitError(
            "In these runs life does not fall with stress.",
            "A margin needs runs at stresses far enough apart to show the fall.",
        )
    at = math.log(required)
    m = (at - best.log_life) / best.slope

    def fall(margin: float) -> float:
        return best.value - like.peak(Held(log_life=at, margin=margin)).value

    low, high = _edges(fall, m, level, step=like.spread / 20.0, shift=shift)

    def ratio(d: float) -> float:
        if relation == "arrhenius":
            x = like.x0 + d  # at 0 and above, any temperature would do
            return -1.0 / (BOLTZMANN_EV * x) - stress if x < 0.0 else math.inf
        return math.exp(d) if relation == "power" else 1.0 + d / stress

    def edge(d: float | None) -> float | None:
        out = None if d is None else ratio(d)
        return out if out is not None and math.isfinite(out) else None

    return Edges(
        estimate=ratio(m),
        low=edge(low),
        high=edge(high),
    )


@gate(runs=RUNS, field=FIELD, relation=one_of(*RELATIONS), level=LEVEL)
def limits_ratio(
    runs: StressRuns, field: FieldLives, *, relation: str, level: float
) -> tuple[Edges, float, float]:
    """Field life over bench prediction with its limits, and the test that it is 1.

    Parameters
    ----------
    runs : StressRuns
        The bench.
    field : FieldLives
        Lives in service, with a scale of their own.
    relation, level
        As for `stress_life_limits`.

    Returns
    -------
    Edges
        The ratio; its estimate and upper edge are infinite or None when nothing failed.
    statistic, p_value : float
        Likelihood-ratio test of a ratio of 1, one degree of freedom. When nothing failed the
        ratio lies at its bound, and the p-value is half of the chi-square's (Self & Liang 1987).

    References
    ----------
    Self & Liang (1987), J. Am. Stat. Assoc. 82, 605-610, for a ratio at its bound.

    Examples
    --------
    >>> import fleetstats as fs
    >>> runs = fs.StressRuns.of([1, 1, 1, 2, 2, 2], [90, 110, 130, 30, 44, 50], True)
    >>> field = fs.FieldLives(
    ...     spells=fs.Spells.of(0, [900, 950, 400], [0, 0, 1]), stress=0.5, per_h=1.0
    ... )
    >>> edges, _, p = fs.stress_ratio_limits(runs, field, relation="power", level=0.90)
    >>> round(edges.low, 1), round(edges.high, 1), round(p, 3)
    (1.9, 7.9, 0.008)
    """
    from scipy.special import chdtrc

    like = stress_likelihood(runs, relation, 0.5, field.stress, field)
    best = like.peak(Held(log_ratio=None))
    statistic = max(0.0, 2.0 * (best.value - like.peak().value))
    none_failed = math.isinf(best.log_ratio)
    p_value = float(chdtrc(1, statistic)) * (0.5 if none_failed else 1.0)

    def fall(log_ratio: float) -> float:
        return best.value - like.peak(Held(log_ratio=log_ratio)).value

    if none_failed:
        low = _edge(fall, 20.0, PLAIN.drop(level, -1.0), -1.0, 1.0)
        edge = None if low is None else math.exp(low)
        return Edges(estimate=math.inf, low=edge, high=None), statistic, p_value
    low, high = _edges(fall, best.log_ratio, level)
    return (
        Edges(
            estimate=math.exp(best.log_ratio),
            low=None if low is None else math.exp(low),
            high=None if high is None else math.exp(high),
        ),
        statistic,
        p_value,
    )


Fall = Callable[[float], float]
"""Fall of the profile log-likelihood below its top."""


def _edges(
    fall: Fall, best: float, level: float, step: float = 0.25, shift: RootShift = PLAIN
) -> tuple[float | None, float | None]:
    down, up = (_edge(fall, best, shift.drop(level, s), s, step) for s in (-1.0, 1.0))
    return down, up


def _edge(fall: Fall, best: float, drop: float, sign: float, step: float) -> float | None:
    """Walk out until the profile has fallen by `drop`, then close in; None if it never does."""
    return walk_out(
        lambda x: fall(x) - drop, best, sign, step=step, farthest=FARTHEST, xtol=1e-6, rtol=1e-9
    )


@gate(runs=RUNS, relation=one_of(*RELATIONS))
def levels_agree(runs: StressRuns, *, relation: str) -> tuple[float, float, int, float, float, int]:
    """Test the law and the common shape against freer models.

    Parameters
    ----------
    runs : StressRuns
        The bench.
    relation : {"power", "exponential", "arrhenius"}
        The law that is tested.

    Returns
    -------
    law_statistic, law_p, law_df
        The law against a scale of its own for each stress, common shape.
    shape_statistic, shape_p, shape_df
        A common shape against a shape for each stress with two distinct failures or more; NaN and
        0 degrees where no two stresses have them.

    References
    ----------
    Likelihood-ratio tests: Nelson (1990), Accelerated Testing, chapter 9 (from memory).

    Examples
    --------
    >>> import fleetstats as fs
    >>> runs = fs.StressRuns.of([1, 1, 1, 2, 2, 2], [90, 110, 130, 30, 44, 50], True)
    >>> *_, statistic, p, freedom = fs.check_stress_law(runs, relation="power")
    >>> round(statistic, 3), round(p, 3), freedom
    (0.107, 0.744, 1)
    """
    from scipy.special import chdtrc

    like = stress_likelihood(runs, relation, 0.5, float(np.median(runs.stress)))
    law = like.peak().value
    broken = np.unique(runs.stress[runs.failed])
    free = _levels_value(runs, broken)
    df = len(broken) - 2
    law_stat = max(0.0, 2.0 * (free - law)) if df > 0 else math.nan
    able = [s for s in broken if len(np.unique(runs.life[(runs.stress == s) & runs.failed])) > 1]
    shape_stat, shape_df = math.nan, max(0, len(able) - 1)
    if shape_df:
        common = _levels_value(runs, np.array(able))
        own = sum(_levels_value(runs, np.array([s])) for s in able)
        shape_stat = max(0.0, 2.0 * (own - common))
    return (
        law_stat,
        float(chdtrc(df, law_stat)) if df > 0 else math.nan,
        max(0, df),
        shape_stat,
        float(chdtrc(shape_df, shape_stat)) if shape_df else math.nan,
        shape_df,
    )


def _levels_value(runs: StressRuns, stresses: Array) -> float:
    """Log-likelihood of one shape and a scale of its own for each of some stresses.

    Stresses without a failure add nothing at their best scale, so they stay out.
    """
    from scipy.optimize import minimize_scalar

    def minus(log_shape: float) -> float:
        k, out = math.exp(log_shape), 0.0
        for s in stresses:
            at = runs.stress == s
            log_t, d, w = np.log(runs.life[at]), runs.failed[at], runs.weight[at]
            r = float(w[d].sum())
            peak_t = float(log_t.max())
            log_a = math.log(float((w * np.exp(k * (log_t - peak_t))).sum())) + k * peak_t
            # The scale at its best: r = A / scale^k.
            out += r * (math.log(k) + math.log(r) - log_a - 1.0)
            out += float((w[d] * (k - 1.0) * log_t[d]).sum())
        return -out

    best = minimize_scalar(minus, bounds=(math.log(0.05), math.log(60.0)), method="bounded",
                           options={"xatol": 1e-9})  # fmt: skip
    return -float(best.fun)


def service_distance(runs: StressRuns, stress: float, relation: str) -> float:
    """How far service lies below the lowest tested stress, in widths of the tested range (in x).

    0 inside the range; infinite where only one stress was run.
    """
    low, high = (transform(float(s), relation) for s in (runs.levels[0], runs.levels[-1]))
    x = transform(stress, relation)
    outside = max(0.0, low - x, x - high)
    if outside == 0.0:
        return 0.0
    return outside / (high - low) if high > low else math.inf
