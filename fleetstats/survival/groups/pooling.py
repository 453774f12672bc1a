"""May two groups be pooled? The ratio of their lives against a margin that the study declares.

"No significant difference" never permits pooling. Only a band that lies wholly inside the margin
does; one wholly outside forbids it; any other cannot tell, and then the question is what could.

Where several groups are compared at once, the two calls need different care. One group called
"outside" is enough to forbid pooling, so that with ten groups chance has ten tries: the chance of
error is shared among them (Bonferroni), and a group is outside only by the band at the level that
leaves each its share. All groups must be "inside" to permit pooling, so that chance has one try,
at the group that differs most: each is held to the margin at the study's own level, and the chance
that all pass wrongly is at most that of one (Berger 1982, intersection-union tests).
"""

from __future__ import annotations

import math

import numpy as np

from fleetstats.core.errors import FitError, NoMaximum
from fleetstats.core.gate import LEVEL, POSITIVE, POSITIVES_ANY, TEXTS, counted, gate
from fleetstats.core.units import text_decided
from fleetstats.core.value import Value, value
from fleetstats.spells import Spells
from fleetstats.survival.groups.to_tell import Needed, say_needed
from fleetstats.survival.lives import LIVES
from fleetstats.survival.regression.accelerated import Problem, Solution, solve_accelerated
from fleetstats.survival.regression.regression import profile_coefficient
from fleetstats.survival.weibull.fit_weibull import fit_weibull
from fleetstats.vocabulary.limits import FEW_FOR_SHAPE

VERDICTS = {
    "inside": "alike within the margin",
    "outside": "different by more than the margin",
    "cannot-tell": "cannot tell",
}

Limits = tuple[float | None, float | None, float | None]
"""A ratio and its two limits; None where there is none."""


@value
class ScaleRatio(Value):
    """Life of one group over that of another, with one shape for both.

    Parameters
    ----------
    name, against : str
    n_failed, n_failed_against, exposure_h, exposure_against_h : float
        Evidence on both sides.
    ratio, low, high : float or None
        None where the records give no value or limit.
    level : float
        Two-sided; both edges of a 0.90 band are one-sided 95 % bounds, so "inside" is two
        one-sided tests at 5 %.
    method : str
        ``"profile"``, ``"exact-over-shapes"``, or ``"profile-and-shapes"``: the wider of both.
    margin : (float, float)
    verdict : str
        A key of `VERDICTS`.
    shape : float or None
    needed : Needed or None
        Only when the verdict is ``"cannot-tell"``.
    sentence : str
    comparisons : int
        Groups compared at once.
    apart_level : float
        Two-sided level of the band that has to lie outside the margin for ``"outside"``: its edges
        share the error of those of `level` among the comparisons.
    apart_low, apart_high : float or None
        That band's limits, where that of `level` lies outside the margin; else not needed.
    """

    name: str
    against: str
    n_failed: float
    n_failed_against: float
    exposure_h: float
    exposure_against_h: float
    ratio: float | None
    low: float | None
    high: float | None
    level: float
    method: str
    margin: tuple[float, float]
    verdict: str
    shape: float | None
    needed: Needed | None
    sentence: str
    comparisons: int = 1
    apart_level: float = 0.90
    apart_low: float | None = None
    apart_high: float | None = None

    def __repr__(self) -> str:
        return self.sentence


