"""Fleets under truths that no curve of the product is: an independent generator, hour by hour.

Each engine walks through cells of ten hours and fails in each with the chance of its own hazard
there: no law is inverted and nothing of `survival/simulated` is used, by which the product tries
itself. Weak engines are weak engines, batches and sources have factors of their own, and the years
behind us may have had another hazard than today's.

Each truth is scaled so that an engine new today, of an unknown batch, source and strength, fails
before the claimed hours with a stated chance. How strongly each departs is our own (no source).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Array
from fleetstats.spells import Spells

CLAIM_H = 1000.0
CELL_H = 10.0
YEAR_H = 150.0
"""Hours an engine runs in a year."""

AHEAD_H = 2.0 * YEAR_H
SHORT_H = 100.0
OLDEST_H = {"young": 1100.0, "mature": 2200.0}
EDGE_H = np.arange(0.0, 2200.0 * 1.0 + AHEAD_H + 2 * CELL_H, CELL_H)

SPREAD = 0.5
SOURCES = 6
BATCH = 20
WEAK, WEAK_BY_CLAIM = 0.06, 0.75


@dataclass(frozen=True, slots=True)
class OtherTruth:
    """One truth: `law` of the hazard, what has a factor as a whole, and what records lose.

    `risen` is the factor on the hazard in the last three years, `clock` that on the hours of half
    the engines as written, `lost` what becomes of a fifth of the failures.
    """

    key: str
    law: str = "weibull"
    spread: str = ""
    risen: float = 1.0
    clock: float = 1.0
    lost: str = ""
    heaped: bool = False


OTHER_TRUTHS = (
    OtherTruth("Weibull"),
    OtherTruth("constant hazard", law="constant"),
    OtherTruth("lognormal", law="lognormal"),
    OtherTruth("weak share", law="weak"),
    OtherTruth("bathtub", law="bathtub"),
    OtherTruth("batches differ", spread="batch"),
    OtherTruth("sources differ", spread="source"),
    OtherTruth("hazard doubled in three years", risen=2.0),
    OtherTruth("a fifth unreported", lost="unreported"),
    OtherTruth("failures told as removals", lost="removal"),
    OtherTruth("half of the clocks 15 % high", clock=1.15),
    OtherTruth("hours heaped at 50", heaped=True),
)
"""Every truth, in the order of the table."""


@dataclass(frozen=True, slots=True)
class OtherFleet:
    """One fleet as recorded, and what comes of its running engines, unknown to the records.

    Parameters
    ----------
    spells : Spells
        As written.
    age_h, year_h : (m,) float
        Hours of the running engines, and hours each runs in a year, both as written.
    fails_in : (m,) float
        True years from today to each one's failure; infinite past two.
    chance : (m,) float
        True chance of each, with all that only the generator knows, of failing within 100 h as
        written.
    """

    spells: Spells
    age_h: Array
    year_h: Array
    fails_in: Array
    chance: Array


def cumulative(truth: OtherTruth, chance: float) -> tuple[Array, Array, float]:
    """Return hazards at the edges of sound and of weak engines (G,), and the share of the weak."""
    x, goal = EDGE_H / CLAIM_H, -math.log1p(-chance)
    if truth.law == "weak":
        weak_share = WEAK * chance / 0.10
        rest = (chance - weak_share * WEAK_BY_CLAIM) / (1.0 - weak_share)
        weak = -math.log1p(-WEAK_BY_CLAIM) * x**2.2
        return -math.log1p(-rest) * x**3.5, weak, weak_share
    if truth.spread:
        nodes, w = np.polynomial.hermite_e.hermegauss(60)
        low, high = 1e-3 * goal, 1e3 * goal
        for _ in range(100):
            goal = math.sqrt(low * high)
            mean = float(w @ -np.expm1(-goal * np.exp(SPREAD * nodes)) / w.sum())
            low, high = (low, goal) if mean > chance else (goal, high)
    shapes = {"weibull": x**2.5, "constant": x, "bathtub": 0.5 * (x**0.6 + x**6.0)}
    if truth.law == "lognormal":
        from scipy.special import log_ndtr, ndtri

        with np.errstate(divide="ignore"):
            h = -log_ndtr(-(np.log(x) / 0.5 + float(ndtri(chance))))
    else:
        h = goal * shapes[truth.law]
    return h, h, 0.0


def make_fleet(
    truth: OtherTruth, chance: float, n: int, ages: str, rng: np.random.Generator
) -> OtherFleet:
    """Make up one fleet of about n engines that still run or have failed.

    Ages today are even between 50 h and the greatest of `ages`; two in five engines are followed
    only from some hours on, and those that failed before are in no record.
    """
    sound, weak, weak_share = cumulative(truth, chance)
    today = rng.uniform(50.0, OLDEST_H[ages], n)
    entry = np.where(rng.random(n) < 0.4, rng.uniform(0.0, 0.6, n) * today, 0.0)
    source = rng.integers(0, SOURCES, n)
    of = np.arange(n) // BATCH if truth.spread == "batch" else source
    factor = np.ones(n)
    if truth.spread:
        factor = np.exp(SPREAD * rng.standard_normal(of.max() + 1))[of]
    is_weak = rng.random(n) < weak_share
    rise = np.where(is_weak[:, None], np.diff(weak), np.diff(sound)) * factor[:, None]
    if truth.risen != 1.0:
        since = today - 3.0 * YEAR_H
        rise = np.where(EDGE_H[None, 1:] <= since[:, None], rise / truth.risen, rise)
    fails = rng.random(rise.shape) < -np.expm1(-rise)
    first = np.where(fails.any(axis=1), fails.argmax(axis=1), 10**6)
    age = (first + rng.random(n)) * CELL_H
    keep = age > entry
    today, entry, age, rise = (x[keep] for x in (today, entry, age, rise))
    source = source[keep]
    failed = age <= today
    clock = np.where(rng.random(len(age)) < 0.5, truth.clock, 1.0)
    running = ~failed
    written = _written(truth, entry, np.minimum(age, today), failed, clock, source, rng)
    hours = np.concatenate([np.zeros((len(rise), 1)), np.cumsum(rise, axis=1)], axis=1)
    ahead = [_read(hours, today + w) for w in (0.0, SHORT_H / clock)]
    return OtherFleet(
        spells=written,
        age_h=(today * clock)[running],
        year_h=(YEAR_H * clock)[running],
        fails_in=np.where(age <= today + AHEAD_H, (age - today) / YEAR_H, np.inf)[running],
        chance=-np.expm1(ahead[0] - ahead[1])[running],
    )


def _read(hazard: Array, hours: Array) -> Array:
    k = np.minimum((hours / CELL_H).astype(np.int64), hazard.shape[1] - 2)
    row = np.arange(len(hours))
    part = hours / CELL_H - k
    return np.asarray(hazard[row, k] * (1.0 - part) + hazard[row, k + 1] * part)


def _written(
    truth: OtherTruth,
    entry: Array,
    end: Array,
    failed: Array,
    clock: Array,
    source: Array,
    rng: np.random.Generator,
) -> Spells:
    """Return the spells that the records would give."""
    entry, end = entry * clock, end * clock
    if truth.heaped:
        near = 50.0 * np.round(end / 50.0)
        end = np.where(near > entry, near, end)
    gone = failed & (rng.random(len(end)) < 0.2)
    keep = end > entry
    if truth.lost == "unreported":
        keep &= ~gone
    elif truth.lost == "removal":
        failed = failed & ~gone
    names = np.array([f"s{k}" for k in range(SOURCES)])[source]
    return Spells.of(entry[keep], end[keep], failed[keep], source=names[keep])
