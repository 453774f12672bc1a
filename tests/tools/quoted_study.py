"""The study behind the rule for quoted edges: does it hold, how wide is it, does it keep its law?

``python tests/tools/quoted_study.py`` simulates fleets of four designs (ages staggered; half heard
of late; a few leaders; most of them old), true shapes 0.8 to 6 and 1 to 16 failures expected, and
asks the rule itself at the B10 life and at half, five sixths and all of the evidence. Then it adds
one failure, or unfailed hours, to made fleets and tells how often and how far an edge got better,
or worse. Fleets without a failure are among those counted.
"""

from __future__ import annotations

import argparse
import datetime as dt
import sys
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
from trial_fleets import OLDEST_H

from fleetstats.advice.quoted import near_claim, open_shapes, reliability_low
from fleetstats.bands.counted import high_beside_curve
from fleetstats.bands.quantity import Quantity
from fleetstats.bands.shape_free import Settled
from fleetstats.core.seeds import stream
from fleetstats.core.value import Array
from fleetstats.spells import Event, Spells
from fleetstats.study.settings import Settings, StudyKeys

SEED = 20261129
CONFIDENCE = 0.95
DESIGNS = (("staggered", 50), ("late", 250), ("leaders", 250), ("old", 60))
SHAPES = (0.8, 1.0, 2.0, 3.0, 4.0, 6.0)
EXPECTED = (1.0, 2.0, 4.0, 8.0, 16.0)
SHARES = (0.5, 0.83, 1.0)
WIDTH_H = 50.0
SETTINGS = Settings(study=StudyKeys(title="trial", analysis_date=dt.date(2026, 1, 1)))


@dataclass(frozen=True, slots=True)
class Truth:
    """One design and one truth: (n,) entries and stops in hours, shape, scale in hours."""

    name: str
    entry: Array
    stop: Array
    shape: float
    scale_h: float

    @classmethod
    def of(cls, design: str, n: int, shape: float, expected: float) -> Truth:
        """Set the scale so that so many failures are expected."""
        k = np.arange(n)
        stop = np.linspace(50.0, OLDEST_H, n)
        entry = np.zeros(n)
        if design == "late":
            entry = np.where(k % 2 == 1, 0.8 * ((k * 0.6180339887) % 1.0), 0.0) * stop
        elif design == "leaders":
            stop = OLDEST_H * (0.15 + 0.85 * ((k + 0.5) / n) ** 3)
        elif design == "old":
            stop = OLDEST_H * ((k + 0.5) / n) ** 0.3
        low, high = 1.0, 1e14
        for _ in range(90):
            mid = float(np.sqrt(low * high))
            chance = -np.expm1((entry / mid) ** shape - (stop / mid) ** shape)
            low, high = (mid, high) if chance.sum() > expected else (low, mid)
        return cls(f"{design}-{n}-{shape:g}-{expected:g}", entry, stop, shape, low)

    def hazard(self, hours: float) -> float:
        """Return the cumulative hazard by an age."""
        return float((hours / self.scale_h) ** self.shape)

    def draw(self, fleets: int, seed: int) -> Iterator[Spells]:
        """Yield fleets; lives are given survival to entry."""
        rng = stream(seed, f"quoted-{self.name}")
        start = (self.entry / self.scale_h) ** self.shape
        for _ in range(fleets):
            life = self.scale_h * (start + rng.standard_exponential(len(start))) ** (1 / self.shape)
            yield Spells.of(self.entry, np.minimum(life, self.stop), life <= self.stop)


def lower_edges(spells: Spells, hours: Array) -> Array:
    """Return (m,) lower edges of reliabilities, as claims and plans have them."""
    return np.array([reliability_low(spells, SETTINGS, float(h), CONFIDENCE) for h in hours])


def life_low_h(spells: Spells) -> float:
    """Return the lower edge of the B10 life, by the same rule."""
    by_curve = min(
        open_shapes(spells, SETTINGS).life_h(0.1),
        near_claim(spells, SETTINGS).life_low_h(0.1, CONFIDENCE),
    )
    settled = Settled.of_spells(spells)
    most = high_beside_curve(settled, Quantity.life(0.1), CONFIDENCE)
    low = max(by_curve, settled.life_low_h(0.1, CONFIDENCE))
    return low if most is None else min(low, most)


def held(truth: Truth, fleets: int, seed: int) -> dict[str, float]:
    """Return the share of fleets whose pessimistic edge holds the truth, by what is asked."""
    reach = Spells.of(truth.entry, truth.stop, np.zeros(len(truth.stop))).horizon_h()
    life = truth.scale_h * float(-np.log(0.9)) ** (1.0 / truth.shape)
    out: dict[str, int] = defaultdict(int)
    for fleet in truth.draw(fleets, seed):
        shapes = open_shapes(fleet, SETTINGS)
        out["B10"] += life_low_h(fleet) <= life
        for share in SHARES:
            t = share * reach
            edge = float(lower_edges(fleet, np.array([t]))[0])
            out[f"R at {share:g}"] += edge <= np.exp(-truth.hazard(t)) * (1.0 + 1e-12)
            chance = -np.expm1(truth.hazard(t) - truth.hazard(t + WIDTH_H))
            out[f"chance at {share:g}"] += float(shapes.chance(np.array([t]), WIDTH_H)[0]) >= chance
    return {k: n / fleets for k, n in out.items()}


