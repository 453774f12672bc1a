"""Competing endings: the share of lives that ends in each way by each age, and the outer band.

Aalen & Johansen (1978) with delayed entry. Two standard errors: the delta method of Marubini &
Valsecchi (1995, section 10.2) and the infinitesimal jackknife (Efron 1981), which takes each life's
own influence.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.arguments import choice, texts_of
from fleetstats.core.errors import FitError
from fleetstats.core.gate import HOURS_ANY, TEXT, TEXTS, gate, one_of
from fleetstats.core.value import Array, Floats, Matrix, Value, value
from fleetstats.spells import Event, Spells
from fleetstats.spells.column_checks import each_is_one, weight_reaching
from fleetstats.survival.counting.ones import tally_ones
from fleetstats.survival.counting.product_limit import ends, estimate_product_limit, read_steps
from fleetstats.survival.lives import LIVES
from fleetstats.vocabulary.fold import fold

MOST_INFLUENCES = 200_000_000
"""Lives times ages above which the jackknife is left out; its arrays would be too many."""

KINDS = {
    Event.FAILED: "failed",
    Event.COMPETING: "failed from another cause",
    Event.FINDING: "removed on a finding",
}


@value
class Incidence(Value):
    """Cumulative incidence of each ending.

    Parameters
    ----------
    labels : tuple of str
        k endings.
    hours : (m,) float
        Distinct ages at which any of them happened.
    incidence, std_error_delta, std_error_jackknife : (k, m) float
        Share of lives ended so by each age, with its two standard errors; the jackknife is NaN for
        very large fleets.
    n_ended : (k, m) float
        Endings at each age.
    at_risk : (m,) float
        Weighted lives at risk.
    reliability : (m,) float
        Share of lives without any of the endings.
    oldest_h : float
        Greatest age seen.
    """

    labels: tuple[str, ...]
    hours: Floats
    incidence: Matrix
    std_error_delta: Matrix
    std_error_jackknife: Matrix
    n_ended: Matrix
    at_risk: Floats
    reliability: Floats
    oldest_h: float

    def _row(self, label: str) -> int:
        return self.labels.index(choice(label, "label", self.labels))

    @gate(label=TEXT, hours=HOURS_ANY)
    def at(self, label: str, hours: ArrayLike) -> Array:
        """Return the incidence of one ending at each of `hours`; NaN past the oldest age."""
        column = self.incidence[self._row(label)]
        return read_steps(self.hours, column, 0.0, hours, 0.0, self.oldest_h)

    @gate(label=TEXT, hours=HOURS_ANY, method=one_of("delta", "jackknife"))
    def std_error_at(self, label: str, hours: ArrayLike, *, method: str = "delta") -> Array:
        """Return a standard error at each of `hours`; `method` is ``delta`` or ``jackknife``."""
        table = {"delta": self.std_error_delta, "jackknife": self.std_error_jackknife}
        column = table[method][self._row(label)]
        return read_steps(self.hours, column, 0.0, hours, 0.0, self.oldest_h)

    def __repr__(self) -> str:
        last = ", ".join(
            f"{name} {row[-1]:.3f}" for name, row in zip(self.labels, self.incidence, strict=True)
        )
        return f"Incidence at {self.oldest_h:,.0f} h: {last if len(self.hours) else 'nothing seen'}"


@gate(spells=LIVES, endings=TEXTS.or_none)
def estimate_incidence(spells: Spells, endings: ArrayLike | None = None) -> Incidence:
    """Estimate the cumulative incidence of each ending, with delayed entry.

    Parameters
    ----------
    spells : Spells
        The lives; an interval-known failure counts at its middle.
    endings : (n,) str or None
        The ending of each life, empty where it was censored; None tells apart the failure in
        question, failures from another cause and removals on a finding.

    Returns
    -------
    Incidence
        A row for each ending, over the ages at which any of them happened.

    Raises
    ------
    FitError
        If there are no lives.

    References
    ----------
    Aalen & Johansen (1978), Scand. J. Statist. 5, 141-150; standard errors by Marubini & Valsecchi
    (1995), section 10.2, and Efron (1981), Biometrika 68, 589-599.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> curve = fs.estimate_incidence(lives)
    >>> print(curve)
    Incidence at 1,300 h: failed 1.000
    >>> round(float(curve.at("failed", 800)), 3)
    0.307
    """
    if len(spells) == 0:
        raise FitError("There are no lives to count.", "Add records.")
    labels, kind = _kinds(spells.event) if endings is None else _told(endings, len(spells))
    lives = _Merged(spells.entry, ends(spells), kind, spells.weight)
    hours, n_ended, at_risk = lives.tally(len(labels))
    k, m = len(labels), len(hours)
    d = n_ended.sum(axis=0)
    left = np.maximum(at_risk - d, 0.0)
    left[left < 1e-9 * at_risk] = 0.0
    reliability = np.cumprod(left / at_risk)
    before = np.concatenate([[1.0], reliability[:-1]])[:m]
    incidence = np.cumsum(before * n_ended / at_risk, axis=1)
    delta = _delta(incidence, before, n_ended, at_risk, left)
    if len(lives.end) * m <= MOST_INFLUENCES:
        jackknife = _jackknife(lives, hours, before, n_ended, at_risk)
    else:
        jackknife = np.full((k, m), np.nan)
    return Incidence(
        labels=labels,
        hours=hours,
        incidence=incidence,
        std_error_delta=delta,
        std_error_jackknife=jackknife,
        n_ended=n_ended,
        at_risk=at_risk,
        reliability=reliability,
        oldest_h=spells.oldest_h,
    )


@dataclass(frozen=True, slots=True)
class _Merged:
    """Distinct lives: entry, end, number of the ending (-1 censored), weight."""

    entry: Array
    end: Array
    kind: Array
    weight: Array

    def tally(self, k: int) -> tuple[Array, Array, Array]:
        """Return the ages of endings (m,), endings of each of `k` kinds (k, m), lives at risk."""
        ended = self.kind >= 0
        if each_is_one(self.weight):
            return self._tally_ones(ended, k)
        hours = np.unique(self.end[ended])
        n_ended = np.zeros((k, len(hours)))
        place = np.searchsorted(hours, self.end[ended])
        np.add.at(n_ended, (self.kind[ended], place), self.weight[ended])
        w = self.weight
        there = weight_reaching(self.end, w, hours) - weight_reaching(self.entry, w, hours)
        return hours, n_ended, there

    def _tally_ones(self, ended: Array, k: int) -> tuple[Array, Array, Array]:
        hours, rest, at_risk = tally_ones(self.entry, self.end, ended, 0.0)
        n_ended = np.zeros((k, len(hours)))
        for j in range(k - 1):
            place = np.searchsorted(hours, np.sort(self.end[self.kind == j]))
            n_ended[j] = np.bincount(place, minlength=len(hours))
            rest = rest - n_ended[j]
        if k:
            n_ended[-1] = rest
        return hours, n_ended, at_risk


def _kinds(event: Array) -> tuple[tuple[str, ...], Array]:
    """Return the names of what ended lives, and the place of each life's (n,); -1 where none."""
    there = {name: e for e, name in KINDS.items() if (event == e).any()}
    labels = _in_order(there)
    place = np.full(len(Event), -1, dtype=np.int8)
    for j, name in enumerate(labels):
        place[there[name]] = j
    return labels, place[event]


