"""Points for the probability plot, corrected for censoring and delayed entry; median ranks."""

from __future__ import annotations

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.gate import gate, one_of
from fleetstats.core.units import text_hours
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.counting.product_limit import estimate_product_limit
from fleetstats.survival.counting.turnbull import estimate_turnbull
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import LIVES


@value
class PlotPoints(Value):
    """Points on Weibull paper: log hours against log(-log R).

    Parameters
    ----------
    hours : (m,) float
        Ages at failure.
    failure_probability : (m,) float
        Plotting position of each.
    log_hours, log_minus_log : (m,) float
        Coordinates in which a Weibull is a straight line of slope shape.
    start_h : float
        Probabilities are of lives that reach this age; 0 from new.
    note : str
        How the positions were found.
    """

    hours: Floats
    failure_probability: Floats
    log_hours: Floats
    log_minus_log: Floats
    start_h: float
    note: str

    def beside(self, fit: Fit) -> PlotPoints:
        """Return the points as they belong beside a fit's line.

        Points from late lives are of those that reach `start_h`; the share that the fit loses
        before that age is added, since the points themselves say nothing of it.
        """
        if self.start_h <= 0.0:
            return self
        reached = float(fit.reliability(self.start_h))
        p = 1.0 - reached * (1.0 - self.failure_probability)
        return PlotPoints(
            hours=self.hours,
            failure_probability=p,
            log_hours=self.log_hours,
            log_minus_log=np.log(-np.log1p(-p)),
            start_h=0.0,
            note=f"{self.note}; the share lost before {text_hours(self.start_h)} is the fit's",
        )

    def __repr__(self) -> str:
        return f"Plot points: {len(self.hours)} ages; {self.note}"


def _steps(spells: Spells) -> tuple[Array, Array, float, str]:
    """Return ages, reliability after each, where the curve starts, and how it was found."""
    why = ""
    if spells.interval_known.any():
        try:
            steps = estimate_turnbull(spells)
        except FitError as error:
            why = f"; failures found at checks at mid-interval, since {error.message}"
        else:
            note = "steps of the interval estimate, each at the check that found it"
            return steps.high_h, steps.reliability, steps.start_h, note
    curve = estimate_product_limit(spells)
    note = f"steps of the product limit, at half height{why}"
    return curve.hours, curve.reliability, curve.start_h, note


@gate(spells=LIVES)
def estimate_plot_points(spells: Spells) -> PlotPoints:
    """Return a point for each failure age, midway down the step of the estimated curve.

    Parameters
    ----------
    spells : Spells
        With interval-known failures the interval estimate gives the steps, each placed at the
        upper end of its interval; otherwise (and where that cannot be had, as the note then says)
        the product limit does, started where five were at risk. Both allow for delayed entry.

    Returns
    -------
    PlotPoints
        Empty when nothing failed.

    References
    ----------
    Lawless (2003), section 3.3; Meeker, Escobar & Pascual (2021), section 6.4.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> print(fs.estimate_plot_points(lives))
    Plot points: 6 ages; steps of the product limit, at half height
    """
    hours, after, start, note = _steps(spells)
    before = np.concatenate([[1.0], after])[: len(after)]
    p = 1.0 - 0.5 * (before + after)
    shown = (p > 0.0) & (p < 1.0)
    return PlotPoints(
        hours=hours[shown],
        failure_probability=p[shown],
        log_hours=np.log(hours[shown]),
        log_minus_log=np.log(-np.log1p(-p[shown])),
        start_h=start,
        note=note,
    )


@value
class MedianRanks(Value):
    """Adjusted ranks of failures and their median ranks.

    Parameters
    ----------
    hours, rank, failure_probability : (r,) float
        One row per failure, rising.
    n : int
        Lives in all.
    method : str
        ``"exact"`` or ``"benard"``.
    """

    hours: Floats
    rank: Floats
    failure_probability: Floats
    n: int
    method: str

    def __repr__(self) -> str:
        return f"Median ranks ({self.method}) of {len(self.hours)} failures among {self.n} lives"


