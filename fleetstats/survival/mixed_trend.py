"""Trends of many cylinders at once: shrunk to the fleet's, robust to odd readings.

``y = mean + cold + engine + cylinder - (slope + own slope) * hours + check + noise``: engine,
cylinder, own slope and check are normal with mean 0; the check's share is common to all cylinders
of one check (tester, gauge, temperature), so it is told apart from a true fall; the noise has
heavy tails (t), so that one odd reading does not bend a trend.

Variances are by restricted maximum likelihood (Patterson & Thompson 1971; Laird & Ware 1982); the
t noise by reweighting, each reading's weight being ``(df + 1) / (df + (residual / sd)^2)`` (Lange,
Little & Taylor 1989, here with the levels and slopes at their predicted values).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.value import Array, Value, frozen_array

T_DF = 4.0
"""Degrees of freedom of the noise; a reading 5 sd off loses five sixths of its weight."""
PER_H = 100.0
"""Slopes are kept per 100 h inside, so that all variances are of like size."""
_PARTS = ("engine", "cylinder", "slope", "check", "noise")
_ROUNDS = 6
REACH, MOST_CLIMBS = 1.5, 12
"""Farthest that one climb moves a log variance, and how many climbs follow each other."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
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
    """

    value: Array
    hours: Array
    engine: Array
    segment: Array
    check: Array
    cold: Array

    def __post_init__(self) -> None:
        for f in ("value", "hours"):
            object.__setattr__(self, f, frozen_array(getattr(self, f), np.float64))
        for f in ("engine", "segment", "check"):
            object.__setattr__(self, f, frozen_array(getattr(self, f), np.int64))
        object.__setattr__(self, "cold", frozen_array(self.cold, np.bool_))
        if len(self.value) and not np.all(np.isfinite(self.value) & np.isfinite(self.hours)):
            raise FitError("A reading or its hours are not a number.", "Correct the row.")

    def __len__(self) -> int:
        return len(self.value)


@dataclass(frozen=True, slots=True)
class _Block:
    """The readings of one engine with the patterns of their shared parts."""

    rows: Array
    x: Array
    y: Array
    patterns: tuple[Array, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
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
    fixed: Array
    fixed_se: Array
    sd: dict[str, float]
    residual: Array
    weight: Array
    check_share: Array
    log_likelihood: float
    readings: Readings
    _theta: Array = field(repr=False)
    _cov_fixed: Array = field(repr=False)

    _not_in_dict: ClassVar[tuple[str, ...]] = ("readings", "_theta", "_cov_fixed")

    def __post_init__(self) -> None:
        for f in ("fixed", "fixed_se", "residual", "weight", "check_share", "_theta"):
            object.__setattr__(self, f, frozen_array(getattr(self, f)))
        object.__setattr__(self, "_cov_fixed", frozen_array(self._cov_fixed, ndim=2))

    def predict(self, segment: int, hours: ArrayLike) -> Prediction:
        """Predict a cylinder segment at `hours` (m,) since its start (engine hot)."""
        own = np.flatnonzero(self.readings.segment == segment)
        if not len(own):
            raise FitError(f"No reading of segment {segment}.", "Ask for one that was read.")
        engine = int(self.readings.engine[own[0]])
        block = _block_of(self.readings, engine, len(self.fixed) > 2)
        v_inv, r = _inverse(block, self._theta, self.weight), block.y - block.x @ self._fixed_100
        mine = (self.readings.segment[block.rows] == segment).astype(float)
        h = np.atleast_1d(np.asarray(hours, dtype=np.float64)) / PER_H
        h_all = self.readings.hours[block.rows] / PER_H
        e2, c2, s2 = (float(self._theta[i]) for i in (0, 1, 2))
        x_new = np.zeros((len(h), block.x.shape[1]))
        x_new[:, 0], x_new[:, 1] = 1.0, h
        shared = e2 + mine * (c2 + s2 * np.outer(h, h_all))
        level, level_var = self._kriged(block, v_inv, r, shared, x_new, e2 + c2 + s2 * h * h)
        x_slope = np.zeros((1, block.x.shape[1]))
        x_slope[0, 1] = 1.0
        own_slope = (mine * s2 * h_all)[None, :]
        slope, slope_var = self._kriged(block, v_inv, r, own_slope, x_slope, np.array([s2]))
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
        self, block: _Block, v_inv: Array, r: Array, shared: Array, x: Array, own: Array
    ) -> tuple[Array, Array]:
        """Best linear predictions (m,) and variances, the fixed effects' doubt included."""
        k = shared @ v_inv
        d = x - k @ block.x
        variance = own - (k * shared).sum(axis=1) + ((d @ self._cov_fixed) * d).sum(axis=1)
        return np.asarray(x @ self._fixed_100 + k @ r), np.maximum(variance, 1e-12)


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
    """
    n_segments = len(np.unique(readings.segment))
    if len(readings) < 8 or n_segments < 2 or np.ptp(readings.hours) <= 0.0:
        raise FitError(
            f"{len(readings)} readings of {n_segments} cylinders do not make a trend.",
            "It takes eight readings of two cylinders or more, at different hours.",
        )
    blocks = _blocks_of(readings)
    spread = float(np.var(readings.value)) or 1.0
    reach = float(np.ptp(readings.hours)) / PER_H
    start = np.log(np.array([0.2, 0.2, 0.2 / reach**2, 0.2, 0.4]) * spread)
    # Where every engine is its own segment the two shares are one and the same.
    single = n_segments == len(np.unique(readings.engine))
    fixed_parts = ((0,) if single else ()) + (() if check_share else (3,))
    weight = np.ones(len(readings))
    log_theta, fit = start, None
    for turn in range(_ROUNDS):
        log_theta, value = _maximise(blocks, weight, log_theta, fixed_parts, 60 if not turn else 12)
        theta = np.exp(log_theta)
        theta[list(fixed_parts)] = 0.0
        fit = _levels(readings, blocks, theta, weight)
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


def _blocks_of(r: Readings) -> tuple[_Block, ...]:
    cold = bool(r.cold.any() and not r.cold.all())
    return tuple(_block_of(r, int(e), cold) for e in np.unique(r.engine))


def _block_of(r: Readings, engine: int, cold: bool) -> _Block:
    rows = np.flatnonzero(r.engine == engine)
    h = r.hours[rows] / PER_H
    columns = [np.ones(len(rows)), h]
    if cold:
        columns.append(r.cold[rows].astype(float))
    same = (r.segment[rows][:, None] == r.segment[rows][None, :]).astype(float)
    check = (r.check[rows][:, None] == r.check[rows][None, :]).astype(float)
    patterns = (np.ones_like(same), same, same * np.outer(h, h), check)
    return _Block(rows, np.column_stack(columns), r.value[rows], patterns)


def _inverse(block: _Block, theta: Array, weight: Array) -> Array:
    v = sum(t * p for t, p in zip(theta[:4], block.patterns, strict=True))
    v = np.asarray(v) + np.diag(theta[4] / weight[block.rows])
    return np.asarray(np.linalg.inv(v))


def _maximise(
    blocks: tuple[_Block, ...], weight: Array, start: Array, fixed_parts: tuple[int, ...], most: int
) -> tuple[Array, float]:
    """Restricted maximum likelihood over log variances, with its analytic slope."""
    from scipy.optimize import minimize

    gone = list(fixed_parts)

    def cost(log_theta: Array) -> tuple[float, Array]:
        theta = np.exp(log_theta)
        theta[gone] = 0.0
        value, slope = _restricted(blocks, theta, weight)
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


def _restricted(blocks: tuple[_Block, ...], theta: Array, weight: Array) -> tuple[float, Array]:
    """Restricted log-likelihood and its slope in the five variances."""
    k = blocks[0].x.shape[1]
    xvx, xvy, log_det = np.zeros((k, k)), np.zeros(k), 0.0
    parts = []
    for b in blocks:
        v_inv = _inverse(b, theta, weight)
        sign, ld = np.linalg.slogdet(v_inv)
        if sign <= 0:
            return -1e12, np.zeros(5)
        log_det -= ld
        vx = v_inv @ b.x
        xvx += b.x.T @ vx
        xvy += vx.T @ b.y
        parts.append((v_inv, vx))
    cov = np.linalg.inv(xvx)
    beta = cov @ xvy
    quad, slope, n = 0.0, np.zeros(5), 0
    for b, (v_inv, vx) in zip(blocks, parts, strict=True):
        r = b.y - b.x @ beta
        vr = v_inv @ r
        quad += float(r @ vr)
        n += len(r)
        p = v_inv - vx @ cov @ vx.T
        for i, pattern in enumerate(b.patterns):
            slope[i] += 0.5 * (float(vr @ pattern @ vr) - float((p * pattern).sum()))
        d = 1.0 / weight[b.rows]
        slope[4] += 0.5 * (float((vr**2 * d).sum()) - float((np.diag(p) * d).sum()))
    value = -0.5 * (log_det + float(np.linalg.slogdet(xvx)[1]) + quad)
    value -= 0.5 * (n - k) * math.log(2.0 * math.pi)
    return value, slope


def _levels(
    r: Readings, blocks: tuple[_Block, ...], theta: Array, weight: Array
) -> tuple[Array, Array, Array, Array, Array]:
    """Residuals about the predicted trends, fixed effects with covariance, check shares, and the
    variance left in each residual's own noise.
    """
    k = blocks[0].x.shape[1]
    xvx, xvy = np.zeros((k, k)), np.zeros(k)
    inverses = [_inverse(b, theta, weight) for b in blocks]
    for b, v in zip(blocks, inverses, strict=True):
        xvx += b.x.T @ v @ b.x
        xvy += b.x.T @ v @ b.y
    cov = np.linalg.inv(xvx)
    beta = cov @ xvy
    residual, check, left = np.empty(len(r)), np.empty(len(r)), np.empty(len(r))
    for b, v in zip(blocks, inverses, strict=True):
        vr = v @ (b.y - b.x @ beta)
        own = theta[4] / weight[b.rows]
        residual[b.rows] = own * vr
        left[b.rows] = own - own**2 * np.diag(v)
        check[b.rows] = theta[3] * (b.patterns[3] @ vr)
    return residual, beta, cov, check, left
