"""Trends of many cylinders at once: shrunk to the fleet's, robust to odd readings.

``y = mean + cold + engine + cylinder - (slope + own slope) * hours + check + noise``: engine,
cylinder, own slope and check are normal with mean 0; the check's share is common to all cylinders
of one check (tester, gauge, temperature), so it is told apart from a true fall; the noise has
heavy tails (t), so that one odd reading does not bend a trend.

Variances are by restricted maximum likelihood; the t noise by reweighting, each reading's weight
being ``(df + 1) / (df + (residual / sd)^2)`` with the levels and slopes at their predicted values.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.gate import FLAG, an, gate
from fleetstats.core.value import Array, Bools, Floats, Ints, Matrix, Value, value

T_DF = 4.0
"""Degrees of freedom of the noise; a reading 5 sd off loses five sixths of its weight."""
PER_H = 100.0
"""Slopes are kept per 100 h inside, so that all variances are of like size."""
_PARTS = ("engine", "cylinder", "slope", "check", "noise")
_ROUNDS = 6
REACH, MOST_CLIMBS = 1.5, 12
"""Farthest that one climb moves a log variance, and how many climbs follow each other."""


@value
class Readings(Value):
    """Readings to be trended; rows of one engine need not be together.

    Parameters
    ----------
    value : (n,) float
        Readings on one scale.
    hours : (n,) float
        Hours since the start of the cylinder's segment (new, or its last repair).
    engine, segment, check : (n,) int
        Whose reading: engine; cylinder between two repairs; check (one engine, one day).
    cold : (n,) bool
        Taken on a cold engine.

    Examples
    --------
    >>> import fleetstats as fs
    >>> readings = fs.Readings(
    ...     value=[78, 77, 74, 72], hours=[50, 50, 100, 100], engine=[0] * 4,
    ...     segment=[0, 1, 0, 1], check=[0, 0, 1, 1], cold=[False] * 4,
    ... )
    >>> readings.value
    array([78., 77., 74., 72.])
    """

    value: Floats
    hours: Floats
    engine: Ints
    segment: Ints
    check: Ints
    cold: Bools

    def __post_init__(self) -> None:
        if len(self.value) and not np.all(np.isfinite(self.value) & np.isfinite(self.hours)):
            raise FitError("A reading or its hours are not a number.", "Correct the row.")

    def __len__(self) -> int:
        return len(self.value)


@dataclass(frozen=True, slots=True)
class _Stack:
    """The readings of engines with equally many, one on the other, with their shared patterns."""

    rows: Array  # (e, n) rows of the readings
    x: Array  # (e, n, k) fixed effects
    y: Array  # (e, n)
    patterns: Array  # (4, e, n, n) same engine, cylinder, cylinder times hours, check


@value
class Prediction(Value):
    """A cylinder at some hours (m,): `level` (no noise) with its sd, and the slope per hour.

    `reading_sd` is the sd of the normal part of a new reading (level and a new check); the noise
    of scale `noise` with t tails comes on top.
    """

    level: Array
    level_sd: Array
    slope: float
    slope_sd: float
    reading_sd: Array
    noise: float

    def chance_below(self, limit: float) -> Array:
        """Return the chance (m,) that a new reading is below `limit`: normal and t noise added."""
        from scipy.special import stdtr

        x, w = np.polynomial.hermite_e.hermegauss(32)
        at = (limit - self.level[:, None] - self.reading_sd[:, None] * x) / self.noise
        return np.asarray(stdtr(T_DF, at) @ w / math.sqrt(2.0 * math.pi))


@value
class TrendFit(Value):
    """Fitted trend of a fleet of cylinders.

    Parameters
    ----------
    names : tuple of str
        Fixed effects: ``"level"``, ``"slope"`` (per hour), and ``"cold"`` where both were read.
    fixed, fixed_se : (k,) float
    sd : dict
        Standard deviations: engine, cylinder, slope (per hour), check, noise (t scale).
    residual : (n,) float
        Reading minus its own predicted trend and check share.
    weight : (n,) float
        1 or more for ordinary readings, near 0 for odd ones.
    log_likelihood : float
        Restricted, given the weights.
    """

    names: tuple[str, ...]
    fixed: Floats
    fixed_se: Floats
    sd: dict[str, float]
    residual: Floats
    weight: Floats
    check_share: Floats
    log_likelihood: float
    readings: Readings
    _theta: Floats = field(repr=False)
    _cov_fixed: Matrix = field(repr=False)

    _not_in_dict: ClassVar[tuple[str, ...]] = ("readings", "_theta", "_cov_fixed")

    def predict(self, segment: int, hours: ArrayLike) -> Prediction:
        """Predict a cylinder segment at `hours` (m,) since its start (engine hot)."""
        own = np.flatnonzero(self.readings.segment == segment)
        if not len(own):
            raise FitError(f"No reading of segment {segment}.", "Ask for one that was read.")
        engine = int(self.readings.engine[own[0]])
        rows = np.flatnonzero(self.readings.engine == engine)
        stack = _stack_of(self.readings, rows[None, :], len(self.fixed) > 2)
        x, v_inv = stack.x[0], _inverse(stack, self._theta, self.weight)[0]
        r = stack.y[0] - x @ self._fixed_100
        mine = (self.readings.segment[rows] == segment).astype(float)
        h = np.atleast_1d(np.asarray(hours, dtype=np.float64)) / PER_H
        h_all = self.readings.hours[rows] / PER_H
        e2, c2, s2 = (float(self._theta[i]) for i in (0, 1, 2))
        x_new = np.zeros((len(h), x.shape[1]))
        x_new[:, 0], x_new[:, 1] = 1.0, h
        shared = e2 + mine * (c2 + s2 * np.outer(h, h_all))
        level, level_var = self._kriged(x, v_inv, r, shared, x_new, e2 + c2 + s2 * h * h)
        x_slope = np.zeros((1, x.shape[1]))
        x_slope[0, 1] = 1.0
        own_slope = (mine * s2 * h_all)[None, :]
        slope, slope_var = self._kriged(x, v_inv, r, own_slope, x_slope, np.array([s2]))
        return Prediction(
            level=level,
            level_sd=np.sqrt(level_var),
            slope=float(slope[0]) / PER_H,
            slope_sd=math.sqrt(float(slope_var[0])) / PER_H,
            reading_sd=np.sqrt(level_var + self._theta[3]),
            noise=math.sqrt(float(self._theta[4])),
        )

    @property
    def _fixed_100(self) -> Array:
        beta = np.array(self.fixed)
        beta[1] *= PER_H
        return beta

    def _kriged(
        self, x_all: Array, v_inv: Array, r: Array, shared: Array, x: Array, own: Array
    ) -> tuple[Array, Array]:
        """Best linear predictions (m,) and variances, the fixed effects' doubt included."""
        k = shared @ v_inv
        d = x - k @ x_all
        variance = own - (k * shared).sum(axis=1) + ((d @ self._cov_fixed) * d).sum(axis=1)
        return np.asarray(x @ self._fixed_100 + k @ r), np.maximum(variance, 1e-12)