@gate(spells=LIVES, method=one_of("exact", "benard"))
def estimate_median_ranks(spells: Spells, *, method: str = "exact") -> MedianRanks:
    """Rank failures among running lives and give each its median rank.

    Parameters
    ----------
    spells : Spells
        Exact and right-censored lives followed from new; weights whole numbers.
    method : str
        ``"exact"``: the median of the beta distribution (i, n - i + 1); ``"benard"``: its
        approximation (i - 0.3) / (n + 0.4) (Benard & Bos-Levenbach 1953).

    Returns
    -------
    MedianRanks
        One row for each failure, by rising age.

    Raises
    ------
    FitError
        With delayed entry, interval-known failures or broken weights, for which no ranks exist.

    References
    ----------
    Johnson (1951, 1964): the adjusted rank grows by (n + 1 - rank before) / (1 + lives from here
    on). A failure goes before a running life of the same age.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> ranks = fs.estimate_median_ranks(lives)
    >>> print(ranks)
    Median ranks (exact) of 6 failures among 12 lives
    """
    if method not in ("exact", "benard"):
        raise FitError(f"No median rank is called '{method}'.", "Use exact or benard.")
    reason = _no_ranks(spells)
    if reason:
        raise FitError(f"Median ranks do not exist {reason}.", "Use the product limit instead.")
    count = np.rint(spells.weight).astype(int)
    hours = np.repeat(spells.exit_upper, count)
    failed = np.repeat(spells.failed, count)
    order = np.lexsort((~failed, hours))
    hours, failed = hours[order], failed[order]
    n, at = len(hours), np.flatnonzero(failed)
    rank = np.empty(len(at))
    last = 0.0
    for i, place in enumerate(at):
        last += (n + 1 - last) / (1 + n - place)
        rank[i] = last
    if method == "exact":
        from scipy.special import betaincinv

        p = betaincinv(rank, n + 1 - rank, 0.5)
    else:
        p = (rank - 0.3) / (n + 0.4)
    return MedianRanks(hours=hours[at], rank=rank, failure_probability=p, n=n, method=method)


def _no_ranks(spells: Spells) -> str:
    if (spells.entry > 0.0).any():
        return "with delayed entry"
    if spells.interval_known.any():
        return "when failures are only known to lie between checks"
    if not np.array_equal(spells.weight, np.rint(spells.weight)):
        return "for lives counted in fractions"
    return ""


@value
class RankLine(Value):
    """A line through the median ranks: a comparison only, never the basis of advice.

    `direction` is ``"hours-on-rank"`` (log hours regressed on log(-log R)) or ``"rank-on-hours"``.
    """

    shape: float
    scale_h: float
    r_squared: float
    method: str
    direction: str

    def __repr__(self) -> str:
        return (
            f"Line through median ranks ({self.method}, {self.direction}): shape {self.shape:.3f}, "
            f"scale {self.scale_h:,.0f} h, r squared {self.r_squared:.3f}"
        )


@gate(
    spells=LIVES,
    method=one_of("exact", "benard"),
    direction=one_of("hours-on-rank", "rank-on-hours"),
)
def estimate_rank_line(
    spells: Spells, *, method: str = "exact", direction: str = "hours-on-rank"
) -> RankLine:
    """Draw the least-squares line through the median ranks, as older practice did.

    Kept to compare with past reports: it weighs early failures badly and uses running lives only
    through the ranks (Genschel & Meeker 2010 compare it with maximum likelihood).

    Parameters
    ----------
    spells : Spells
        As for `estimate_median_ranks`.
    method : str
        ``"exact"`` or ``"benard"``, as there.
    direction : str
        ``"hours-on-rank"``, log hours regressed on log(-log R), or ``"rank-on-hours"``.

    Returns
    -------
    RankLine
        Shape, scale in hours and how straight the points lie.

    Raises
    ------
    FitError
        As `estimate_median_ranks`; also with fewer than two distinct failure ages.

    References
    ----------
    Genschel & Meeker (2010), Quality Engineering 22, 236-255.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> print(fs.estimate_rank_line(lives))
    Line through median ranks (exact, hours-on-rank): shape 2.097, scale 1,167 h, r squared 0.985
    """
    if direction not in ("hours-on-rank", "rank-on-hours"):
        raise FitError(
            f"No direction is called '{direction}'.", "Use hours-on-rank or rank-on-hours."
        )
    ranks = estimate_median_ranks(spells, method=method)
    if len(np.unique(ranks.hours)) < 2:
        raise FitError(
            "A line through median ranks needs failures at two ages.",
            "Use bounds for assumed shapes.",
        )
    x = np.log(ranks.hours)
    y = np.log(-np.log1p(-ranks.failure_probability))
    dx, dy = x - x.mean(), y - y.mean()
    shape = float(dy @ dy / (dx @ dy) if direction == "hours-on-rank" else dx @ dy / (dx @ dx))
    log_scale = float(x.mean() - y.mean() / shape)
    return RankLine(
        shape=shape,
        scale_h=float(np.exp(log_scale)),
        r_squared=float((dx @ dy) ** 2 / ((dx @ dx) * (dy @ dy))),
        method=method,
        direction=direction,
    )
