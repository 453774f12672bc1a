"""To the top of a partial likelihood by Newton's method, or to the word that it has none."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.core.value import Array
from fleetstats.survival.last_steps import CLOSE, has_settled

Parts = Callable[[Array], tuple[float, Array, Array]]
"""Partial log-likelihood, its slope (k,) and minus its second derivatives (k, k)."""

MOST_STEPS = 60
"""Newton steps from no effect; six or so are enough."""

STEADY, NEAR = 0.1, 1e-2
"""Close to a maximum, where the decrement is below `NEAR`, it falls with its square. Twice in turn
by no more than `STEADY` says that the likelihood climbs for ever."""

SHORTEST = 1e-9
"""Share of a Newton step that is still tried where a whole one falls."""


def climb_partial(
    parts: Parts, coef: Array, held: int | None = None
) -> tuple[Array, float, Array] | None:
    """Return where a partial likelihood is greatest, its log there and its information.

    Parameters
    ----------
    parts : callable
        The partial likelihood at coefficients (k,), in units in which they are about 1.
    coef : (k,) float
        Where to begin.
    held : int, optional
        A coefficient that stays as it is in `coef`.

    Returns
    -------
    tuple or None
        Coefficients (k,), log-likelihood and information (k, k); None where it has no maximum: it
        climbs for ever, or two covariates say the same.

    References
    ----------
    Newton's method with the step halved until it climbs (Nocedal & Wright 2006, Numerical
    Optimization, section 3.1, from memory). The partial likelihood is log-concave.
    """
    free = np.arange(len(coef)) != (-1 if held is None else held)
    now, slope, information = parts(coef)
    before, slow = np.inf, 0
    for _ in range(MOST_STEPS):
        step = np.zeros(len(coef))
        try:
            step[free] = np.linalg.solve(information[np.ix_(free, free)], slope[free])
        except np.linalg.LinAlgError:
            return None
        decrement = float(step @ slope)
        slow = slow + 1 if CLOSE < decrement < NEAR and decrement > STEADY * before else 0
        if slow > 1 or not np.isfinite(decrement):
            return None
        if has_settled(decrement, before):
            return coef, now, information
        before, size = decrement, 1.0
        with np.errstate(all="ignore"):  # a step too far overflows and is halved
            trial = parts(coef + step)
            while not trial[0] >= now and decrement > CLOSE and size > SHORTEST:
                size *= 0.5
                trial = parts(coef + size * step)
        coef = coef + size * step
        now, slope, information = trial
    return None
