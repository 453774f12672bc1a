"""Parameter draws behind a forecast: what the life distribution may be, given the records.

A forecast with fitted parameters put in as if they were known is never calibrated, however many
data there are (Tian, Meng, Nordman & Meeker 2021); so every forecast here averages over draws.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.bands.bayes.mixture import ShapeMixture
from fleetstats.bands.method import shape_prior
from fleetstats.bands.resampling.refit import refit_once
from fleetstats.core.errors import FitError
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array, Floats, Value, value
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import EvidenceKeys
from fleetstats.vocabulary.limits import FEW_FOR_WEIGHTS
from fleetstats.vocabulary.wording import failures_told


@value
class LifeDraws(Value):
    """Draws of the Weibull's parameters.

    Parameters
    ----------
    shape, scale_h : (B,) float
        One row to a draw.
    method : str
        ``"weights"`` (fractional-weight refits) or ``"shape-mixture"``.
    why : str
        Why this method, in one sentence.
    """

    shape: Floats
    scale_h: Floats
    method: str
    why: str

    def __len__(self) -> int:
        return len(self.shape)

    def cumulative_hazard(self, hours: ArrayLike) -> Array:
        """Return (B, m) minus log reliability at `hours` (m,)."""
        t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        with np.errstate(divide="ignore", over="ignore"):
            log_t = np.log(t)[None, :] - np.log(self.scale_h)[:, None]
            return np.asarray(np.exp(np.minimum(self.shape[:, None] * log_t, 700.0)))

    def conditional_failure(self, hours: ArrayLike, width_h: ArrayLike) -> Array:
        """Return (B, m) chances of failing within `width_h` after surviving to `hours` (m,)."""
        t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        w = np.broadcast_to(np.asarray(width_h, dtype=np.float64), t.shape)
        rise = self.cumulative_hazard(t + w) - self.cumulative_hazard(t)
        return np.asarray(-np.expm1(-np.maximum(rise, 0.0)))

    def remaining_life(self, hours: ArrayLike, p: float) -> Array:
        """Return (B, m) further hours within which a share `p` of engines at `hours` fails."""
        t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        total = self.cumulative_hazard(t) - np.log1p(-p)
        with np.errstate(over="ignore"):
            end = self.scale_h[:, None] * total ** (1.0 / self.shape[:, None])
        return np.asarray(np.maximum(end - t[None, :], 0.0))


def draw_lives(
    spells: Spells, evidence: EvidenceKeys, n: int, *, seed: int, method: str = "auto"
) -> LifeDraws:
    """Draw the Weibull's parameters from what the records leave open.

    Parameters
    ----------
    spells : Spells
        The lives.
    evidence : EvidenceKeys
        The shape prior used with few failures.
    n : int
        Draws asked for; refits without a maximum are left out.
    seed : int
        Of the study.
    method : {"auto", "weights", "shape-mixture"}
        ``"auto"`` takes weights from `FEW_FOR_WEIGHTS` failures on.

    Returns
    -------
    LifeDraws
    """
    r = spells.n_failed
    if method == "weights" or (method == "auto" and r >= FEW_FOR_WEIGHTS):
        try:
            draws = refit_once(spells, n, seed=seed).kept
        except FitError:
            draws = None
        if draws is not None and len(draws) >= n // 2:
            return LifeDraws(
                shape=draws.shape,
                scale_h=draws.scale_h,
                method="weights",
                why=f"{r:g} failures; engines reweighted at random and refitted "
                f"{len(draws):,} times.",
            )
    return _mixed(spells, evidence, n, seed)


def _mixed(spells: Spells, evidence: EvidenceKeys, n: int, seed: int) -> LifeDraws:
    prior = shape_prior(evidence)
    mix = ShapeMixture.of_spells(spells, prior)
    shape, scale = mix.draw(n, stream(seed, "forecast-mixture"))
    seen = f"{spells.n_failed:g} failures"
    if spells.left_out:
        seen = failures_told(spells.n_failed, spells.n_left_out)
    return LifeDraws(
        shape=shape,
        scale_h=scale,
        method="shape-mixture",
        why=f"{seen} do not tell the shape: shapes mixed by the stated "
        f"prior (median {prior.median:g}, log standard deviation {prior.log_sd:g}).",
    )
