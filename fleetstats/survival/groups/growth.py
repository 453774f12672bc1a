"""Reliability growth: do later build standards fail less, age for age?

A newer build is a younger fleet, and with wear-out a younger fleet fails less whatever its build.
So each build's failures stand beside those that its own hours, age by age, would have brought if
all builds were the same.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.gate import LEVEL, POSITIVES_ANY, TEXTS, gate
from fleetstats.core.units import text_decided
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.lives import LIVES
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE, FEWEST_EVENTS


@value
class BuildLine(Value):
    """One build standard, in calendar order.

    `rate_per_1000_h` with exact Poisson limits ignores age; `ratio` is failures seen over
    `expected` from the pooled age pattern, with exact Poisson limits; below 1 is better than the
    fleet. Where the build, or all others, have too few failures to show a shape, the limits are the
    widest over the assumed shapes besides. `high` and `rate_high` always exist.
    """

    build: str
    n: int
    n_failed: float
    exposure_h: float
    rate_per_1000_h: float
    rate_low: float
    rate_high: float
    expected: float
    ratio: float
    low: float
    high: float


@value
class Growth(Value):
    """Failures by build standard in calendar order.

    Parameters
    ----------
    lines : tuple of BuildLine
    factor, low, high : float or None
        By what the failure rate, age for age, is multiplied from one build to the next; profile
        limits at `level`. None with too few failures or no limit. Where all builds but one have too
        few failures to show a shape, the limits are the widest over the assumed shapes besides.
    p_value : float or None
        Likelihood-ratio test that the factor is 1.
    direction : str
        ``"growth"``, ``"decline"``, ``"not-shown"`` or ``"too-few"``.
    basis : str
        ``"age for age"``, or ``"per hour"`` when no pooled fit exists.
    power_shape : float or None
        Shape of a power law over cumulative fleet hours in build order (grouped data); below 1 is
        growth, but it knows nothing of age.
    factor_over_shapes : (float, float) or None
        Least and greatest factor over the assumed shapes, where those are used.
    sentence : str
    """

    _lines: ClassVar[str] = "lines"

    lines: tuple[BuildLine, ...]
    factor: float | None
    low: float | None
    high: float | None
    p_value: float | None
    direction: str
    basis: str
    power_shape: float | None
    level: float
    sentence: str
    factor_over_shapes: tuple[float, float] | None = None

    def __repr__(self) -> str:
        return self.sentence


@gate(spells=LIVES, order=TEXTS, level=LEVEL, shapes=POSITIVES_ANY)
def estimate_growth(
    spells: Spells,
    order: tuple[str, ...],
    *,
    level: float = 0.90,
    shapes: tuple[float, ...] = (1.0, 2.0, 3.0, 4.0),
) -> Growth:
    """Compare build standards in calendar order, age for age.

    Parameters
    ----------
    spells : Spells
        Lives; those of builds not in `order` are left out.
    order : tuple of str
        Builds, first to last.
    level : float
        Two-sided confidence.
    shapes : tuple of float
        Assumed where a build, or what it is compared with, has too few failures to show its own.

    Returns
    -------
    Growth
        A line for each build, and the factor from one build to the next with its limits.

    Raises
    ------
    FitError
        With fewer than two of the builds among the lives.

    References
    ----------
    .. [1] Breslow, N. E. and Day, N. E. (1987). Statistical Methods in Cancer Research, vol. 2,
       chapter 2 (indirect standardisation, exact Poisson limits).
    .. [2] MIL-HDBK-189 (1981), appendix C (power law, grouped data).

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(
    ...     0, range(200, 1400, 100), [0, 1] * 6, build=["first"] * 6 + ["second"] * 6
    ... )
    >>> print(fs.estimate_growth(lives, ("first", "second")))
    From one build standard to the next the failure rate, age for age, is multiplied by ...
    """
    present = tuple(b for b in order if bool((spells.build == b).any()))
    if len(present) < 2:
        raise FitError(
            f"Only {len(present)} of the builds in order have lives.",
            "Growth needs two build standards or more.",
        )
    lives = spells.select(np.isin(spells.build, present))
    basis = "age for age"
    end = 0.5 * (lives.exit_lower + lives.exit_upper)
    try:
        fit = fit_weibull(lives)
        hazard = fit.cumulative_hazard(end) - fit.cumulative_hazard(lives.entry)
    except FitError:
        basis = "per hour"
        hazard = (end - lives.entry) * lives.n_failed / lives.exposure_h
    others = [_hazard_at(lives, b) for b in shapes] if basis == "age for age" else []
    lines = tuple(_line(lives, hazard, build, level, others) for build in present)
    seen = np.array([x.n_failed for x in lines])
    expected = np.array([x.expected for x in lines])
    factor = low = high = p_value = over_shapes = None
    direction = "too-few"
    if lives.n_failed >= FEWEST_EVENTS:
        told = rate_factor(seen, expected, level=level)
        if others and seen.sum() - seen.max() < FEW_FOR_SHAPE:
            masks = [lives.build == b for b in present]
            at_shapes = [[float(lives.weight[m] @ h[m]) for m in masks] for h in others]
            told, over_shapes = _over_shapes(told, seen, at_shapes, level)
        factor, low, high, p_value = told
        direction = "not-shown"
        if high is not None and high < 1.0:
            direction = "growth"
        elif low is not None and low > 1.0:
            direction = "decline"
    ends = np.cumsum([x.exposure_h for x in lines])
    shape = None
    if lives.n_failed >= FEWEST_EVENTS and (seen[:-1] > 0).any():
        shape = grouped_power_shape(ends, seen)
    return Growth(
        lines=lines,
        factor=factor,
        low=low,
        high=high,
        p_value=p_value,
        direction=direction,
        basis=basis,
        power_shape=shape,
        level=level,
        sentence=_sentence(
            lines, (factor, factor) if over_shapes is None else over_shapes, low, high, direction,
            basis, level,
        ),
        factor_over_shapes=over_shapes,
    )  # fmt: skip


Factor = tuple[float | None, float | None, float | None, float]


def _over_shapes(
    told: Factor, seen: Array, at_shapes: list[list[float]], level: float
) -> tuple[Factor, tuple[float, float] | None]:
    """Return the factor with the widest limits over assumed shapes, and its range over them."""
    each = [told, *(rate_factor(seen, e, level=level) for e in at_shapes)]
    estimates = [x[0] for x in each if x[0] is not None]
    widest = (told[0], _least(x[1] for x in each), _most(x[2] for x in each),
              max(x[3] for x in each))  # fmt: skip
    return widest, (min(estimates), max(estimates)) if estimates else None


def _hazard_at(lives: Spells, shape: float) -> Array:
    """Return (n,) failures expected of each life if all share one scale at a known shape."""
    unit = max(lives.oldest_h, 1e-300)
    end = 0.5 * (lives.exit_lower + lives.exit_upper) / unit
    power = end**shape - (lives.entry / unit) ** shape
    return np.asarray(power * lives.n_failed / float(lives.weight @ power))


def _least(edges: Iterable[float | None]) -> float | None:
    """Return the lowest of several lower limits; None if one of them has none."""
    known = list(edges)
    return None if None in known else min(e for e in known if e is not None)


def _most(edges: Iterable[float | None]) -> float | None:
    known = list(edges)
    return None if None in known else max(e for e in known if e is not None)


def poisson_limits(count: float, level: float) -> tuple[float, float]:
    """Return exact two-sided limits of a Poisson mean (Garwood 1936)."""
    from scipy import special

    tail = 0.5 * (1.0 - level)
    low = 0.0 if count == 0 else float(special.gammaincinv(count, tail))
    return low, float(special.gammainccinv(count + 1.0, tail))


def _line(
    lives: Spells, hazard: Array, build: str, level: float, others: Sequence[Array]
) -> BuildLine:
    mine = lives.build == build
    part = lives.select(mine)
    expected = float(lives.weight[mine] @ hazard[mine])
    few = min(part.n_failed, lives.n_failed - part.n_failed) < FEW_FOR_SHAPE
    all_expected = [expected, *(float(lives.weight[mine] @ h[mine]) for h in others if few)]
    low, high = poisson_limits(part.n_failed, level)
    k_h = part.exposure_h / 1000.0
    return BuildLine(
        build=build,
        n=round(float(part.weight.sum())),
        n_failed=part.n_failed,
        exposure_h=part.exposure_h,
        rate_per_1000_h=part.n_failed / k_h,
        rate_low=low / k_h,
        rate_high=high / k_h,
        expected=expected,
        ratio=part.n_failed / expected if expected > 0 else math.nan,
        low=low / max(all_expected) if expected > 0 else math.nan,
        high=high / min(all_expected) if expected > 0 else math.nan,
    )


def rate_factor(
    seen: ArrayLike, expected: ArrayLike, *, level: float
) -> tuple[float | None, float | None, float | None, float]:
    """Return the factor per step in ``seen_i ~ Poisson(a f**i expected_i)``, limits and p-value.

    Given the total, the counts are multinomial, which leaves one unknown; limits are where twice
    the drop of that log-likelihood reaches the chi-square quantile. None where it never does.
    """
    from scipy import optimize, special

    n, e = np.asarray(seen, dtype=float), np.asarray(expected, dtype=float)
    step = np.arange(len(n), dtype=float)

    def log_l(b: float) -> float:
        w = np.log(e) + b * step
        return float(n @ w - n.sum() * special.logsumexp(w))

    if n[:-1].sum() == 0 or n[1:].sum() == 0:
        # All failures in the first or last build: the likelihood climbs for ever.
        far = 60.0 if n[:-1].sum() == 0 else -60.0
        peak_at, peak, estimate = far, log_l(far), None
    else:
        found = optimize.minimize_scalar(lambda b: -log_l(b), bracket=(-0.5, 0.5), tol=1e-10)
        peak_at, peak = float(found.x), -float(found.fun)
        estimate = math.exp(peak_at)
    drop = 0.5 * float(special.ndtri(0.5 + 0.5 * level)) ** 2
    edges: list[float | None] = []
    for side in (-1.0, 1.0):
        at, reach = peak_at, 0.25
        while abs(at) < 59.0 or side * peak_at < 0:
            at = peak_at + side * reach
            if peak - log_l(at) > drop or reach > 120.0:
                break
            reach *= 1.6
        if peak - log_l(at) > drop:
            root = optimize.brentq(lambda b: peak - log_l(b) - drop, peak_at, at, xtol=1e-10)
            edges.append(math.exp(float(root)))
        else:
            edges.append(None)
    p = float(special.chdtrc(1, max(0.0, 2.0 * (peak - log_l(0.0)))))
    return estimate, edges[0], edges[1], p


def grouped_power_shape(end: ArrayLike, count: ArrayLike) -> float:
    """Return the shape of a power law from events counted between cumulative hours.

    Parameters
    ----------
    end : (k,) float
        Rising cumulative hours at the end of each group, the first group from 0.
    count : (k,) float
        Events in each.

    Raises
    ------
    FitError
        If all events lie in the last group, when the shape has no upper limit.
    """
    from scipy import optimize

    t, n = np.asarray(end, dtype=float), np.asarray(count, dtype=float)
    if not (n[:-1] > 0).any():
        raise FitError(
            "All events lie in the last group.", "The shape of a power law has no upper limit then."
        )
    u = t / t[-1]
    before = np.concatenate([[0.0], u[:-1]])

    def minus(x: float) -> float:
        b = math.exp(x)
        with np.errstate(divide="ignore"):
            return -float(n @ np.log(u**b - before**b))

    found = optimize.minimize_scalar(
        minus, bounds=(-6.0, 4.0), method="bounded", options={"xatol": 1e-10}
    )
    return math.exp(float(found.x))


def _few(n: float) -> str:
    if n == 0:
        return "No failures"
    return f"Only {n:g} failure{'' if n == 1 else 's'}"


def _sentence(
    lines: tuple[BuildLine, ...],
    factor: tuple[float | None, float | None],
    low: float | None,
    high: float | None,
    direction: str,
    basis: str,
    level: float,
) -> str:
    n = sum(x.n_failed for x in lines)
    if direction == "too-few":
        return (
            f"{_few(n)} over {len(lines)} build standards; at least {FEWEST_EVENTS} are "
            "needed before growth or decline can be spoken of."
        )
    value = "cannot be compared: all failures lie at one end"
    if factor[0] is not None and factor[1] is not None:
        least, most = (text_decided(f, 1.0, unit="", digits=2) for f in factor)
        by = least if least == most else f"{least} to {most}, by the shape that is assumed"
        value = f"is multiplied by {by}"
    band = (
        f"{'no limit' if low is None else text_decided(low, 1.0, unit='', digits=2)} to "
        f"{'no limit' if high is None else text_decided(high, 1.0, unit='', digits=2)} at "
        f"{100 * level:g} %"
    )
    words = {
        "growth": "later builds fail less often",
        "decline": "later builds fail more often",
        "not-shown": "neither growth nor decline is shown",
    }[direction]
    return (
        f"From one build standard to the next the failure rate, {basis}, {value} ({band}): {words}."
    )