def _told(endings: ArrayLike, n: int) -> tuple[tuple[str, ...], Array]:
    """Return the same of endings (n,) told in words."""
    how = texts_of(endings, "endings", n=n)
    labels = _in_order(str(x) for x in np.unique(how[how != ""]))
    kind = np.full(n, -1)
    for j, label in enumerate(labels):
        kind[how == label] = j
    return labels, kind


def _in_order(labels: Iterable[str]) -> tuple[str, ...]:
    # by folded words, so that the order does not hang on how one is spelt
    return tuple(sorted(labels, key=fold))


def _delta(incidence: Array, before: Array, ended: Array, n: Array, left: Array) -> Array:
    d = ended.sum(axis=0)
    # Where nobody is left the curves are flat afterwards, so that term is 0.
    g = np.where(left > 0.0, d / np.where(left > 0.0, n * left, 1.0), 0.0)
    g0 = np.cumsum(g)
    out = np.empty_like(incidence)
    for j, total in enumerate(incidence):
        g1, g2 = np.cumsum(g * total), np.cumsum(g * total * total)
        e = ended[j]
        own = np.cumsum(before**2 * (n - e) * e / n**3)
        c = before * e / n**2
        c0, c1 = np.cumsum(c), np.cumsum(c * total)
        variance = total**2 * g0 - 2 * total * g1 + g2 + own - 2 * (total * c0 - c1)
        out[j] = np.sqrt(np.maximum(variance, 0.0))
    return out


