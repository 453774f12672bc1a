"""How far the signed root of a bench's likelihood lies from a standard normal number.

A bench has few runs, and the plain profile likelihood of an extrapolated life is too narrow: the
signed root of twice the fall is neither centred nor of unit spread. Its mean and spread are taken
from benches drawn anew from the fitted law with the same stresses and run-outs, and the limits are
moved by them (adjusted signed root: DiCiccio, Martin and Stern 2001; Lawless 2003, section 4.2, on
parametric bootstrap of likelihood ratios; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from fleetstats.core.errors import FitError
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array, Value, value
from fleetstats.survival.stress.stress_life import (
    Held,
    StressRuns,
    stress_likelihood,
    transform,
    transforms,
)

DRAWS: Final = 200
"""Benches drawn: the edge's confidence is then off by about 1 % of benches (one standard error)."""

LEAST_DRAWS: Final = 50
"""Draws that must have a fit, or the bench is too small for the limits to be moved."""


@value
class RootShift(Value):
    """Mean and spread of the signed root at the true life; 0 and 1 leave the profile as it is.

    Positive where the estimate lies above the truth. `draws` counts the benches behind it.
    """

    mean: float = 0.0
    spread: float = 1.0
    draws: int = 0

    def drop(self, level: float, sign: float) -> float:
        """Return how far the log-likelihood falls at an edge; `sign` -1 for the lower one."""
        from scipy.special import ndtri

        z = float(ndtri(0.5 + 0.5 * level))
        return 0.5 * max(z * self.spread - sign * self.mean, 1e-3) ** 2


PLAIN: Final = RootShift()
"""The profile as it is."""


def estimate_root_shift(
    runs: StressRuns, p: float, stress: float, *, relation: str, seed: int, draws: int = DRAWS
) -> RootShift:
    """Return mean and spread of the signed root of the life of a share `p` at a stress.

    Parameters
    ----------
    runs : StressRuns
        The bench; drawn anew at its own stresses.
    p, stress : float
        Share failed and stress of the life asked for.
    relation : str
        As for `fit_stress_life`.
    seed : int
        Of the study; the draws are those of the name "bench-root".
    draws : int
        Benches drawn.

    Notes
    -----
    How benches are drawn is told in `draw_benches`. Draws without failures at two stresses have no
    fit and are left out.

    Raises
    ------
    FitError
        If the runs themselves have no fit.
    """
    like = stress_likelihood(runs, relation, p, stress)
    best = like.peak()
    x, x0 = transforms(runs.stress, relation), transform(stress, relation)
    log_scale = best.log_life - math.log(-math.log1p(-p)) / best.shape + best.slope * (x - x0)
    roots = [
        _root(drawn, p, stress, relation, best.log_life)
        for drawn in draw_benches(runs, log_scale, best.shape, seed=seed, draws=draws)
    ]
    return root_shift(roots)


def draw_benches(
    runs: StressRuns, log_scale: Array, shape: float, *, seed: int, draws: int
) -> Iterator[StressRuns]:
    """Yield benches like `runs` from a law: its log scale (n,) at each run, and its shape.

    A run that failed would have gone on to the longest run-out of the bench; where nothing ran out
    no run would have been stopped. In whatever order the runs stand, the same benches come.
    """
    stop = float(runs.life[~runs.failed].max()) if bool((~runs.failed).any()) else math.inf
    order = np.lexsort((log_scale, runs.failed, runs.life, runs.stress))
    rng = stream(seed, "bench-root")
    for _ in range(draws):
        life = np.empty(len(runs))
        log_life = log_scale[order] + np.log(rng.exponential(size=len(runs))) / shape
        life[order] = np.exp(np.minimum(log_life, 600.0))
        yield StressRuns(
            stress=runs.stress,
            life=np.minimum(life, stop),
            failed=life <= stop,
            weight=runs.weight,
        )


def root_shift(roots: Sequence[float | None]) -> RootShift:
    """Return mean and spread of signed roots, one to a drawn bench; None where it had no fit."""
    known = [r for r in roots if r is not None]
    if len(known) < min(LEAST_DRAWS, len(roots)):
        return PLAIN
    return RootShift(mean=float(np.mean(known)), spread=float(np.std(known)), draws=len(known))


def signed_root(fall: float, side: float) -> float:
    """Return the root of twice a fall of the log-likelihood, with the sign of `side`."""
    return math.copysign(math.sqrt(max(0.0, 2.0 * fall)), side)


def _root(drawn: StressRuns, p: float, stress: float, relation: str, truth: float) -> float | None:
    try:
        like = stress_likelihood(drawn, relation, p, stress)
        top, held = like.peak(), like.peak(Held(log_life=truth))
    except FitError:
        return None
    return signed_root(top.value - held.value, top.log_life - truth)
