"""Lives that share a lot or a shop are not independent: bands that know it, and each lot left out.

A bad lot fails together. Treating its engines as separate witnesses makes every band too narrow.
The cure is to let whole lots, not engines, be what varies.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import FitError
from fleetstats.core.gate import SEED, TEXT, TEXTS, counted, gate
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.spells import Spells
from fleetstats.survival.lives import LIVES
from fleetstats.survival.weibull.fit_weibull import fit_weibull, solve_weibull

FEWEST_CLUSTERS = 5
"""Lots below which their own spread cannot be learned (a choice, no source)."""


@value
class ClusterDraws(Value):
    """Fits to lives with whole clusters reweighted.

    Parameters
    ----------
    by : str
    n_clusters, n_failing : int
        Clusters, and those with failures.
    shape, scale_h : (b,) float
        NaN where a draw has no maximum.
    widening : float
        Standard deviation of log B10 over draws of clusters, relative to draws of single engines.
        Above 1 the failures cluster.
    """

    by: str
    n_clusters: int
    n_failing: int
    shape: Floats
    scale_h: Floats
    widening: float

    def life_h(self, p: float) -> Array:
        """Return (b,) hours by which a share `p` has failed, one per draw."""
        return np.asarray(self.scale_h * (-np.log1p(-p)) ** (1.0 / self.shape))


@gate(spells=LIVES, by=TEXT, labels=TEXTS.or_none, n=counted(1), seed=SEED)
def resample_clusters(
    spells: Spells, *, by: str = "source", labels: ArrayLike | None = None, n: int = 400, seed: int
) -> ClusterDraws:
    """Refit with random weights on whole clusters.

    Parameters
    ----------
    spells : Spells
        A failure known to lie in an interval counts at its middle.
    by : str
        Label that makes the clusters, or the name of `labels`.
    labels : (n,) str, optional
        A lot, shop or other label of each life.
    n : int
        Draws.
    seed : int
        The study's seed.

    Returns
    -------
    ClusterDraws
        Shapes and scales, and by how much clusters widen them beside engines drawn singly.

    Raises
    ------
    FitError
        With fewer than five clusters, or failures in one cluster only.

    References
    ----------
    .. [1] Davison, A. C. and Hinkley, D. V. (1997). Bootstrap Methods and their Application,
       section 3.8 (resampling of whole groups).
    .. [2] Xu, L., Gotwalt, C., Hong, Y., King, C. B. and Meeker, W. Q. (2020). Applications of the
       fractional-random-weight bootstrap. The American Statistician 74, 345-358.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 3100, 50), [0, 0, 1] * 20, source=list("pqrst") * 12)
    >>> draws = fs.resample_clusters(lives, n=50, seed=1)
    >>> draws.n_clusters, len(draws.shape)
    (5, 50)
    """
    label = getattr(spells, by) if labels is None else np.asarray(labels)
    names, place = np.unique(label, return_inverse=True)
    failing = len(np.unique(label[spells.failed]))
    if len(names) < FEWEST_CLUSTERS or failing < 2:
        raise FitError(
            f"{len(names)} clusters by {by}, {failing} with failures.",
            f"At least {FEWEST_CLUSTERS} clusters and two with failures are needed to learn how "
            "they vary; below that, leave each out in turn.",
        )
    _, unit = np.unique(spells.unit, return_inverse=True)
    shape, scale = _draw(spells, place, n, stream(seed, "clusters"))
    alone = _draw(spells, unit, n, stream(seed, "clusters, single engines"))

    def spread(a: Array, b: Array) -> float:
        with np.errstate(invalid="ignore"):
            return float(np.nanstd(np.log(b) + np.log(-np.log(0.9)) / a))

    return ClusterDraws(
        by=by,
        n_clusters=len(names),
        n_failing=failing,
        shape=shape,
        scale_h=scale,
        widening=spread(shape, scale) / spread(*alone),
    )


def _draw(spells: Spells, place: Array, n: int, rng: np.random.Generator) -> tuple[Array, Array]:
    middle = np.where(
        spells.interval_known, 0.5 * (spells.exit_lower + spells.exit_upper), spells.exit_upper
    )
    shape, scale = np.full(n, np.nan), np.full(n, np.nan)
    m = int(place.max()) + 1
    start = fit_weibull(spells).shape
    for k in range(n):
        draw = rng.exponential(size=m)
        weight = spells.weight * (draw / draw.mean())[place]
        try:
            one = solve_weibull(spells.entry, middle, spells.failed, weight, start_shape=start)
        except FitError:
            continue
        shape[k], scale[k] = one.shape, one.scale_h
    return shape, scale