@gate(
    readings=an(Readings, "Make them by fs.Readings(value=…, hours=…, …)."),
    check_share=FLAG,
    robust=FLAG,
)
def fit_mixed_trend(
    readings: Readings, *, check_share: bool = True, robust: bool = True
) -> TrendFit:
    """Fit the trend of a fleet of cylinders.

    Parameters
    ----------
    readings : Readings
        At least eight, of at least two segments, at two hours or more.
    check_share : bool
        Whether a check has a share common to its cylinders; False for readings that come singly.
    robust : bool
        Whether odd readings lose weight; False is plain restricted maximum likelihood.

    Returns
    -------
    TrendFit

    Raises
    ------
    FitError
        If the readings are too few or all at the same hours.

    References
    ----------
    Patterson & Thompson (1971); Laird & Ware (1982); the noise: Lange, Little & Taylor (1989).

    Examples
    --------
    >>> import numpy as np
    >>> import fleetstats as fs
    >>> k = np.arange(40)
    >>> readings = fs.Readings(
    ...     value=78 - 0.01 * (k // 8) * 100 + 0.3 * (k % 5), hours=(k // 8) * 100.0,
    ...     engine=k % 8 // 4, segment=k % 8, check=k // 4,
    ...     cold=np.zeros(40, bool),
    ... )
    >>> trend = fs.fit_mixed_trend(readings)
    >>> dict(zip(trend.names, trend.fixed.round(3).tolist()))
    {'level': 78.508, 'slope': -0.01}
    """
    n_segments = len(np.unique(readings.segment))
    if len(readings) < 8 or n_segments < 2 or np.ptp(readings.hours) <= 0.0:
        raise FitError(
            f"{len(readings)} readings of {n_segments} cylinders do not make a trend.",
            "It takes eight readings of two cylinders or more, at different hours.",
        )
    stacks = _stacks_of(readings)
    spread = float(np.var(readings.value)) or 1.0
    reach = float(np.ptp(readings.hours)) / PER_H
    start = np.log(np.array([0.2, 0.2, 0.2 / reach**2, 0.2, 0.4]) * spread)
    # Where every engine is its own segment the two shares are one and the same.
    single = n_segments == len(np.unique(readings.engine))
    fixed_parts = ((0,) if single else ()) + (() if check_share else (3,))
    weight = np.ones(len(readings))
    log_theta, fit = start, None
    for turn in range(_ROUNDS):
        log_theta, value = _maximise(stacks, weight, log_theta, fixed_parts, 60 if not turn else 12)
        theta = np.exp(log_theta)
        theta[list(fixed_parts)] = 0.0
        fit = _levels(readings, stacks, theta, weight)
        if not robust:
            break
        new = (T_DF + 1.0) / (T_DF + (fit[0] ** 2 + fit[4]) / theta[4])
        done = float(np.max(np.abs(new - weight))) < 1e-2
        weight = new
        if done:
            break
    assert fit is not None
    residual, beta, cov, check, _ = fit
    names = ("level", "slope", "cold")[: len(beta)]
    scale = np.array([1.0, 1.0 / PER_H, 1.0])[: len(beta)]
    sd = dict(zip(_PARTS, np.sqrt(theta), strict=True))
    sd["slope"] /= PER_H
    return TrendFit(
        names=names,
        fixed=beta * scale,
        fixed_se=np.sqrt(np.diag(cov)) * scale,
        sd={k: float(v) for k, v in sd.items()},
        residual=residual,
        weight=weight,
        check_share=check,
        log_likelihood=value,
        readings=readings,
        _theta=theta,
        _cov_fixed=cov,
    )