def law_fleets(n: int, seed: int) -> Iterator[tuple[Spells, np.random.Generator]]:
    """Yield made fleets of 30 to 150 engines with 0.3 to 15 failures expected, and draws to use."""
    rng = stream(seed, "law")
    while n:
        size = int(rng.choice([30, 60, 150]))
        shape = float(rng.choice([0.8, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 6.0]))
        entry = np.where(rng.random(size) < 0.4 * rng.integers(2), rng.uniform(0, 800, size), 0.0)
        stop = entry + rng.uniform(50.0, 1800.0, size)
        expected = float(np.exp(rng.uniform(np.log(0.3), np.log(15.0))))
        scale = float((((stop**shape) - entry**shape).sum() / expected) ** (1.0 / shape))
        life = scale * ((entry / scale) ** shape + rng.standard_exponential(size)) ** (1 / shape)
        fleet = Spells.of(entry, np.minimum(life, stop), life <= stop)
        if fleet.horizon_h() > 0.0 and not fleet.failed.all():
            n -= 1
            yield fleet, rng


@dataclass(frozen=True, slots=True)
class Edges:
    """What the rule says of a fleet: chances at and after ages (m,), and the B10 life in hours."""

    by_age: Array
    before_check: Array
    life_h: float

    @classmethod
    def of(cls, spells: Spells, hours: Array) -> Edges:
        """Ask the rule."""
        shapes = open_shapes(spells, SETTINGS)
        return cls(
            1.0 - lower_edges(spells, hours), shapes.chance(hours, WIDTH_H), life_low_h(spells)
        )


def one_failure_more(fleet: Spells, rng: np.random.Generator) -> tuple[float, float, float]:
    """Turn a running engine into a failure at its own hours and return what got better.

    The chance by an age at or past it, as a share of itself; the log of the chance before the next
    check; the B10 life beyond that age, as a share of itself. 0 or less: none did.
    """
    live = np.flatnonzero(~fleet.failed)
    i = int(rng.choice(live))
    age, end = float(fleet.exit_upper[i]), fleet.horizon_h()
    event = np.array(fleet.event)
    event[i] = int(Event.FAILED)
    hours = np.array([age, rng.uniform(age, max(age, end)), max(age, end)])
    a, b = Edges.of(fleet, hours), Edges.of(fleet.replace(event=event), hours)
    life = b.life_h / max(a.life_h, age) - 1.0
    return (
        float((1.0 - b.by_age / a.by_age).max()),
        float(np.log(a.before_check / b.before_check).max()),
        life,
    )


def hours_more(fleet: Spells, rng: np.random.Generator, added_h: float, every: bool) -> float:
    """Let one running engine, or every, run on without a failure; return how far a chance rose."""
    live = np.flatnonzero(~fleet.failed)
    rows = live if every else live[[int(rng.integers(len(live)))]]
    stop = np.array(fleet.exit_upper)
    stop[rows] += added_h
    lower = np.array(fleet.exit_lower)
    lower[rows] += added_h
    end = fleet.horizon_h()
    hours = np.array([0.5 * end, rng.uniform(0.2, 1.0) * end, end])
    more = fleet.replace(exit_upper=stop, exit_lower=lower)
    return float((Edges.of(more, hours).by_age - Edges.of(fleet, hours).by_age).max())


HOURS_MORE = (("one +50 h", 50.0, False), ("one +400 h", 400.0, False), ("all +100 h", 100.0, True))


def main(arguments: list[str] | None = None) -> int:
    """Run the study and print its tables."""
    parser = argparse.ArgumentParser(description="Measure the rule for quoted edges.")
    parser.add_argument("--fleets", type=int, default=1000, help="fleets a cell")
    parser.add_argument("--laws", type=int, default=2000, help="fleets that the laws are tried on")
    parser.add_argument("--seed", type=int, default=SEED)
    asked = parser.parse_args(arguments)
    say = sys.stdout.write
    rows: dict[tuple[str, float], list[tuple[float, str]]] = defaultdict(list)
    for (design, n), shape, expected in product(DESIGNS, SHAPES, EXPECTED):
        if expected <= n / 3:
            truth = Truth.of(design, n, shape, expected)
            for what, share in held(truth, asked.fleets, asked.seed).items():
                rows[what, expected].append((share, truth.name))
    for (what, expected), cells in sorted(rows.items()):
        low, where = min(cells)
        middle = float(np.median([c for c, _ in cells]))
        say(f"{what:16} {expected:4g} expected: least {low:.3f} ({where}), middle {middle:.3f}, "
            f"most {max(cells)[0]:.3f}\n")  # fmt: skip
    better = np.array([one_failure_more(f, g) for f, g in law_fleets(asked.laws, asked.seed)])
    for name, column in zip(("by an age", "before a check", "life"), better.T, strict=True):
        say(f"one failure more, {name}: better in {(column > 1e-6).mean():.4f}, "
            f"most {column.max():.4f}\n")  # fmt: skip
    for name, added, every in HOURS_MORE:
        worse = np.array(
            [hours_more(f, g, added, every) for f, g in law_fleets(asked.laws, asked.seed)]
        )
        say(f"{name}: worse in {(worse > 1e-6).mean():.3f}, by over 0.1 points in "
            f"{(worse > 1e-3).mean():.3f}, over 0.5 in {(worse > 5e-3).mean():.4f}, "
            f"most {100 * worse.max():.2f} points\n")  # fmt: skip
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