def _jackknife(lives: _Merged, hours: Array, before: Array, ended: Array, n: Array) -> Array:
    """Return the root of the weighted sum of squared derivatives in each life's weight."""
    k, m = ended.shape
    d = ended.sum(axis=0)
    out = np.empty((k, m))
    log_before = np.zeros(len(lives.end))
    change = np.zeros((k, len(lives.end)))
    for u in range(m):
        at_risk = (lives.entry < hours[u]) & (hours[u] <= lives.end)
        ends_here = at_risk & (lives.end == hours[u]) & (lives.kind >= 0)
        for j in range(k):
            mine = ends_here & (lives.kind == j)
            rate = ended[j, u] / n[u]
            change[j] += before[u] * (log_before * rate + (mine - rate * at_risk) / n[u])
            out[j, u] = np.sqrt(float(lives.weight @ (change[j] * change[j])))
        left = n[u] - d[u]
        if left > 1e-9 * n[u]:
            log_before += (d[u] / n[u] * at_risk - ends_here) / left
    return out


@value
class OuterBand(Value):
    """Reliability when removals on a finding count all, none, or as fair censoring.

    Parameters
    ----------
    hours : (m,) float
        Ages at which something ended.
    reliability : (m,) float
        Product limit with those removals as censorings.
    low : (m,) float
        Each would have failed at once.
    high : (m,) float
        None would ever have failed.
    n_failed, n_findings : float
        How many of each.
    oldest_h : float
        Greatest age seen.
    """

    hours: Floats
    reliability: Floats
    low: Floats
    high: Floats
    n_failed: float
    n_findings: float
    oldest_h: float

    @gate(hours=HOURS_ANY)
    def at(self, hours: ArrayLike) -> Array:
        """Return reliability at each of `hours`; NaN past the oldest age."""
        return read_steps(self.hours, self.reliability, 1.0, hours, 0.0, self.oldest_h)

    @gate(hours=HOURS_ANY)
    def limits_at(self, hours: ArrayLike) -> tuple[Array, Array]:
        """Return the outer limits at each of `hours`; NaN past the oldest age."""
        low, high = (
            read_steps(self.hours, column, 1.0, hours, 0.0, self.oldest_h)
            for column in (self.low, self.high)
        )
        return low, high

    def __repr__(self) -> str:
        if not len(self.hours):
            return f"Outer band: nothing failed or was removed to {self.oldest_h:,.0f} h"
        return (
            f"Outer band at {self.oldest_h:,.0f} h: reliability {self.low[-1]:.3f} to "
            f"{self.high[-1]:.3f}, {self.n_failed:g} failed, {self.n_findings:g} removed on a "
            "finding"
        )


@gate(spells=LIVES)
def estimate_outer_band(spells: Spells) -> OuterBand:
    """Bound reliability without assuming anything of removals on a finding (Peterson 1976).

    I_failed(t) <= F(t) <= I_failed(t) + I_removed(t), with I the cumulative incidence; failures
    from another cause and other endings censor fairly in all three.

    Parameters
    ----------
    spells : Spells
        Lives, some of which may have been removed on a finding.

    Returns
    -------
    OuterBand
        Edges and, between them, the product limit that takes those removals as fair censoring.

    References
    ----------
    Peterson (1976), Proc. Natl Acad. Sci. 73, 11-13.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(200, 1400, 100), [0, 1] * 6)
    >>> print(fs.estimate_outer_band(lives))
    Outer band at 1,300 h: reliability 0.000 to 0.000, 6 failed, 0 removed on a finding
    """
    how = np.array(["", "failed", "", "removed"])[spells.event.astype(int)]
    table = estimate_incidence(spells, how)
    by = dict(zip(table.labels, table.incidence, strict=True))
    none = np.zeros(len(table.hours))
    failed, removed = by.get("failed", none), by.get("removed", none)
    middle = estimate_product_limit(spells, least_at_risk=1).at(table.hours)
    return OuterBand(
        hours=table.hours,
        reliability=middle,
        low=np.maximum(1.0 - failed - removed, 0.0),
        high=1.0 - failed,
        n_failed=spells.n_failed,
        n_findings=float(spells.weight[spells.event == Event.FINDING].sum()),
        oldest_h=spells.oldest_h,
    )
