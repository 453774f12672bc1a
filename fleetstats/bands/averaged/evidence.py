"""How well the records speak for a law, and draws of its numbers: adaptive importance sampling.

The first round draws from the prior; each later one from a t distribution about what the rounds
before found, tempered until enough draws carry weight. All rounds then count together, each draw
weighed against the mixture of all rounds' densities (Cornuet, Marin, Mira & Robert 2012). The mean
weight is the integrated likelihood of the law, which by itself holds what further numbers must earn
(Kass & Raftery 1995).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.bands.averaged.cells import AgeCells
from fleetstats.bands.averaged.laws import LEVEL_SD, LifeLaw
from fleetstats.core.value import Array

FIRST, EACH, ROUNDS = 400, 200, 6
"""Draws of the first round and of each later one, and how many later rounds at most."""

ENOUGH = 0.5
"""Share of a round that must count in full for it to be the last."""

LEAST_COUNTED = 40.0
"""Draws that must carry weight for a round's mean and spread to be believed."""

DEGREES = 5.0
"""Degrees of freedom of the t distribution drawn from."""


@dataclass(frozen=True, slots=True)
class WeighedLaw:
    """Draws (N, k) of a law's numbers, their weights (N,), summing to 1, and the log evidence."""

    law: LifeLaw
    theta: Array
    weight: Array
    log_evidence: float

    def pick(self, n: int, rng: np.random.Generator) -> Array:
        """Return n draws, evenly by weight, in random order."""
        at = (np.arange(n) + rng.random()) / max(n, 1)
        k = np.minimum(np.searchsorted(np.cumsum(self.weight), at), len(self.weight) - 1)
        return np.asarray(self.theta[rng.permutation(k)])


def weigh_law(law: LifeLaw, cells: AgeCells, rng: np.random.Generator) -> WeighedLaw:
    """Return draws of a law's numbers by their posterior, and its integrated likelihood."""
    middle = np.array([cells.level, *law.middle])
    spread = np.array([LEVEL_SD, *law.spread])
    ratio = cells.edge_h / cells.reference_h
    theta = middle + spread * rng.standard_normal((FIRST, len(middle)))
    made = [theta]
    target = [_target(law, cells, ratio, theta, middle, spread)]
    forms: list[tuple[Array, Array]] = []
    for _ in range(ROUNDS):
        all_theta, goal = np.concatenate(made), np.concatenate(target)
        log_w = goal - _mixed(all_theta, middle, spread, forms)
        center, root, counted = _form(all_theta, log_w)
        if forms and counted > ENOUGH * len(all_theta):
            break
        forms.append((center, root))
        z = rng.standard_normal((EACH, len(middle)))
        z *= np.sqrt(DEGREES / rng.chisquare(DEGREES, EACH))[:, None]
        theta = center + z @ root.T
        made.append(theta)
        target.append(_target(law, cells, ratio, theta, middle, spread))
    all_theta, goal = np.concatenate(made), np.concatenate(target)
    log_w = goal - _mixed(all_theta, middle, spread, forms)
    top = log_w.max()
    w = np.exp(log_w - top)
    return WeighedLaw(law, all_theta, w / w.sum(), float(top + np.log(w.mean())))


def _target(
    law: LifeLaw, cells: AgeCells, ratio: Array, theta: Array, middle: Array, spread: Array
) -> Array:
    """Return (N,) logs of likelihood times prior."""
    like = cells.log_likelihood(law.hazard(theta, ratio))
    out = like + _normal(theta, middle, spread)
    return np.where(np.isfinite(out), out, -1e300)


def _normal(theta: Array, middle: Array, spread: Array) -> Array:
    z = (theta - middle) / spread
    return np.asarray(-0.5 * (z * z).sum(axis=1) - np.log(spread * np.sqrt(2 * np.pi)).sum())


def _mixed(theta: Array, middle: Array, spread: Array, forms: list[tuple[Array, Array]]) -> Array:
    """Return (N,) logs of the density that all rounds together drew from."""
    n = np.array([FIRST, *[EACH] * len(forms)], dtype=np.float64)
    logs = [_normal(theta, middle, spread), *(_t(theta, *form) for form in forms)]
    return np.asarray(np.logaddexp.reduce(np.stack(logs) + np.log(n / n.sum())[:, None], axis=0))


def _t(theta: Array, center: Array, root: Array) -> Array:
    from scipy.special import gammaln

    k = len(center)
    z = np.linalg.solve(root, (theta - center).T)
    log_det = float(np.log(np.abs(np.diag(root))).sum())
    head = gammaln(0.5 * (DEGREES + k)) - gammaln(0.5 * DEGREES)
    head -= 0.5 * k * np.log(DEGREES * np.pi) + log_det
    return np.asarray(head - 0.5 * (DEGREES + k) * np.log1p((z * z).sum(axis=0) / DEGREES))


def _form(theta: Array, log_w: Array) -> tuple[Array, Array, float]:
    """Return mean, root of the covariance, and how many draws count, tempered as need be."""
    log_w = log_w - log_w.max()
    power = 1.0
    w = np.exp(log_w)
    counted = full = float(w.sum() ** 2 / (w * w).sum())
    while counted < LEAST_COUNTED and power > 1e-6:
        power *= 0.7
        w = np.exp(power * log_w)
        counted = float(w.sum() ** 2 / (w * w).sum())
    w = w / w.sum()
    center = w @ theta
    away = theta - center
    cov = (w[:, None] * away).T @ away
    cov += np.diag(1e-6 * np.diag(cov) + 1e-10)
    return center, np.linalg.cholesky(cov), full