@gate(
    group=LIVES,
    against=LIVES,
    names=TEXTS,
    margin=POSITIVES_ANY,
    level=LEVEL,
    shapes=POSITIVES_ANY,
    public_rate_per_h=POSITIVE.or_none,
    comparisons=counted(1),
)
def compare_scales(
    group: Spells,
    against: Spells,
    *,
    names: tuple[str, str],
    margin: tuple[float, float] = (0.8, 1.25),
    level: float = 0.90,
    shapes: tuple[float, ...] = (1.0, 2.0, 3.0, 4.0),
    public_rate_per_h: float | None = None,
    comparisons: int = 1,
) -> ScaleRatio:
    """Return the ratio of lives of two groups, its band, and the verdict against the margin.

    Parameters
    ----------
    group : Spells
        Lives whose ratio is asked for.
    against : Spells
        Lives they are compared with.
    names : (str, str)
        Of the two groups.
    margin : (float, float)
        Ratios between which the study holds groups to be alike; below and above 1.
    level : float
        Two-sided confidence.
    shapes : tuple of float
        Assumed shapes where either group has too few failures to show its own.
    public_rate_per_h : float, optional
        A public failure rate, for the hours needed when no failures were seen.
    comparisons : int
        Groups that are compared at once, this one among them.

    Returns
    -------
    ScaleRatio
        Ratio with limits, and whether it lies inside or outside the margin or cannot be told.

    Raises
    ------
    FitError
        If the margin does not hold 1, or a group is empty.

    Notes
    -----
    Given the shape, failures fall on the first group with odds ``lam A(shape)`` of each group, so
    with few failures the ratio has exact binomial limits; the widest over the shapes is taken. One
    group's shape is no evidence of the other's: where one has few failures and the other many, the
    band is the hull of the profile's, at their common shape, and of those limits.

    References
    ----------
    .. [1] Schuirmann, D. J. (1987). J. Pharmacokinet. Biopharm. 15, 657-680 (two one-sided tests).
    .. [2] Clopper, C. J. and Pearson, E. S. (1934). Biometrika 26, 404-413.
    .. [3] Berger, R. L. (1982). Technometrics 24, 295-300 (all tests must pass: no correction).
    .. [4] Bonferroni's inequality: with m tests at error a / m, any errs with chance a at most.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> more = fs.Spells.of(0, range(300, 1500, 100), [0, 1] * 6)
    >>> told = fs.compare_scales(lives, more, names=("north", "south"))
    >>> print(told.sentence)
    Life of north over south: 0.91 (0.64 to 1.29), against the margin 0.8 to 1.25: cannot ...
    """
    if not 0.0 < margin[0] < 1.0 < margin[1]:
        raise FitError(
            f"The margin {margin[0]:g} to {margin[1]:g} does not hold 1.",
            "Give a range of life ratios such as 0.8 to 1.25.",
        )
    if not len(group) or not len(against):
        raise FitError("A group without lives cannot be compared.", "Both need lives.")
    (ratio, low, high), method, shape = _band(group, against, shapes, level)
    alone = verdict = _verdict(low, high, margin)
    apart_level = share_of_error(level, comparisons)
    apart: tuple[float | None, float | None] = (None, None)
    if alone == "outside":
        apart = (
            _band(group, against, shapes, apart_level)[0][1:] if comparisons > 1 else (low, high)
        )
        verdict = _verdict(*apart, margin)
    needed = None
    if verdict == "cannot-tell":
        needed = say_needed(group, against, margin, level, shape, shapes, public_rate_per_h)
    return ScaleRatio(
        name=names[0],
        against=names[1],
        n_failed=group.n_failed,
        n_failed_against=against.n_failed,
        exposure_h=group.exposure_h,
        exposure_against_h=against.exposure_h,
        ratio=ratio,
        low=low,
        high=high,
        level=level,
        method=method,
        margin=margin,
        verdict=verdict,
        shape=shape,
        needed=needed,
        sentence=_sentence(names, (ratio, low, high), margin, verdict, needed)
        + (_for_chance(apart, apart_level, margin, comparisons) if alone == "outside" else ""),
        comparisons=comparisons,
        apart_level=apart_level,
        apart_low=apart[0],
        apart_high=apart[1],
    )


def share_of_error(level: float, comparisons: int) -> float:
    """Return the two-sided level whose edges err with their share of those of `level`.

    >>> round(share_of_error(0.90, 5), 4)
    0.98
    """
    return 1.0 - (1.0 - level) / comparisons


def _band(
    group: Spells, against: Spells, shapes: tuple[float, ...], level: float
) -> tuple[Limits, str, float | None]:
    """Return the ratio with its limits, by which method, and the common shape where it is known."""
    r, s = group.n_failed, against.n_failed
    over_shapes = _exact_over_shapes(group, against, shapes, level)
    if r + s < FEW_FOR_SHAPE:
        return over_shapes, "exact-over-shapes", None
    try:
        *limits, shape = _by_profile(group, against, level)
    except NoMaximum:
        return over_shapes, "exact-over-shapes", None
    band: Limits = (limits[0], limits[1], limits[2])
    if min(r, s) >= FEW_FOR_SHAPE:
        return band, "profile", shape
    return _hull(band, over_shapes), "profile-and-shapes", shape


def _hull(band: Limits, other: Limits) -> Limits:
    """Return the estimate of the second and the wider limits of both; None is no limit."""
    lows, highs = (band[1], other[1]), (band[2], other[2])
    return (
        other[0],
        None if None in lows else min(x for x in lows if x is not None),
        None if None in highs else max(x for x in highs if x is not None),
    )


def _by_profile(
    group: Spells, against: Spells, level: float
) -> tuple[float | None, float | None, float | None, float]:
    joined = group.join(against)
    problem = Problem.of(joined)
    x = np.concatenate([np.ones(len(group)), np.zeros(len(against))])
    design = np.column_stack([np.ones(len(x)), x])
    if group.n_failed > 0 and against.n_failed > 0:
        best = solve_accelerated(problem, design)
        low, high = profile_coefficient(problem, design, best, 1, level)
        return (
            float(np.exp(best.coef[1])),
            None if low is None else float(np.exp(low)),
            None if high is None else float(np.exp(high)),
            best.shape,
        )
    # One side without failures: its scale runs away, and the likelihood tends to that of the
    # other side alone. Only one limit exists.
    sign = 1.0 if group.n_failed == 0 else -1.0
    alone = against if group.n_failed == 0 else group
    peak = fit_weibull(alone)
    limit = _one_sided(problem, x, peak.log_likelihood, sign, level)
    edge = None if limit is None else float(np.exp(limit))
    return (None, edge, None, peak.shape) if sign > 0 else (None, None, edge, peak.shape)


