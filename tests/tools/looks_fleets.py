"""Fleets that are looked at ten times while they grow, for the study of looks.

Engines join evenly and run 90 to 170 h a year; the claim is 1,200 h at 10 %. With the use and the
number of engines chosen so, a boundary of 1.9 over the root of the information, on plain signed
likelihood roots, calls a claim at half the accepted chance supported in 88 % of fleets by the tenth
look. Fleets of a cell share entries and looks and differ in what failed, so that all are asked at
once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.bands.bayes.mixture import OPTIMISTIC, PESSIMISTIC, ShapeMixture
from fleetstats.bands.bayes.prior import ShapePrior
from fleetstats.bands.likelihood.batch import find_maxima, signed_roots
from fleetstats.bands.likelihood.power import PowerSums
from fleetstats.bands.looks.any_number import SPREAD
from fleetstats.bands.quantity import Quantity
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.spells import Spells

CLAIM_H, ACCEPTED = 1200.0, 0.10
LIMIT = -float(np.log1p(-ACCEPTED))
"""Cumulative hazard at the claimed hours of a claim exactly at its limit."""

LOOKS = 10
HEARD_YEAR = 8.0
"""Year from which on every second engine is known, in cells with late entry."""

GRID = np.linspace(np.log(0.05), np.log(60.0), 142)
REFERENCE_H = 2000.0
NODES = 64
THETA = np.linspace(np.log(0.15), np.log(60.0), 99)
"""Log shapes of the any-number edges: 4.3 spreads of the prior to either side of its median."""

SCORE = np.log(LIMIT) + SPREAD * np.linspace(-5.0, 5.0, 101)


@dataclass(frozen=True, slots=True, kw_only=True)
class LookCell:
    """One truth and one way of growing.

    Parameters
    ----------
    growth : {"joining", "settled"}
        Engines join over 20 years and a look is taken every second one; or all join within 8 years
        and a look is taken every year from then on, at fewer hours a year.
    shape : float
    n : int
        Engines by the last look.
    late : bool
        Whether every second engine is first heard of in year 8, at the age that it then has.
    ratio : float
        True cumulative hazard at the claimed hours over that of the claim's limit.
    """

    growth: str
    shape: float
    n: int
    late: bool
    ratio: float

    @property
    def key(self) -> str:
        """Return a name for its own stream of draws; fleets of all truths share their luck."""
        return f"looks-{self.growth}-{self.shape:g}-{self.n}-{int(self.late)}"

    def ages(self) -> list[tuple[Array, Array]]:
        """Return (n,) entries and stops in hours at each look, the same where not yet seen."""
        k = np.arange(self.n)
        years = np.arange(1, LOOKS + 1) * 2.0
        join, use = 20.0 * (k + 0.5) / self.n, 90.0 + 80.0 * ((k * 0.6180339887498949) % 1.0)
        if self.growth == "settled":
            years, join, use = 8.0 + np.arange(1, LOOKS + 1), 0.4 * join, 0.6 * use
        heard = np.where(self.late & (k % 2 == 1), HEARD_YEAR, 0.0)
        entry = np.maximum(heard - join, 0.0) * use
        return [(entry, np.maximum(np.maximum(y - join, 0.0) * use, entry)) for y in years]

    def lives(self, fleets: int, *, seed: int) -> Array:
        """Return (fleets, n) ages at failure, given survival to entry."""
        entry, hazard = self.ages()[0][0], LIMIT * self.ratio
        start = hazard * (entry / CLAIM_H) ** self.shape
        luck = stream(seed, self.key).standard_exponential((fleets, self.n))
        return np.asarray(CLAIM_H * ((start + luck) / hazard) ** (1.0 / self.shape))


def spells_at(cell: LookCell, life: Array, look: int) -> Spells:
    """Return one fleet at one look, from its ages at failure (n,); look from 0."""
    entry, stop = cell.ages()[look]
    seen = stop > entry
    failed = life <= stop
    return Spells.of(entry[seen], np.where(failed, life, stop)[seen], failed[seen].astype(int))


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What F fleets say at each of ten looks; all (F, 10).

    Parameters
    ----------
    supported_p, contradicted_p : float
        Least one-sided level at which the calibrated band would say the word.
    root : float
        Signed likelihood root of the claim at its limit, positive where fewer fail.
    any_supported, any_contradicted : float
        Log of the evidence of the any-number edges against the limit.
    information : float
        Failures expected at the limit for the median shape of the prior.
    n_failed : float
    """

    supported_p: Array
    contradicted_p: Array
    root: Array
    any_supported: Array
    any_contradicted: Array
    information: Array
    n_failed: Array