def _stacks_of(r: Readings) -> tuple[_Stack, ...]:
    cold = bool(r.cold.any() and not r.cold.all())
    by_size: dict[int, list[Array]] = {}
    for e in np.unique(r.engine):
        rows = np.flatnonzero(r.engine == e)
        by_size.setdefault(len(rows), []).append(rows)
    return tuple(_stack_of(r, np.array(rows), cold) for rows in by_size.values())


def _stack_of(r: Readings, rows: Array, cold: bool) -> _Stack:
    h = r.hours[rows] / PER_H
    columns = [np.ones(rows.shape), h]
    if cold:
        columns.append(r.cold[rows].astype(float))
    segment, check = r.segment[rows], r.check[rows]
    same = (segment[:, :, None] == segment[:, None, :]).astype(float)
    shared = (check[:, :, None] == check[:, None, :]).astype(float)
    hours = h[:, :, None] * h[:, None, :]
    patterns = np.stack([np.ones_like(same), same, same * hours, shared])
    return _Stack(rows, np.stack(columns, axis=2), r.value[rows], patterns)


def _inverse(s: _Stack, theta: Array, weight: Array) -> Array:
    v = np.tensordot(theta[:4], s.patterns, axes=1)
    n = v.shape[1]
    v[:, np.arange(n), np.arange(n)] += theta[4] / weight[s.rows]
    return np.asarray(np.linalg.inv(v))


