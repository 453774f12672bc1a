"""What the law of life may be, averaged over laws by how well the records speak for each.

A forecast from one fitted law is as wrong as the law: on simulated fleets whose risk comes half
early and half with late wear, 90 % intervals of a Weibull held 62 % one year ahead and 38 % two.
Here each law weighs what it weighs before the data (`laws.LAWS`) times its integrated likelihood,
and hands in that share of the draws (Hoeting, Madigan, Raftery & Volinsky 1999). The Weibull's
draws stay those of `bands/draws.py`, whose coverage is measured. With few failures no law is told
from another: then a constant hazard keeps its say, which draws the chances of worn engines towards
the fleet's own rate, by evidence and no further.
"""

from __future__ import annotations

import numpy as np

from fleetstats.bands.averaged.cells import AgeCells
from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.bands.averaged.evidence import WeighedLaw, weigh_law
from fleetstats.bands.averaged.laws import LAWS
from fleetstats.bands.draws import LifeDraws, draw_lives
from fleetstats.bands.method import shape_prior
from fleetstats.core.kept import kept
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import EvidenceKeys

LEAST_WEIGHT = 0.005
"""Share of the draws beneath which a law is left out; it could not move a 5 % edge."""

PAST = 40.0
"""How far curves go on past the oldest age asked, as a factor."""


def draw_any_lives(
    spells: Spells, evidence: EvidenceKeys, n: int, *, seed: int, top_h: float
) -> LifeCurves:
    """Draw curves of life from what the records leave open, whatever the law.

    Parameters
    ----------
    spells : Spells
        The lives.
    evidence : EvidenceKeys
        The shape prior used with few failures. A stated one is on a Weibull's shape, and while it
        is that which gives the shape, no other law is asked.
    n : int
        Draws asked for.
    seed : int
        Of the study.
    top_h : float
        Oldest age in hours that will be asked about.

    Returns
    -------
    LifeCurves
    """
    base = draw_lives(spells, evidence, n, seed=seed)
    top = max(top_h, spells.oldest_h)
    if base.method == "shape-mixture" and shape_prior(evidence).stated:
        return _of_weibull(base, top)
    weighed = weigh_laws(spells, seed)
    share = law_shares(weighed)
    count = _counts(np.array([share[w.law.key] for w in weighed]), len(base))
    grid = _ages(top)
    rng = stream(seed, "forecast-laws")
    rows = []
    for w, m in zip(weighed, count, strict=True):
        if not m:
            continue
        if w.law.key == "Weibull":
            take = rng.choice(len(base), m, replace=False)
            rows.append(_weibull_rows(base, grid)[take])
            continue
        ratio = grid / weigh_cells(spells).reference_h
        hazard = w.law.hazard(w.pick(int(m), rng), ratio)
        rows.append(np.log(np.maximum(hazard, 1e-300)))
    made = np.concatenate(rows)
    # in mixed order, so that any first part of the draws is an average too
    made = made[rng.permutation(len(made))]
    told = sorted(((k, v) for k, v in share.items() if v > 0.0), key=lambda kv: -kv[1])
    return LifeCurves(
        hours=grid,
        log_hazard=made,
        factor=np.ones(len(made)),
        method=base.method,
        why=f"{base.why} {_weights_told(told)}",
        laws=tuple(told),
    )


def weigh_cells(spells: Spells) -> AgeCells:
    """Return the lives counted by age, once for the same spells."""
    return kept(spells, ("cells",), lambda: AgeCells.of(spells, 0.0))


def weigh_laws(spells: Spells, seed: int) -> tuple[WeighedLaw, ...]:
    """Return draws and evidence of each law, once for the same spells and seed."""

    def work() -> tuple[WeighedLaw, ...]:
        cells = weigh_cells(spells)
        return tuple(weigh_law(w, cells, stream(seed, f"law {w.key}")) for w in LAWS)

    return kept(spells, ("laws", seed), work)


def law_shares(weighed: tuple[WeighedLaw, ...]) -> dict[str, float]:
    """Return what each law weighs after the data, those that weigh next to nothing left out."""
    log_w = np.array([w.log_evidence + np.log(w.law.before) for w in weighed])
    share = np.exp(log_w - log_w.max())
    share /= share.sum()
    share = np.where(share < LEAST_WEIGHT, 0.0, share)
    share /= share.sum()
    return {w.law.key: float(s) for w, s in zip(weighed, share, strict=True)}


def _weights_told(told: list[tuple[str, float]]) -> str:
    laws = ", ".join(f"{k} {100.0 * v:.0f} %" for k, v in told)
    return f"Laws of life are averaged by how well the records speak for each: {laws}."


def _counts(share: Array, n: int) -> Array:
    """Return whole numbers that sum to n, as near to the shares as may be."""
    out = np.floor(share * n).astype(np.int64)
    left = np.argsort(out - share * n, kind="stable")
    out[left[: n - int(out.sum())]] += 1
    return np.asarray(out)


def _ages(top: float) -> Array:
    near = top * (np.arange(1, 121) / 120) ** 1.5
    return np.concatenate([near, top * np.geomspace(1.03, PAST, 40)])


def _weibull_rows(draws: LifeDraws, grid: Array) -> Array:
    log_t = np.log(grid)[None, :] - np.log(draws.scale_h)[:, None]
    return np.asarray(draws.shape[:, None] * log_t)


def _of_weibull(draws: LifeDraws, top: float) -> LifeCurves:
    grid = _ages(top)
    return LifeCurves(
        hours=grid,
        log_hazard=_weibull_rows(draws, grid),
        factor=np.ones(len(draws)),
        method=draws.method,
        why=draws.why,
        laws=(("Weibull", 1.0),),
    )
