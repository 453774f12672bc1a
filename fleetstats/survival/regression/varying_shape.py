"""Does the shape of the life distribution vary with a covariate?

With a Weibull law, effects that stretch life and effects that multiply the hazard are the same
thing exactly as long as all lives share one shape. This is the check of that.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.value import Array
from fleetstats.survival.regression.accelerated import Problem, Solution


def compare_shapes(problem: Problem, design: Array, best: Solution, column: int) -> float | None:
    """Return the p-value of "the shape does not vary with this column"; None if not found.

    Likelihood ratio of ``log shape = a + c x`` against ``c = 0``, one degree of freedom
    (Lawless 2003, section 6.4).
    """
    from scipy import optimize, special

    x = design[:, column] - design[:, column].mean()
    spread = float(x.std()) or 1.0
    x = x / spread
    shift = np.zeros(design.shape[1])
    shift[0] = np.log(problem.unit_h)
    base = best.coef - shift
    scale = np.sqrt(np.diag(best.covariance()))
    start = np.zeros(design.shape[1] + 2)

    def minus(v: Array) -> float:
        b = base + v[:-2] * scale[:-1]
        with np.errstate(over="ignore"):
            shape = np.exp(np.log(best.shape) + v[-2] * scale[-1] + v[-1] * 0.3 * x)
            value = log_likelihood_by_row(problem, design @ b, shape)
        return -value if np.isfinite(value) else 1e12

    found = optimize.minimize(minus, start, method="BFGS", options={"gtol": 1e-5})
    gain = 2.0 * (-float(found.fun) - best.log_likelihood)
    if not np.isfinite(gain) or gain < -1e-6:
        return None
    return float(special.chdtrc(1, max(gain, 0.0)))


def log_likelihood_by_row(problem: Problem, centre: Array, shape: Array) -> float:
    """Return the log-likelihood with a log scale (in the problem's unit) and shape per row."""
    p = problem

    def z(log_age: Array) -> Array:
        return np.asarray(shape * (log_age - centre))

    upper = z(p.log_upper)
    whole = ~p.between
    total = -float((p.weight * np.exp(upper))[whole].sum())
    total += float((p.weight * (np.log(shape) + upper))[p.exact].sum())
    total += float((p.weight * np.exp(z(p.log_entry)))[p.late].sum())
    if p.between.any():
        a, b = np.exp(z(p.log_lower))[p.between], np.exp(upper)[p.between]
        with np.errstate(divide="ignore"):
            inside = -a + np.log(-np.expm1(-np.maximum(b - a, 0.0)))
        total += float((p.weight[p.between] * inside).sum())
    return total - p.log_jacobian