def _one_sided(
    problem: Problem, x: np.ndarray, peak: float, sign: float, level: float
) -> float | None:
    """Root of the profile on the side where it falls; the other side only climbs."""
    from scipy import optimize, special

    drop = 0.5 * float(special.ndtri(0.5 + 0.5 * level)) ** 2
    ones = np.ones((len(x), 1))

    def gap(b: float) -> float:
        fit: Solution = solve_accelerated(problem, ones, offset=x * b)
        return peak - fit.log_likelihood - drop

    near = 0.0
    if gap(near) < 0.0:
        far = -sign * 0.5
        while gap(far) < 0.0:
            far *= 1.6
            if abs(far) > 15.0:
                return None
    else:
        far, near = near, sign * 0.5
        while gap(near) > 0.0:
            near *= 1.6
            if abs(near) > 15.0:
                return None
    return float(optimize.brentq(gap, far, near, xtol=1e-9))


def _exact_over_shapes(
    group: Spells, against: Spells, shapes: tuple[float, ...], level: float
) -> tuple[float | None, float | None, float | None]:
    from scipy import special

    tail = 0.5 * (1.0 - level)
    r, s = round(group.n_failed), round(against.n_failed)
    if r + s == 0:
        return None, None, None
    lows, highs, mids = [], [], []
    for shape in shapes:
        odds = _power(against, shape) / _power(group, shape)
        # Share of failures in `group`: exact binomial limits of rate ratio -> ratio of scales.
        p_low = 0.0 if r == 0 else float(special.betaincinv(r, s + 1, tail))
        p_high = 1.0 if s == 0 else float(special.betaincinv(r + 1, s, 1.0 - tail))
        highs.append(
            math.inf if p_low == 0 else math.exp(-math.log(p_low / (1 - p_low) * odds) / shape)
        )
        lows.append(
            0.0 if p_high == 1 else math.exp(-math.log(p_high / (1 - p_high) * odds) / shape)
        )
        if r and s:
            mids.append(math.exp(-math.log(r / s * odds) / shape))
    low, high = min(lows), max(highs)
    mid = float(np.exp(np.mean(np.log(mids)))) if mids else None
    return mid, low if low > 0 else None, high if math.isfinite(high) else None


def _power(spells: Spells, shape: float) -> float:
    unit = max(spells.oldest_h, 1e-300)
    end = 0.5 * (spells.exit_lower + spells.exit_upper) / unit
    start = spells.entry / unit
    return float((spells.weight * (end**shape - start**shape)).sum()) * float(unit**shape)


def _verdict(low: float | None, high: float | None, margin: tuple[float, float]) -> str:
    if low is not None and high is not None and low >= margin[0] and high <= margin[1]:
        return "inside"
    if (low is not None and low > margin[1]) or (high is not None and high < margin[0]):
        return "outside"
    return "cannot-tell"


def _told(x: float, margin: tuple[float, float]) -> str:
    """Write a ratio so that its side of the margin shows."""
    return text_decided(x, *margin, unit="", digits=2 if x < 1 else 3)


def _edges(low: float | None, high: float | None, margin: tuple[float, float]) -> str:
    """Say the limits of a ratio."""
    if low is None and high is None:
        return "no limit on either side"
    below = "no lower limit" if low is None else _told(low, margin)
    return f"{below} to {'no upper limit' if high is None else _told(high, margin)}"


def _sentence(
    names: tuple[str, str],
    limits: Limits,
    margin: tuple[float, float],
    verdict: str,
    needed: Needed | None,
) -> str:
    ratio, low, high = limits
    edge = _edges(low, high, margin)
    value = edge if ratio is None else f"{_told(ratio, margin)} ({edge})"
    out = (
        f"Life of {names[0]} over {names[1]}: {value}, against the margin "
        f"{margin[0]:g} to {margin[1]:g}: {VERDICTS[verdict]}."
    )
    return out if needed is None else f"{out} {needed.sentence}"


def _for_chance(
    apart: tuple[float | None, float | None],
    level: float,
    margin: tuple[float, float],
    comparisons: int,
) -> str:
    """Say, of one of several groups, which band it has to lie outside the margin by."""
    if comparisons < 2:
        return ""
    return (
        f" Of {comparisons} groups one may stand out by chance; the {100 * level:.3g} % band that "
        f"allows for that is {_edges(*apart, margin)}."
    )
