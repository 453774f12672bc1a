"""Simulated truth for the on-condition chapters: lives under checks, cylinders, fleets."""

from __future__ import annotations

import math

import numpy as np

from fleetstats.spells import Spells
from fleetstats.survival.delay.delay import CLEAN, FAILED, FOUND, CheckLives
from fleetstats.survival.regression.mixed_trend import Readings


def check_lives(
    rng: np.random.Generator,
    *,
    n: int = 100,
    faults_per_h: float = 1 / 1500,
    mean_h: float = 120.0,
    shape: float = 1.0,
    detection: float = 0.8,
    every_h: float = 50.0,
    to_h: tuple[float, float] = (300.0, 1500.0),
    late: float = 0.3,
    arrival_shape: float = 1.0,
) -> CheckLives:
    """Draw engines with faults and regular checks; some enter with hours on them.

    Faults arise at `faults_per_h` on the mean up to the greatest of `to_h`, as a power of age.
    Lives that failed before entry are drawn and absent, as they would be.
    """
    rows = []
    for i in range(n):
        end = rng.uniform(*to_h)
        entry = rng.uniform(0.0, 0.6) * end if rng.random() < late else 0.0
        checks = np.arange(rng.uniform(1.0, every_h), end, every_h)
        start = 0.0
        while True:
            onset = start + rng.exponential(1.0 / faults_per_h)
            if arrival_shape != 1.0:
                old, a = to_h[1], arrival_shape
                onset = old * ((start / old) ** a + (onset - start) / old) ** (1.0 / a)
            fails = onset + mean_h / math.gamma(1.0 + 1.0 / shape) * rng.weibull(shape)
            due = checks[(checks >= onset) & (checks < fails)]
            hits = due[rng.random(len(due)) < detection]
            seen = hits[0] if len(hits) else math.inf
            stop = min(fails, seen, end)
            kind = CLEAN if stop == end else FOUND if stop == seen else FAILED
            begun = max(start, entry)
            if begun < stop:
                own = checks[(checks > start) & (checks <= stop)]
                rows.append((f"e{i}", start, begun, stop, kind, own, False, "m" if kind else ""))
            if kind != FOUND:
                break
            start = stop
    return CheckLives.of(rows)


def cylinders(
    rng: np.random.Generator,
    *,
    engines: int = 30,
    checks: int = 8,
    each: int = 4,
    level: float = 76.0,
    fall_per_h: float = 0.006,
    engine_sd: float = 2.0,
    cylinder_sd: float = 1.5,
    slope_sd: float = 0.004,
    check_sd: float = 1.5,
    noise: float = 1.2,
    df: float | None = None,
) -> Readings:
    """Draw leak-down readings; `df` gives the noise t tails."""
    rows = []
    for e in range(engines):
        shift = rng.normal(0.0, engine_sd)
        own = rng.normal(0.0, cylinder_sd, each)
        fall = fall_per_h + rng.normal(0.0, slope_sd, each)
        for k, h in enumerate(np.sort(rng.uniform(20.0, 1200.0, checks))):
            shared = rng.normal(0.0, check_sd)
            for c in range(each):
                eps = rng.standard_t(df) if df else rng.normal()
                y = level + shift + own[c] - fall[c] * h + shared + noise * eps
                rows.append((y, h, e, e * each + c, e * checks + k))
    y, h, engine, segment, check = (np.array(x) for x in zip(*rows, strict=True))
    return Readings(
        value=y,
        hours=h,
        engine=engine,
        segment=segment,
        check=check,
        cold=np.zeros(len(y), dtype=bool),
    )


def staggered_fleet(
    rng: np.random.Generator,
    *,
    n: int,
    shape: float,
    scale_h: float,
    late: float = 0.3,
    oldest_h: float = 1500.0,
) -> tuple[Spells, np.ndarray]:
    """Draw a fleet of staggered ages and the ages of those that run; entry is conditioned on."""
    age = rng.uniform(50.0, oldest_h, n)
    entry = np.where(rng.random(n) < late, rng.uniform(0.0, 0.7, n) * age, 0.0)
    u = rng.random(n)
    t = scale_h * ((entry / scale_h) ** shape - np.log(u)) ** (1.0 / shape)
    failed = t <= age
    return Spells.of(entry, np.minimum(t, age), failed), age[~failed]