def ask_fleets(cell: LookCell, fleets: int, *, seed: int) -> Asked:
    """Ask all fleets of a cell at every look."""
    life = cell.lives(fleets, seed=seed)
    looks = [_ask(entry, stop, life) for entry, stop in cell.ages()]
    names = Asked.__dataclass_fields__
    return Asked(**{k: np.stack([x[k] for x in looks], axis=1) for k in names})


def _ask(entry: Array, stop: Array, life: Array) -> dict[str, Array]:
    seen = stop > entry
    entry, stop, life = entry[seen], stop[seen], life[:, seen]
    failed = life <= stop
    ends = np.where(failed, life, stop)
    sums = PowerSums.of_simulated(
        entry, stop, ends, failed, reference_h=REFERENCE_H, low_shape=float(np.exp(GRID[0])),
        high_shape=float(np.exp(GRID[-1])), count=NODES,
    )  # fmt: skip
    what, prior = Quantity.reliability(CLAIM_H), ShapePrior()
    r, limit = sums.n_failed, np.full(len(life), 1.0 - ACCEPTED)
    mixed = ShapeMixture.of_sums(sums, prior, share_failed=r / len(entry), theta=GRID)
    over = 1.0 - mixed.below(what, limit, added=OPTIMISTIC)
    top = find_maxima(sums, GRID)
    with np.errstate(all="ignore"):
        root = signed_roots(sums, top, what, what.score_of(limit, REFERENCE_H), GRID)
    shape = prior.median
    supported, contradicted = _any_number(sums, prior)
    return {
        "supported_p": mixed.below(what, limit, added=PESSIMISTIC),
        "contradicted_p": np.where(r > 0.0, over, 1.0),
        "root": -np.where(top.found, root, 0.0),
        "any_supported": supported,
        "any_contradicted": contradicted,
        "information": LIMIT * ((ends / CLAIM_H) ** shape - (entry / CLAIM_H) ** shape).sum(axis=1),
        "n_failed": r,
    }


def _any_number(sums: PowerSums, prior: ShapePrior) -> tuple[Array, Array]:
    """Return (F,) logs of the evidence for fewer and for more failures than the limit.

    As `bands/looks/any_number.py`, for many fleets on one coarser grid.
    """
    u = SCORE[None, :] - np.exp(THETA)[:, None] * np.log(CLAIM_H / REFERENCE_H)
    z = (THETA - np.log(prior.median)) / prior.log_sd
    away = (SCORE - np.log(LIMIT)) / SPREAD
    density = (
        -0.5 * (z[:, None] ** 2 + away[None, :] ** 2)
        - np.log(2.0 * np.pi * prior.log_sd * SPREAD)
        + np.log((THETA[1] - THETA[0]) * (SCORE[1] - SCORE[0]))
        + np.where(np.abs(away) < 1e-9, 0.0, np.log(2.0))[None, :]
    )
    out = []
    # the cumulative hazard is the rate at the claimed hours times what the shape makes of the ages
    rate = np.exp(SCORE)[None, :]
    ages = np.exp(sums.log_power(THETA) - np.exp(THETA) * np.log(CLAIM_H / REFERENCE_H))
    fewer, null = away <= 1e-9, away >= -1e-9
    for i in range(len(sums)):
        fit = (
            sums.n_failed[i] * (u + THETA[:, None])
            + (sums.sum_log[i] * np.exp(THETA))[:, None]
            - ages[i][:, None] * rate
        )
        for_fewer = _log_sum(fit[:, fewer] + density[:, fewer]) - fit[:, null].max()
        out.append((for_fewer, _log_sum(fit[:, null] + density[:, null]) - fit[:, fewer].max()))
    return np.array(out)[:, 0], np.array(out)[:, 1]


def _log_sum(x: Array) -> float:
    top = float(x.max())
    return top + float(np.log(np.exp(x - top).sum()))
