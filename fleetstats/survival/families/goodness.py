"""Does a fit follow the lives it was fitted to? Failures seen and expected, by age band.

The expected number in a band is the fitted cumulative hazard that the lives went through there. The
test allows for the parameters having been fitted to the same lives: with E the expected numbers, B
their derivatives in the parameters and I the information, seen minus expected has covariance
diag(E) - B inv(I) B' (Hjort 1990, *Goodness of fit tests in models for life history data based on
cumulative hazard rates*, Annals of Statistics 18, for intensities with delayed entry).
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.gate import gate
from fleetstats.core.units import text_hours, text_percent
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.survival.counting.product_limit import ends
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT
from fleetstats.vocabulary.limits import FEW_FOR_TWO

PER_BAND = 5.0
"""Expected failures in each band; the usual rule for chi-square tests (Cochran 1954). With 10 to 15
failures three bands of fewer are used, which simulation shows to be fair."""

MOST_SPREAD = 0.1
"""Share of failures whose interval reaches over a band's edge above which no test is made."""

MOST_BANDS = 8
DOUBT = 0.05


@value
class Goodness(Value):
    """Failures seen and expected in age bands of about equal expectation.

    Parameters
    ----------
    family : str
        What was fitted.
    low_h, high_h : (m,) float
        Edges of the bands.
    n_failed, n_expected : (m,) float
        Failures seen and expected in each.
    statistic, degrees : float or None
        Chi-square statistic and its degrees of freedom.
    p_value : float or None
        Chance of so bad a fit, or a worse one, if the family were right; None with too few
        failures.
    sentence : str
        What that means.
    """

    family: str
    low_h: Floats
    high_h: Floats
    n_failed: Floats
    n_expected: Floats
    statistic: float | None
    degrees: float | None
    p_value: float | None
    sentence: str

    def __repr__(self) -> str:
        return self.sentence


def expected_failures(fit: Fit, parameters: Array, edges: Array) -> Array:
    """Return (m,) expected failures: the cumulative hazard gone through between (m + 1,) ages."""
    s = fit.spells

    def gone_through(ages: Array) -> Array:
        """Return the sum of w H(min(age, edge)) for each edge, by one sort."""
        order = np.argsort(ages, kind="stable")
        a, w = ages[order], s.weight[order]
        place = np.searchsorted(a, edges, side="right")
        reached = np.concatenate([[0.0], np.cumsum(w * hazard(a, parameters))])[place]
        beyond = w.sum() - np.concatenate([[0.0], np.cumsum(w)])[place]
        return np.asarray(reached + beyond * hazard(edges, parameters))

    hazard = fit.distribution.cumulative_hazard
    return np.diff(gone_through(ends(s)) - gone_through(s.entry))


def expected_slopes(fit: Fit, edges: Array) -> Array:
    """Return (m, k) derivatives of the expected numbers, by central differences."""
    steps = 1e-4 * np.sqrt(np.diag(fit.covariance))
    columns = []
    for i, h in enumerate(steps):
        up, down = fit.estimate.copy(), fit.estimate.copy()
        up[i] += h
        down[i] -= h
        columns.append(
            (expected_failures(fit, up, edges) - expected_failures(fit, down, edges)) / (2 * h)
        )
    return np.column_stack(columns)


def _edges(fit: Fit, n_bands: int) -> Array:
    """Return edges that part the expected failures about equally, at observed ends of life."""
    s = fit.spells
    ages = np.unique(np.concatenate([[0.0], ends(s)]))
    grid = np.unique(np.interp(np.linspace(0, len(ages) - 1, 400), np.arange(len(ages)), ages))
    total = np.concatenate([[0.0], np.cumsum(expected_failures(fit, fit.estimate, grid))])
    cuts = np.interp(np.linspace(0, total[-1], n_bands + 1)[1:-1], total, grid)
    return np.unique(np.concatenate([[0.0], cuts, [s.oldest_h]]))


