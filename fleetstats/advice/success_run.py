"""How many engines, run how far, show a reliability: the closed forms behind every plan.

Success run: n engines reach T without failure, then R^n = 1 - C. Engines run to u hours instead
count (u/T)^shape each (Nelson 1985; IEC 61649:2008). With failures allowed the exact binomial
applies at T itself, and the Poisson bound when ages differ.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.advice.equivalents import failures_within, poisson_allowance
from fleetstats.core.arguments import wrong
from fleetstats.core.errors import SettingError
from fleetstats.core.gate import POSITIVE, PROBABILITY, counted, gate
from fleetstats.core.value import Array

LEAST_WORTH = 1e-12
"""What one engine adds, in lives to the target age, below which no fleet is large enough."""

MOST_FAILURES = 10_000
"""Failures up to which a plan is worked out."""


def _checked(reliability: float, confidence: float) -> None:
    for name, x in (("reliability", reliability), ("confidence", confidence)):
        if not 0.0 < x < 1.0:
            raise SettingError(f"Planned {name} is {x:g}.", "It must lie between 0 and 1.")


@gate(
    reliability=PROBABILITY,
    confidence=PROBABILITY,
    failures=counted(0, MOST_FAILURES),
    run_share=POSITIVE,
    shape=POSITIVE,
)
def success_run(
    reliability: float,
    confidence: float,
    *,
    failures: int = 0,
    run_share: float = 1.0,
    shape: float = 1.0,
) -> int:
    """Return the engines to run so that `reliability` at the target age is shown.

    Parameters
    ----------
    reliability, confidence : float
        Target R at the target age, and one-sided confidence; both in (0, 1).
    failures : int
        Failures that may happen on the way.
    run_share : float
        Age to which each engine is run, as a share of the target age.
    shape : float
        Assumed Weibull shape; needed when `run_share` is not 1.

    Returns
    -------
    int
        Engines, rounded up.

    Raises
    ------
    ArgumentError
        If reliability, confidence, failures, share or shape are impossible.

    Notes
    -----
    With no failures n = ln(1 - C) / (share^shape · ln R), rounded up. With failures and share 1 the
    exact binomial (Clopper & Pearson 1934), else r + m_C(r) / (share^shape · -ln R): the Poisson
    bound, with the engines that fail counted as adding nothing, since their ages are not known yet.

    References
    ----------
    Nelson (1985), J. Qual. Technol. 17, 140-146; IEC 61649:2008. Clopper & Pearson (1934),
    Biometrika 26, 404-413.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.success_run(0.90, 0.95)
    29
    >>> fs.success_run(0.90, 0.95, failures=1)
    46
    """
    need = -math.log(reliability)
    try:
        worth = float(run_share**shape) * need
    except OverflowError:  # one engine shows it many times over
        worth = math.inf
    if worth < LEAST_WORTH:
        raise wrong("run_share", run_share, "No number of engines run so far shows it.")
    if failures == 0:
        return max(1, math.ceil(-math.log1p(-confidence) / worth - 1e-12))
    if run_share != 1.0:
        return failures + max(1, math.ceil(poisson_allowance(failures, confidence) / worth))
    low, high = failures, failures + 1
    while _binomial_tail(high, failures, 1.0 - reliability) > 1.0 - confidence:
        low, high = high, 2 * high
    while high - low > 1:
        mid = (low + high) // 2
        if _binomial_tail(mid, failures, 1.0 - reliability) > 1.0 - confidence:
            low = mid
        else:
            high = mid
    return high


def _binomial_tail(n: int, k: int, p: float) -> float:
    """Return the chance of at most k failures among n."""
    from scipy.special import bdtr

    return float(bdtr(k, n, p))


def equivalents_needed(reliability: float, confidence: float, n_failed: float) -> float:
    """Return the whole lives to the target age that show `reliability` after `n_failed`."""
    _checked(reliability, confidence)
    return poisson_allowance(n_failed, confidence) / -math.log(reliability)


def poisson_at_most(k: float, mean: ArrayLike) -> Array:
    """Return the chance of at most `k` events; 0 for k below 0."""
    from scipy.special import gammaincc

    if k < 0:
        return np.zeros_like(np.asarray(mean, dtype=np.float64))
    return np.asarray(gammaincc(math.floor(k) + 1.0, np.asarray(mean, dtype=np.float64)))


def failures_allowed(
    equivalents: float, n_failed: float, confidence: float, accepted: float
) -> int | None:
    """Return the further failures with which `accepted` is still shown; None if not with none."""
    k = failures_within(-math.log1p(-accepted) * equivalents, n_failed, confidence)
    return None if k < 0 else k
