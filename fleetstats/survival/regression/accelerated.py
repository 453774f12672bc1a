"""The likelihood of Weibull lives whose scale depends on covariates: one solver for all uses.

``log T = x b + sigma W`` with ``W`` smallest extreme value, so ``exp(b)`` multiplies the life and
``shape = 1 / sigma``. Written in ``z = shape * log t - x g`` with ``g = shape * b`` the problem is
linear inside the exponent, and Newton's method is quick and safe.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from fleetstats.core.errors import NoMaximum, NotConverged
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.survival.last_steps import CLOSE, has_settled

_MOST_STEPS = 200
_FLAT = 1e-6
_ENDLESS = (
    "The likelihood climbs for ever along a covariate.",
    "A group without failures, or a covariate that parts failed from running engines, has no "
    "finite life factor; give a bound instead.",
)
_CERTAIN = 20.0
_NO_PEAK = (
    "The likelihood of these lives has no maximum: the shape runs away.",
    "Failures at one age, or one failure at the oldest, cannot tell a shape; assume a range.",
)
_FARTHEST = 60.0  # |g| over a covariate's whole reach: the likelihood climbs for ever
_EXTREME_SHAPE = 1000.0  # beyond it, or below its inverse, the shape runs away as well


@dataclass(frozen=True, slots=True, kw_only=True)
class Solution:
    """Maximum of the accelerated-life likelihood.

    Parameters
    ----------
    coef : (k,) float
        Log life factors, in the order of the design's columns; hours are those of the spells.
    shape : float
    log_likelihood : float
        Without the penalty.
    objective : float
        With the penalty.
    information : (k + 1, k + 1) float
        Observed information in (coef, log sigma), the penalty included.
    """

    coef: Array
    shape: float
    log_likelihood: float
    objective: float
    information: Array

    def covariance(self) -> Array:
        """Return (k + 1, k + 1) covariance of (coef, log sigma)."""
        return np.linalg.inv(self.information)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """Ages in logs of the oldest, sorted by what is known of each; made once, solved often."""

    unit_h: float
    log_entry: Array
    log_lower: Array
    log_upper: Array
    late: Array
    exact: Array
    between: Array
    weight: Array
    log_jacobian: float = field(default=0.0)  # sum of w log t over exact failures, in hours

    @classmethod
    def of(cls, spells: Spells) -> Problem:
        """Prepare the spells; entry at 0 and a lower edge at 0 carry no hazard."""
        unit = spells.oldest_h
        with np.errstate(divide="ignore"):
            log_entry = np.log(spells.entry / unit)
            log_lower = np.log(spells.exit_lower / unit)
        exact = spells.failed & ~spells.interval_known
        return cls(
            unit_h=unit,
            log_entry=np.asarray(log_entry),
            log_lower=np.asarray(log_lower),
            log_upper=np.log(spells.exit_upper / unit),
            late=spells.entry > 0,
            exact=exact,
            between=spells.interval_known,
            weight=spells.weight,
            log_jacobian=float((spells.weight * np.log(spells.exit_upper))[exact].sum()),
        )


def _parts(
    problem: Problem, offset: Array, design: Array, theta: Array
) -> tuple[float, Array, Array]:
    """Log-likelihood, gradient and Hessian in (log shape, g)."""
    p = problem
    beta = float(np.exp(theta[0]))
    xg = design @ theta[1:]
    k = len(theta)
    grad = np.zeros(k)
    hess = np.zeros((k, k))
    total = 0.0

    def directions(log_age: Array, rows: Array) -> tuple[Array, Array]:
        y = log_age[rows] - offset[rows]
        return beta * y - xg[rows], np.column_stack([y, -design[rows]])

    def add(first: Array, second: Array, u: Array) -> None:
        nonlocal grad, hess
        grad = grad + u.T @ first
        hess = hess + (u * second[:, None]).T @ u

    with np.errstate(over="ignore"):
        # Hazard until the end of every spell that did not end inside an interval.
        whole = np.flatnonzero(~p.between)
        z, u = directions(p.log_upper, whole)
        w = p.weight[whole]
        h = w * np.exp(z)
        total -= float(h.sum())
        add(-h, -h, u)
        failed = p.exact[whole]
        r = float(w[failed].sum())
        total += float((w * z)[failed].sum()) + r * float(np.log(beta))
        grad = grad + u[failed].T @ w[failed]
        grad[0] += r / beta
        hess[0, 0] -= r / beta**2
        late = np.flatnonzero(p.late)
        if len(late):
            z, u = directions(p.log_entry, late)
            h = p.weight[late] * np.exp(z)
            total += float(h.sum())
            add(h, h, u)
        some = np.flatnonzero(p.between)
        if len(some):
            total += _between(p, some, directions, add)
    # From (beta, g) to (log beta, g).
    jac = np.ones(k)
    jac[0] = beta
    hess = hess * np.outer(jac, jac)
    hess[0, 0] += beta * grad[0]
    return total - p.log_jacobian, grad * jac, hess


def _between(p: Problem, rows: Array, directions: object, add: object) -> float:
    """Failures known to lie between two ages: log(exp(-a) - exp(-b)) and its derivatives."""
    zb, ub = directions(p.log_upper, rows)  # type: ignore[operator]
    known = np.isfinite(p.log_lower[rows])
    za = np.full(len(rows), -np.inf)
    ua = np.zeros_like(ub)
    za[known], ua[known] = directions(p.log_lower, rows[known])  # type: ignore[operator]
    w = p.weight[rows]
    # Beyond exp(20) a life has failed for certain: a step so far is refused, an edge is capped.
    if float(za.max()) > _CERTAIN:
        return -np.inf
    a, b = np.exp(za), np.exp(np.minimum(zb, _CERTAIN))
    d = np.maximum(b - a, 1e-300)
    with np.errstate(over="ignore"):
        r = 1.0 / np.expm1(d)
    q = 1.0 + r
    add(-w * a * q, -w * (a * q + a * a * q * r), ua)  # type: ignore[operator]
    add(w * b * r, w * (b * r - b * b * q * r), ub)  # type: ignore[operator]
    cross = w * a * b * q * r
    # The mixed term enters as u_a u_b' + u_b u_a' = (u_a + u_b)(...)' less the two squares.
    none = np.zeros(len(rows))
    add(none, cross, ua + ub)  # type: ignore[operator]
    add(none, -cross, ua)  # type: ignore[operator]
    add(none, -cross, ub)  # type: ignore[operator]
    return float((w * (-a + np.log(-np.expm1(-d)))).sum())


def solve_accelerated(
    problem: Problem,
    design: Array,
    *,
    offset: Array | None = None,
    penalty: Array | None = None,
    start: Array | None = None,
) -> Solution:
    """Maximise the likelihood over the coefficients and the shape.

    Parameters
    ----------
    problem : Problem
        The spells, prepared.
    design : (n, k) float
        Covariates, the first column all ones.
    offset : (n,) float, optional
        Part of ``x b`` that is held fixed (log life factors), for profiles.
    penalty : (k,) float, optional
        Precision of a normal prior around 0 for each coefficient; 0 leaves it free.
    start : (k + 1,) float, optional
        (coef, log shape) to begin from.

    Raises
    ------
    NoMaximum
        Without failures, or when the likelihood climbs for ever along a coefficient.
    NotConverged
        If the iteration stops short.
    """
    raw = np.asarray(design, dtype=float)
    k = raw.shape[1]
    # Each covariate in units of its own reach, so that none is large or small by its unit alone.
    reach = _reach(raw)
    x = raw / reach
    fixed = np.zeros(x.shape[0]) if offset is None else np.asarray(offset, dtype=float)
    ridge = np.zeros(k) if penalty is None else np.asarray(penalty, dtype=float) / reach**2
    if not (problem.exact | problem.between).any():
        raise NoMaximum(
            "No failures, so no life can be fitted.",
            "Use the bound for an assumed shape.",
            reason="no-failures",
        )
    if start is None:
        theta = np.zeros(k + 1)
        theta[1] = _exponential_start(problem, fixed)
        if k > 1:  # the shape without covariates first: the safe way in with late entry
            alone = solve_accelerated(problem, x[:, :1], offset=fixed)
            theta[0] = np.log(alone.shape)
            theta[1] = (alone.coef[0] - np.log(problem.unit_h)) * alone.shape
    else:
        shape = float(np.exp(start[-1]))
        theta = np.concatenate([[start[-1]], np.asarray(start[:-1]) * reach * shape])
        theta[1] -= np.log(problem.unit_h) * shape
    theta, value, hess = _newton(problem, fixed, x, ridge, theta)
    _refuse_flat(x, ridge, hess, float(theta[0]))
    shape = float(np.exp(theta[0]))
    coef = theta[1:] / shape
    jac = np.zeros((k + 1, k + 1))  # d(log shape, g) / d(coef, log sigma)
    jac[0, -1] = -1.0
    jac[1:, :-1] = shape * np.eye(k)
    jac[1:, -1] = -theta[1:]
    back = np.append(reach, 1.0)
    information = -(jac.T @ hess @ jac) * np.outer(back, back)
    extra = 0.5 * float((ridge * coef**2).sum()) if ridge.any() else 0.0
    coef = coef / reach
    coef[0] += np.log(problem.unit_h)
    return Solution(
        coef=coef,
        shape=shape,
        log_likelihood=value + extra,
        objective=value,
        information=information,
    )


def climb_through(
    problem: Problem, dx: Array, theta: Array, *, log_age: float, free: Array, penalty: Array
) -> tuple[Array, float]:
    """Maximise the likelihood with something held at one age and one set of covariates.

    With ``z = shape * (log t - log_age) + w - dx g``, `w` is the log cumulative hazard at that age
    and there, and ``log shape + w`` the log hazard in units of 1 over the age. In
    ``theta = (log shape, -w, g)`` the first is held by leaving -w alone, the second by moving log
    shape and -w together.

    Parameters
    ----------
    problem : Problem
        The spells, prepared.
    dx : (n, k) float
        Covariates less those asked for.
    theta : (k + 2,) float
        Where to begin; what is held keeps its value.
    log_age : float
        Log of the age in hours.
    free : (k + 2, m) float
        Directions that are free.
    penalty : (k,) float
        As in `solve_accelerated`, for log life factors.

    Returns
    -------
    theta, objective : (k + 2,) float, float

    Raises
    ------
    NoMaximum, NotConverged
        As `solve_accelerated`.
    """
    # each covariate in units of its own reach, as in `solve_accelerated`
    x, scale = np.column_stack([np.ones(len(dx)), dx / _reach(dx)]), np.ones(len(theta))
    scale[2:] = _reach(dx)
    offset = np.full(len(dx), log_age - float(np.log(problem.unit_h)))
    ridge = np.concatenate([[0.0], penalty / scale[2:] ** 2])
    found, value, _ = _newton(problem, offset, x, ridge, theta * scale, free * scale[:, None])
    return found / scale, value


def _reach(x: Array) -> Array:
    """Return how far each column goes, 1 for one that stays."""
    reach = np.ptp(x, axis=0) if len(x) else np.zeros(x.shape[1])
    return np.where(reach > 0, reach, 1.0)


def _refuse_flat(x: Array, ridge: Array, hess: Array, log_shape: float) -> None:
    """Raise if the likelihood has gone flat along a covariate: its maximum lies at infinity.

    Along a group with a single failure the information is about 1; where the climb has no end it
    falls to nothing before the iteration stops.
    """
    known = -np.diag(hess)[1:]
    if bool(((known < _FLAT) & (np.ptp(x, axis=0) > 0) & (ridge == 0)).any()):
        raise NoMaximum(*_ENDLESS)
    try:
        np.linalg.cholesky(-hess)
    except np.linalg.LinAlgError:
        raise NoMaximum(*_NO_PEAK) from None
    if abs(log_shape) > np.log(_EXTREME_SHAPE):
        raise NoMaximum(*_NO_PEAK)


def _exponential_start(p: Problem, offset: Array) -> float:
    end = np.where(
        p.between, 0.5 * (np.exp(p.log_lower) + np.exp(p.log_upper)), np.exp(p.log_upper)
    )
    hours = float((p.weight * (end - np.exp(p.log_entry)) * np.exp(-offset)).sum())
    return float(np.log(hours / p.weight[p.exact | p.between].sum()))


def _penalised(
    p: Problem, offset: Array, x: Array, ridge: Array, theta: Array
) -> tuple[float, Array, Array]:
    value, grad, hess = _parts(p, offset, x, theta)
    if not ridge.any():
        return value, grad, hess
    scale = np.exp(-theta[0])
    b = theta[1:] * scale
    pull = ridge * b
    value -= 0.5 * float((pull * b).sum())
    grad = grad + np.concatenate([[(pull * b).sum()], -pull * scale])
    extra = np.zeros_like(hess)
    extra[0, 0] = -2.0 * (pull * b).sum()
    extra[0, 1:] = extra[1:, 0] = 2.0 * pull * scale
    extra[1:, 1:] = np.diag(-ridge * scale**2)
    return value, grad, hess + extra


def _newton(
    p: Problem, offset: Array, x: Array, ridge: Array, theta: Array, free: Array | None = None
) -> tuple[Array, float, Array]:
    """Climb from `theta`, along the columns of `free` (k + 1, m) alone where they are given."""

    def uphill(grad: Array, hess: Array) -> tuple[Array, float]:
        if free is None:
            return _uphill(grad, hess)
        step, decrement = _uphill(free.T @ grad, free.T @ hess @ free)
        return np.asarray(free @ step), decrement

    value, grad, hess = _penalised(p, offset, x, ridge, theta)
    before = np.inf
    for _ in range(_MOST_STEPS):
        step, decrement = uphill(grad, hess)
        if has_settled(decrement, before):
            return theta, value, hess
        before = decrement
        largest = float(np.abs(step).max())
        size = min(1.0, 2.0 / largest)
        for _ in range(60):
            trial = _penalised(p, offset, x, ridge, theta + size * step)
            rises = decrement < CLOSE or trial[0] >= value - 1e-13 * abs(value)
            if np.isfinite(trial[0]) and rises:
                break
            size *= 0.5
        else:
            break
        theta = theta + size * step
        value, grad, hess = trial
        if abs(float(theta[0])) > 1.5 * np.log(_EXTREME_SHAPE):
            raise NoMaximum(*_NO_PEAK)
        if len(theta) > 2 and float(np.abs(theta[2:]).max()) > _FARTHEST:
            raise NoMaximum(*_ENDLESS)
    if uphill(grad, hess)[1] < 1e-6:
        return theta, value, hess
    raise NotConverged(
        "The fit with covariates stopped short of its maximum.",
        "Fewer covariates, or covariates on a like scale, would help.",
    )


def _uphill(grad: Array, hess: Array) -> tuple[Array, float]:
    """Newton step, the Hessian lifted until it points uphill; and the Newton decrement."""
    lift = 0.0
    scale = float(np.abs(np.diag(hess)).max()) or 1.0
    eye = np.eye(len(grad))
    while True:
        try:
            low = np.linalg.cholesky(-hess + lift * eye)
        except np.linalg.LinAlgError:
            lift = max(2.0 * lift, 1e-10 * scale)
            continue
        half = np.linalg.solve(low, grad)
        return np.asarray(np.linalg.solve(low.T, half)), float(half @ half)
