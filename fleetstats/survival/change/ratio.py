"""The likelihood ratio of a changed rate, given how many failures there were in all.

Of n failures, k lie after a date that has the share s of what was expected. If nothing changed, k
is binomial with share s whatever the rate is; if the rate was multiplied there, any other share.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.value import Array


def likelihood_ratio(after: ArrayLike, total: ArrayLike, share: ArrayLike) -> Array:
    """Return the log of the likelihood at the best factor over that at factor 1.

    Parameters
    ----------
    after, total : float, of one shape
        Failures after the date, and in all.
    share : float, of the same shape
        Share of what was expected that lies after the date, within 0 to 1.

    Returns
    -------
    float, of the same shape
        0 or more, in natural units: ``k log(k / (n s)) + (n - k) log((n - k) / (n (1 - s)))``,
        the binomial's deviance halved.
    """
    from scipy.special import xlogy

    k, n, s = np.broadcast_arrays(*(np.asarray(x, dtype=np.float64) for x in (after, total, share)))
    safe = np.clip(s, 1e-300, 1.0)
    rest = np.clip(1.0 - s, 1e-300, 1.0)
    whole = np.maximum(n, 1e-300)
    told = xlogy(k, k / (whole * safe)) + xlogy(n - k, (n - k) / (whole * rest))
    return np.asarray(np.maximum(told, 0.0))


def rise_only(after: ArrayLike, total: ArrayLike, share: ArrayLike) -> Array:
    """Return `likelihood_ratio` where more came than expected after the date, else 0."""
    k, n, s = (np.asarray(x, dtype=np.float64) for x in (after, total, share))
    return np.asarray(np.where(k > n * s, likelihood_ratio(k, n, s), 0.0))