def is_vague(fit: Fit, edges: Array) -> bool:
    """Return whether checks leave open on which side of an edge too many of the failures lie."""
    s = fit.spells
    low_band = np.searchsorted(edges, s.exit_lower, side="right")
    over = s.failed & s.interval_known & (low_band != np.searchsorted(edges, s.exit_upper))
    return float(s.weight[over].sum()) > MOST_SPREAD * fit.n_failed


@gate(fit=FIT)
def check_goodness(fit: Fit) -> Goodness:
    """Compare failures seen and expected by age band, and test whether the family is contradicted.

    Parameters
    ----------
    fit : Fit
        Of any family; with its lives. A failure only known to lie in an interval is counted at its
        middle.

    Returns
    -------
    Goodness
        Without a test when fewer than 10 failed, or when the checks leave open in which band
        many of the failures lie: then nothing can be said against any family.

    References
    ----------
    Hjort (1990), Annals of Statistics 18, 1221-1258.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 2100, 50), [0, 0, 0, 1] * 10)
    >>> print(fs.check_goodness(fs.fit_weibull(lives)))
    The failures in each age band agree with the Weibull (so large a difference or a ...
    """
    s = fit.spells
    title = fit.distribution.title
    n_bands = int(min(MOST_BANDS, max(len(fit.estimate) + 1, fit.n_failed // PER_BAND)))
    edges = _edges(fit, n_bands)
    end, dead = ends(s), s.failed
    seen = np.histogram(end[dead], bins=edges, weights=s.weight[dead])[0]
    expected = expected_failures(fit, fit.estimate, edges)
    statistic = degrees = p_value = None
    vague = is_vague(fit, edges)
    if fit.n_failed >= FEW_FOR_TWO and not vague:
        slopes = expected_slopes(fit, edges)
        spread = np.diag(expected) - slopes @ fit.covariance @ slopes.T
        roots, axes = np.linalg.eigh(spread)
        kept = roots > 1e-6 * roots.max()
        score = axes[:, kept].T @ (seen - expected)
        statistic = float((score**2 / roots[kept]).sum())
        degrees = float(kept.sum())
        p_value = _upper_chi_square(statistic, degrees)
    return Goodness(
        family=fit.family,
        low_h=edges[:-1],
        high_h=edges[1:],
        n_failed=seen,
        n_expected=expected,
        statistic=statistic,
        degrees=degrees,
        p_value=p_value,
        sentence=_vague(title)
        if vague
        else _sentence(title, fit.n_failed, edges, seen - expected, expected, p_value),
    )


def _upper_chi_square(statistic: float, degrees: float) -> float:
    from scipy.special import gammaincc

    return float(gammaincc(0.5 * degrees, 0.5 * statistic))


def _vague(title: str) -> str:
    return (
        f"The checks leave open at which ages many failures happened, so whether the {title} "
        "follows the lives is not tested; compare it with the interval estimate by eye."
    )


def _chance(p: float) -> str:
    return text_percent(p) if p >= 1e-4 else "less than 0.01 %"


def _sentence(
    title: str, n_failed: float, edges: Array, excess: Array, expected: Array, p: float | None
) -> str:
    if p is None:
        return (
            f"With {n_failed:g} {'failure' if n_failed == 1 else 'failures'} no test can tell "
            f"whether the {title} follows the lives."
        )
    if p > DOUBT:
        return (
            f"The failures in each age band agree with the {title} (so large a difference or a "
            f"larger one would come by chance in {_chance(p)} of fleets). This does not show "
            "that the family is right, nor that it holds beyond the ages seen."
        )
    worst = int(np.argmax(np.abs(excess) / np.sqrt(expected)))
    more = "more" if excess[worst] > 0 else "fewer"
    return (
        f"The {title} does not follow the lives: {more} failures than it expects between "
        f"{text_hours(edges[worst])} and {text_hours(edges[worst + 1])} (by chance so in "
        f"{_chance(p)} of fleets). Look for mixed builds, mixed causes or another family."
    )
