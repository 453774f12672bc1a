"""What a level does to life where failures are too few to tell a shape: exactly, at each shape.

With a known shape b a life is Poisson in its power of hours ``t^b - entry^b``, whatever its scale.
Of the failures that fell in a level and its reference within one stratum, those of the level are
binomial with chance ``ratio E1 / (ratio E1 + E0)``, whatever the stratum's own rate; their sum over
strata is sufficient for a common ratio of hazards. Tails of that sum, a convolution of binomials,
give exact limits (Cox 1970, Analysis of Binary Data, section 5; Clopper & Pearson 1934; from
memory). A ratio of hazards r is a life factor ``r^(-1/b)``.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.gate import HOURS_EACH, LEVEL, POSITIVE, PROBABILITY, TEXT, TEXTS, gate
from fleetstats.core.value import Array, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.counting.exposure import poisson_limits
from fleetstats.survival.lives import LIVES
from fleetstats.survival.regression.held_law import AgeAt, Edged

FARTHEST_LOG = 80.0
"""Log ratio past which a limit is taken for none."""


@value
class ShapeEffect(Value):
    """What a level does against its reference, at one shape that is taken as known.

    Parameters
    ----------
    name : str
        As a column of the design, ``"use: towing v school"``.
    shape : float
    failures, failures_reference : float
        Of the level and the reference, in all.
    ratio, ratio_low, ratio_high : float or None
        Ratio of hazards with exact limits; None where there is none.
    factor, low, high : float or None
        The same as a life factor.
    level : float
        Two-sided confidence; a single limit is one-sided at ``(1 + level) / 2``.
    strata, strata_telling : int
        Strata with hours of either, and those with a failure and hours of both, which alone tell.
    """

    name: str
    shape: float
    failures: float
    failures_reference: float
    ratio: float | None
    ratio_low: float | None
    ratio_high: float | None
    factor: float | None
    low: float | None
    high: float | None
    level: float
    strata: int
    strata_telling: int


@value
class ShapeLife(Value):
    """Hours by which a share `p` has failed, and reliability at ages, at one known shape.

    From the lives at some values alone: with no failure among them life and reliability have only
    lower limits, and the hazard only an upper one.
    """

    shape: float
    p: float
    failures: float
    life_h: float | None
    low_h: float | None
    high_h: float | None
    ages: tuple[AgeAt, ...] = ()


def power_hours(spells: Spells, shape: float, unit_h: float) -> Array:
    """Return (n,) weighted ``t^shape - entry^shape`` in powers of `unit_h`.

    A failure known to lie in an interval counts in its middle.
    """
    end = 0.5 * (spells.exit_lower + spells.exit_upper) / unit_h
    return np.asarray(spells.weight * (end**shape - (spells.entry / unit_h) ** shape))


@gate(
    spells=LIVES,
    labels=TEXTS,
    strata=TEXTS,
    name=TEXT,
    level_word=TEXT,
    reference=TEXT,
    shape=POSITIVE,
    level=LEVEL,
)
def compare_level(
    spells: Spells,
    labels: ArrayLike,
    strata: ArrayLike,
    *,
    name: str,
    level_word: str,
    reference: str,
    shape: float,
    level: float = 0.90,
) -> ShapeEffect:
    """Compare one level with its reference at a known shape, within strata, exactly.

    Parameters
    ----------
    spells : Spells
        n lives, each counting once (whole weights).
    labels, strata : (n,) str
        Level and stratum of each.
    name : str
        How the effect is called.
    level_word, reference : str
        The two levels; lives of others take no part.
    shape : float
        Taken as known.
    level : float
        Two-sided confidence.

    Returns
    -------
    ShapeEffect
        Ratio of hazards and factor of life with exact limits; None where there is none.

    Raises
    ------
    ArgumentError
        If the shape is not positive, or the confidence not between 0 and 1.

    References
    ----------
    Cox (1970), Analysis of Binary Data, section 5 (from memory). Clopper & Pearson (1934),
    Biometrika 26, 404-413.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> effect = fs.compare_at_shape(
    ...     lives,
    ...     ["club"] * 6 + ["school"] * 6,
    ...     [""] * 12,
    ...     name="use",
    ...     level_word="school",
    ...     reference="club",
    ...     shape=2.0,
    ... )
    >>> round(effect.factor, 2), round(effect.low, 2), round(effect.high, 2)
    (2.21, 0.94, 5.2)
    """
    labels, strata = np.asarray(labels, dtype=str), np.asarray(strata, dtype=str)
    unit = max(spells.oldest_h, 1.0)
    hours = power_hours(spells, shape, unit)
    failed = np.where(spells.failed, spells.weight, 0.0)
    tables = []
    seen = 0
    for stratum in sorted(set(strata.tolist())):
        a, b = ((strata == stratum) & (labels == w) for w in (level_word, reference))
        seen += bool(a.any() or b.any())
        one = (failed[a].sum(), failed[b].sum(), hours[a].sum(), hours[b].sum())
        if one[0] + one[1] > 0 and min(one[2:]) > 0:
            tables.append(tuple(float(v) for v in one))
    ratio, low, high = _exact_ratio(tables, level)
    return ShapeEffect(
        name=name,
        shape=shape,
        failures=float(failed[labels == level_word].sum()),
        failures_reference=float(failed[labels == reference].sum()),
        ratio=ratio,
        ratio_low=low,
        ratio_high=high,
        factor=_life(ratio, shape),
        low=_life(high, shape),
        high=_life(low, shape),
        level=level,
        strata=seen,
        strata_telling=len(tables),
    )


def _life(ratio: float | None, shape: float) -> float | None:
    return None if ratio is None else ratio ** (-1.0 / shape)


def _exact_ratio(
    tables: list[tuple[float, ...]], level: float
) -> tuple[float | None, float | None, float | None]:
    """Return the ratio of hazards, and its exact limits, from failures and power hours."""
    from scipy import optimize

    total = round(sum(t[0] + t[1] for t in tables))
    mine = round(sum(t[0] for t in tables))
    if not total:
        return None, None, None
    tail = 0.5 * (1.0 - level)

    def chances(log_ratio: float) -> Array:
        out = np.ones(1)
        for d, d0, e, e0 in tables:
            share = 1.0 / (1.0 + math.exp(-log_ratio) * e0 / e)
            out = np.convolve(out, _binomial(round(d + d0), share))
        return out

    def mean(log_ratio: float) -> float:
        return sum(
            (d + d0) / (1.0 + math.exp(-log_ratio) * e0 / e) for d, d0, e, e0 in tables
        ) - float(mine)

    def at_least(log_ratio: float) -> float:
        return float(chances(log_ratio)[mine:].sum()) - tail

    def at_most(log_ratio: float) -> float:
        return float(chances(log_ratio)[: mine + 1].sum()) - tail

    def solve(f: object) -> float:
        return math.exp(float(optimize.brentq(f, -FARTHEST_LOG, FARTHEST_LOG, xtol=1e-12)))

    inside = 0 < mine < total
    return (
        solve(mean) if inside else None,
        solve(at_least) if mine > 0 else None,
        solve(at_most) if mine < total else None,
    )


def _binomial(n: int, share: float) -> Array:
    from scipy.special import gammaln

    k = np.arange(n + 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1)
        logs = logs + np.where(k > 0, k * np.log(share), 0.0)
        logs = logs + np.where(k < n, (n - k) * np.log1p(-share), 0.0)
    return np.asarray(np.exp(logs))


@gate(spells=LIVES, p=PROBABILITY, shape=POSITIVE, level=LEVEL, ages_h=HOURS_EACH)
def life_at_shape(
    spells: Spells, p: float, *, shape: float, level: float, ages_h: tuple[float, ...] = ()
) -> ShapeLife:
    """Return life, reliability and hazard of some lives at a known shape, with exact limits.

    Parameters
    ----------
    spells : Spells
        The lives at the values asked for, and no other.
    p : float
        Share failed, in (0, 1).
    shape : float
        Taken as known.
    level : float
        Two-sided; each edge is one-sided at ``(1 + level) / 2``.
    ages_h : tuple of float
        Ages at which reliability and hazard are given.

    Returns
    -------
    ShapeLife
        Life, and reliability and hazard at each age, with exact limits.

    Notes
    -----
    Failures are Poisson with mean ``rate E``; limits of the rate are Garwood's (1936). Without a
    failure the upper limit of the rate alone exists, and so the lower limit of the life alone.

    References
    ----------
    Garwood (1936), Biometrika 28, 437-442.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> told = fs.life_at_shape(lives, 0.10, shape=2.0, level=0.90)
    >>> round(told.low_h), round(told.life_h), round(told.high_h)
    (270, 379, 574)
    """
    unit = max(spells.oldest_h, 1.0)
    hours = float(power_hours(spells, shape, unit).sum())
    r = spells.n_failed
    low, high = (float(np.ravel(x)[0]) for x in poisson_limits(np.array([r]), level=level))
    need = -math.log1p(-p) * hours

    def life(count: float) -> float | None:
        return unit * (need / count) ** (1.0 / shape) if count > 0 else None

    def age(t: float) -> AgeAt:
        power = (t / unit) ** shape / hours
        gone = [x * power if x > 0 else None for x in (r, low, high)]
        now = [None if h is None else h * shape / t for h in gone]
        kept = [None if h is None else math.exp(-h) for h in gone]
        return AgeAt(
            hours=t,
            reliability=Edged(estimate=kept[0], low=kept[2], high=kept[1]),
            hazard_per_h=Edged(estimate=now[0], low=now[1], high=now[2]),
            extrapolated=t > spells.oldest_h,
        )

    return ShapeLife(
        shape=shape,
        p=p,
        failures=r,
        life_h=life(r),
        low_h=life(high),
        high_h=life(low),
        ages=tuple(age(t) for t in ages_h),
    )