def _maximise(
    stacks: tuple[_Stack, ...], weight: Array, start: Array, fixed_parts: tuple[int, ...], most: int
) -> tuple[Array, float]:
    """Restricted maximum likelihood over log variances, with its analytic slope."""
    from scipy.optimize import minimize

    gone = list(fixed_parts)

    def cost(log_theta: Array) -> tuple[float, Array]:
        theta = np.exp(log_theta)
        theta[gone] = 0.0
        value, slope = _restricted(stacks, theta, weight)
        return -value, -slope * theta

    # A long first step can throw a variance to 0, where its slope on the log scale is gone and no
    # step leads back; so each climb may move every log variance by REACH only, then starts anew.
    at, best = start, cost(start)[0]
    for _ in range(MOST_CLIMBS):
        out = minimize(
            cost,
            at,
            jac=True,
            method="L-BFGS-B",
            bounds=[(x - REACH, x + REACH) for x in at],
            options={"maxiter": most},
        )
        if out.fun >= best - 1e-9:
            break
        inside = bool(np.all(np.abs(out.x - at) < 0.999 * REACH))
        at, best = np.asarray(out.x), float(out.fun)
        if inside:
            break
    return at, -best


def _fixed(stacks: tuple[_Stack, ...], inverses: list[Array]) -> tuple[Array, Array, Array]:
    """Fixed effects by generalised least squares, their covariance, and its inverse."""
    k = stacks[0].x.shape[2]
    xvx, xvy = np.zeros((k, k)), np.zeros(k)
    for s, v in zip(stacks, inverses, strict=True):
        vx = v @ s.x
        xvx += np.einsum("eik,eil->kl", s.x, vx)
        xvy += np.einsum("eik,ei->k", vx, s.y)
    cov = np.linalg.inv(xvx)
    return cov @ xvy, cov, xvx


def _restricted(stacks: tuple[_Stack, ...], theta: Array, weight: Array) -> tuple[float, Array]:
    """Restricted log-likelihood and its slope in the five variances."""
    inverses = [_inverse(s, theta, weight) for s in stacks]
    signs, logs = zip(*(np.linalg.slogdet(v) for v in inverses), strict=True)
    if any(np.any(x <= 0) for x in signs):
        return -1e12, np.zeros(5)
    log_det = -sum(float(x.sum()) for x in logs)
    beta, cov, xvx = _fixed(stacks, inverses)
    quad, slope, n = 0.0, np.zeros(5), 0
    for s, v in zip(stacks, inverses, strict=True):
        r = s.y - s.x @ beta
        vr = np.einsum("eij,ej->ei", v, r)
        vx = v @ s.x
        quad += float((r * vr).sum())
        n += r.size
        # Half of (vr vr' - P), summed over each variance's pattern, is the slope in it.
        pull = vr[:, :, None] * vr[:, None, :] - (v - vx @ cov @ vx.transpose(0, 2, 1))
        slope[:4] += 0.5 * np.einsum("keij,eij->k", s.patterns, pull)
        own = np.einsum("eii->ei", pull)
        slope[4] += 0.5 * float((own / weight[s.rows]).sum())
    value = -0.5 * (log_det + float(np.linalg.slogdet(xvx)[1]) + quad)
    value -= 0.5 * (n - len(beta)) * math.log(2.0 * math.pi)
    return value, slope


def _levels(
    r: Readings, stacks: tuple[_Stack, ...], theta: Array, weight: Array
) -> tuple[Array, Array, Array, Array, Array]:
    """Residuals about the predicted trends, fixed effects with covariance, check shares, and the
    variance left in each residual's own noise.
    """
    inverses = [_inverse(s, theta, weight) for s in stacks]
    beta, cov, _ = _fixed(stacks, inverses)
    residual, check, left = np.empty(len(r)), np.empty(len(r)), np.empty(len(r))
    for s, v in zip(stacks, inverses, strict=True):
        vr = np.einsum("eij,ej->ei", v, s.y - s.x @ beta)
        own = theta[4] / weight[s.rows]
        residual[s.rows] = own * vr
        left[s.rows] = own - own**2 * np.einsum("eii->ei", v)
        check[s.rows] = theta[3] * np.einsum("eij,ej->ei", s.patterns[3], vr)
    return residual, beta, cov, check, left
