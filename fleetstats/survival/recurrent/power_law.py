"""The power-law process: do recurrent events come faster or slower as engines age?

The mean number of events per system is ``M(t) = lam * t**shape``. A shape below 1 means that events
thin out with hours (growth), above 1 that they crowd (deterioration). It is no life fit: the
shape says nothing of the life of a part, only of the pace of a repaired engine's events.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.gate import HOURS_ANY, LEVEL, SEED, gate, one_of
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.histories import Histories
from fleetstats.survival.lives import HISTORIES
from fleetstats.survival.recurrent.power_limits import (
    cramer_von_mises,
    exact_mtbf,
    exact_shape,
    simulated_p,
)
from fleetstats.survival.recurrent.power_scale import limit_scale


@value
class PowerLaw(Value):
    """A power-law process fitted to one or several systems.

    Parameters
    ----------
    shape, lam : float
        Maximum likelihood; `lam`, the scale, in events per system and ``h**-shape``.
    lam_low, lam_high : float or None
        Profile-likelihood limits of `lam`, the shape at its best for each; None where there is
        none. A high `lam` goes with a low shape: never a curve made of both.
    shape_low, shape_high : float
        Two-sided limits at `level`; exact if `exact`, else from the profile likelihood.
    shape_within : float or None
        Maximum likelihood where each system may have its own pace: the shape that the exact limits
        belong to, and `shape` itself for systems that share one end. None unless `exact`. If
        `shape` lies outside the limits, systems differ in pace and one law for all does not hold.
    shape_unbiased : float or None
        ``(m - 1) / m`` of the shape (one less when ended at a failure); None below two events.
    lam_modified, mtbf_modified_h : float or None
        ``n / T**shape_unbiased`` per system and the mean hours between events at the end that go
        with the unbiased shape; only for systems that share one end.
    log_likelihood : float
    n_systems, n_events : int
    terminated : str
        ``"time"`` when hours ended the watch, ``"failure"`` when its last event did.
    end_h : float
        Greatest hours watched.
    intensity_at_end, mtbf_at_end_h : float
        Events per hour of one system at `end_h`, and its inverse.
    mtbf_low_h, mtbf_high_h : float or None
        Exact limits of the latter (conservative when ended by hours); None where there are none:
        several systems with different ends, late entry or gaps.
    cramer_von_mises, fit_p_value : float or None
        Goodness of fit and its p-value, by simulation; None below three events or without an
        exact case.
    exact : bool
        Every system was watched from 0 without gaps.
    """

    shape: float
    shape_low: float
    shape_high: float
    shape_within: float | None
    shape_unbiased: float | None
    lam: float
    lam_low: float | None
    lam_high: float | None
    lam_modified: float | None
    mtbf_modified_h: float | None
    log_likelihood: float
    n_systems: int
    n_events: int
    terminated: str
    end_h: float
    intensity_at_end: float
    mtbf_at_end_h: float
    mtbf_low_h: float | None
    mtbf_high_h: float | None
    cramer_von_mises: float | None
    fit_p_value: float | None
    level: float
    exact: bool

    @gate(hours=HOURS_ANY)
    def mean(self, hours: ArrayLike) -> Array:
        """Return the expected events per system up to each of `hours`."""
        return np.asarray(self.lam * np.asarray(hours, dtype=float) ** self.shape)

    @property
    def paces_differ(self) -> bool:
        """Return whether the shape of one law for all lies outside the exact limits."""
        return self.exact and not self.shape_low <= self.shape <= self.shape_high

    def __repr__(self) -> str:
        return (
            f"Power law: shape {self.shape:.3f} ({self.shape_low:.3f} to {self.shape_high:.3f}, "
            f"{100 * self.level:g} %, {'exact' if self.exact else 'profile'}), "
            f"{self.n_events} events on {self.n_systems} systems; at {self.end_h:,.0f} h one event "
            f"per {self.mtbf_at_end_h:,.1f} h of a system"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """Hours watched and events, per stretch, ready for the formulas."""

    start: Array
    end: Array
    event: Array
    event_start: Array  # of the stretch that holds each event
    event_end: Array
    n_systems: int
    from_zero: bool


def watched(histories: Histories, terminated: str) -> Watched:
    """Return the stretches with adjoining ones joined; ended at the last event where asked.

    Raises
    ------
    FitError
        If `terminated` is unknown, or a history said to end at a failure has gaps or no event.
    """
    if terminated not in ("time", "failure"):
        raise FitError(f"A history cannot be terminated by '{terminated}'.", "Use time or failure.")
    if not len(histories.unit):
        raise FitError("No engine was watched.", "Recurrent events need hours under observation.")
    names, unit = np.unique(histories.unit, return_inverse=True)
    order = np.lexsort((histories.start_h, unit))
    u, a, b = unit[order], histories.start_h[order], histories.end_h[order]
    joined = np.concatenate([[False], (u[1:] == u[:-1]) & (a[1:] == b[:-1])])
    last = np.concatenate([~joined[1:], [True]])
    u, a, b = u[~joined], a[~joined], b[last]
    eu = np.searchsorted(names, histories.event_unit)
    t = histories.event_h
    if terminated == "failure":
        if len(u) != len(names) or (a > 0).any() or len(np.unique(eu)) != len(names):
            raise FitError(
                "A history that ended at a failure must run from 0 h without gaps to that failure.",
                "Give one stretch from 0 per system, each with at least one event, or use 'time'.",
            )
        b = np.full(len(names), -np.inf)
        np.maximum.at(b, eu, t)
    holder = _holders(u, a, eu, t)
    return Watched(
        start=a,
        end=b,
        event=t,
        event_start=a[holder],
        event_end=b[holder],
        n_systems=len(names),
        from_zero=bool(len(u) == len(names) and (a == 0).all()),
    )


def _holders(unit: Array, start: Array, event_unit: Array, event: Array) -> Array:
    """Return (m,) the place of the stretch that holds each event.

    The stretches are in the order of their units and starts; an event is in the last one of its
    unit that starts before it.
    """
    n = len(unit)
    # an event at the start of a stretch is in the one before: it stands ahead of that start
    stands = np.repeat([1, 0], [n, len(event)])
    order = np.lexsort((stands, np.concatenate([start, event]), np.concatenate([unit, event_unit])))
    begun = np.empty(len(order), dtype=np.int64)
    begun[order] = np.cumsum(stands[order])
    return begun[n:] - 1


@gate(histories=HISTORIES, level=LEVEL, terminated=one_of("time", "failure"), seed=SEED)
def fit_power_law(
    histories: Histories, *, level: float = 0.90, terminated: str = "time", seed: int = 0
) -> PowerLaw:
    """Fit a power-law process by maximum likelihood, with exact limits where they exist.

    Parameters
    ----------
    histories : Histories
        Late entry and gaps are allowed; limits then come from the profile likelihood.
    level : float
        Two-sided confidence.
    terminated : {"time", "failure"}
        What ended the watch. ``"failure"`` ends each system at its own last event, whatever the
        stretch says.
    seed : int
        Of the simulated p-value of the goodness of fit.

    Returns
    -------
    PowerLaw
        Shape, pace and mean hours between events at the end, with limits where they exist.

    Raises
    ------
    FitError
        With no usable event: the shape cannot be estimated.

    Notes
    -----
    Given its number of events, a system watched over (0, T] has
    ``2 shape sum log(T/t) ~ chi-square(2m)``, so the limits of the shape are exact whatever the
    ends; ``m`` leaves out the event that ended a watch. For one common end the mean hours between
    events at that end have exact limits too: ended by hours, the number of events given
    ``sum log(T/t)`` depends on the intensity alone (a modified Bessel law); ended by a failure,
    the ratio of estimate and truth is a product of two gamma variables.

    References
    ----------
    .. [1] Crow, L. H. (1974). Reliability analysis for complex, repairable systems. In: Reliability
       and Biometry, SIAM, 379-410.
    .. [2] Crow, L. H. (1982). Confidence interval procedures for the Weibull process with
       applications to reliability growth. Technometrics 24, 67-72.
    .. [3] MIL-HDBK-189 (1981), appendix C; IEC 61710.

    Examples
    --------
    >>> import fleetstats as fs
    >>> seen = fs.Histories.of(
    ...     list("abc"), 0, [900, 800, 950], list("aabbcc"), [100, 700, 300, 500, 90, 640]
    ... )
    >>> print(fs.fit_power_law(seen))
    Power law: shape 0.898 (0.393 to 1.581, 90 %, exact), 6 events on 3 systems; at 950 h ...
    """
    w = watched(histories, terminated)
    # An event at the very end of a watch ended it, whatever the history says of itself.
    used = w.event < w.event_end
    n, m, top = len(w.event), int(used.sum()), float(w.end.max())
    if m == 0:
        what = "All events lie at the very end of the watch" if n else "No event was seen"
        raise FitError(
            f"{what}; the pace of events cannot be estimated.",
            "Watch on past the events, or give the rate with its exact limits.",
        )
    s = float(np.log(w.event_end[used] / w.event[used]).sum())
    shape, lam = _maximum(w, top)
    common = w.from_zero and bool(np.ptp(w.end) == 0.0)
    by_hours = common and m == n  # an event at the very end makes the end no longer given
    if w.from_zero:
        low, high = exact_shape(s, m, level)
    else:
        low, high = _profile_shape(w, top, shape, level)
    within = (m if terminated == "time" else n) / s if w.from_zero else None
    unbiased = (m - 1) / s if w.from_zero and m >= 2 else None
    lam_mod = mtbf_mod = None
    if unbiased is not None and common:
        lam_mod = n / w.n_systems / top**unbiased
        mtbf_mod = top * w.n_systems / (n * unbiased) if unbiased > 0 else None
    intensity = lam * shape * top ** (shape - 1.0)
    mtbf_low, mtbf_high = exact_mtbf(s, n, top, w.n_systems, level, terminated, by_hours)
    cvm = p_value = None
    if unbiased is not None and m >= 3:
        ratio = np.sort(w.event[used] / w.event_end[used])
        cvm = float(cramer_von_mises(ratio[None, :])[0])
        p_value = simulated_p(cvm, m, seed)
    scale = limit_scale(w.event, w.start, w.end, shape=shape, lam=lam, level=level)
    return PowerLaw(
        shape=shape,
        shape_low=low,
        shape_high=high,
        shape_within=within,
        shape_unbiased=unbiased,
        lam=lam,
        lam_low=scale[0],
        lam_high=scale[1],
        lam_modified=lam_mod,
        mtbf_modified_h=mtbf_mod,
        log_likelihood=_log_likelihood(w, shape, lam),
        n_systems=w.n_systems,
        n_events=n,
        terminated=terminated,
        end_h=top,
        intensity_at_end=intensity,
        mtbf_at_end_h=1.0 / intensity,
        mtbf_low_h=mtbf_low,
        mtbf_high_h=mtbf_high,
        cramer_von_mises=cvm,
        fit_p_value=p_value,
        level=level,
        exact=w.from_zero,
    )


def _power_sum(w: Watched, top: float, shape: float) -> float:
    return float(((w.end / top) ** shape - (w.start / top) ** shape).sum())


def _log_likelihood(w: Watched, shape: float, lam: float) -> float:
    n = len(w.event)
    top = float(w.end.max())
    return float(
        n * np.log(lam * shape)
        + (shape - 1.0) * np.log(w.event).sum()
        - lam * top**shape * _power_sum(w, top, shape)
    )


def _profile(w: Watched, top: float, shape: float) -> float:
    """Log-likelihood with `lam` at its best, up to a constant, on hours divided by `top`."""
    n = len(w.event)
    total = float(np.log(w.event / top).sum())
    return n * float(np.log(shape)) + shape * total - n * float(np.log(_power_sum(w, top, shape)))


def _maximum(w: Watched, top: float) -> tuple[float, float]:
    from scipy import optimize

    found = optimize.minimize_scalar(
        lambda x: -_profile(w, top, float(np.exp(x))), bounds=(-7.0, 5.0), method="bounded",
        options={"xatol": 1e-6},
    )  # fmt: skip
    total = float(np.log(w.event / top).sum())
    n = len(w.event)
    a, b = w.start / top, w.end / top
    log_a = np.log(np.where(a > 0, a, 1.0))
    log_b = np.log(b)

    def slope(x: float) -> float:
        g = float(np.exp(x))
        pa, pb = np.where(a > 0, a**g, 0.0), b**g
        return n + g * total - n * g * float((pb * log_b - pa * log_a).sum() / (pb - pa).sum())

    x = float(found.x)
    step = 1e-3
    while not slope(x - step) > 0.0 > slope(x + step):
        step *= 2.0
        if step > 8.0:
            raise FitError(
                "The power law has no maximum on these histories.",
                "Events at one age only, or windows too short, cannot tell the pace of events.",
            )
    shape = float(np.exp(optimize.brentq(slope, x - step, x + step, xtol=1e-14, rtol=1e-14)))
    return shape, n / _power_sum(w, top, shape) / top**shape


def _profile_shape(w: Watched, top: float, shape: float, level: float) -> tuple[float, float]:
    from scipy import optimize, special

    drop = 0.5 * float(special.ndtri(0.5 + 0.5 * level)) ** 2
    peak = _profile(w, top, shape)

    def gap(x: float) -> float:
        return peak - _profile(w, top, float(np.exp(x))) - drop

    mid = float(np.log(shape))
    out = []
    for side in (-1.0, 1.0):
        far = 0.5
        while gap(mid + side * far) < 0.0 and far < 12.0:
            far *= 1.5
        at = mid + side * far
        out.append(float(np.exp(optimize.brentq(gap, mid, at))) if gap(at) > 0 else float("nan"))
    return out[0], out[1]
