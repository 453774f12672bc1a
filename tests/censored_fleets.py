"""Seeded fleets with stated truth for the tests of removals and of sources.

Failures in question follow a Weibull law; prop strikes, sales and accidents come at any age alike
(exponential). What is falsified is said by the arguments. No figure is from a real fleet.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
from advice_fleets import made_rows

from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells

DAY = dt.date(2026, 1, 1)
RANDOM = (("prop strike", 9000.0), ("sold", 6000.0), ("accident", 15_000.0))
"""Kinds of honest removal, and the mean hours between them for one engine."""


def removal_fleet(
    rng: np.random.Generator,
    n: int,
    *,
    sources: int = 3,
    scale_h: float = 1900.0,
    shape: float = 3.0,
    recoded: float = 0.0,
) -> tuple[Spells, tuple[LifeRow, ...]]:
    """Return lives and rows; a share `recoded` of the failures is told as prop strikes."""
    fails = scale_h * rng.weibull(shape, n)
    others = [rng.exponential(mean, n) for _, mean in RANDOM]
    ages = np.vstack([fails, rng.uniform(200.0, 1800.0, n), *others])
    how, end = ages.argmin(0), ages.min(0)
    entry = np.where(rng.random(n) < 0.3, rng.uniform(0.0, 500.0, n), 0.0)
    false = (how == 0) & (rng.random(n) < recoded)
    source = np.array([f"club {j + 1}" for j in rng.integers(0, sources, n)])
    seen = end > entry
    spells = Spells.of(entry[seen], end[seen], ((how == 0) & ~false)[seen], source=source[seen])
    ending, cause = [], []
    for k, f in zip(how[seen].tolist(), false[seen].tolist(), strict=True):
        ending.append("removed" if f or k > 1 else "running" if k else "failed")
        cause.append("prop strike" if f else RANDOM[k - 2][0] if k > 1 else "" if k else "piston")
    return spells, made_rows(spells, ending=ending, cause=cause, source=source[seen].tolist())


def source_fleet(
    rng: np.random.Generator,
    *,
    sources: int,
    each: int = 50,
    scale_h: float = 1500.0,
    shape: float = 3.0,
    silent: bool = False,
    dropped: float = 0.02,
    drops_old: bool = False,
) -> tuple[Spells, tuple[LifeRow, ...]]:
    """Return lives and dated rows of alike sources, followed from new at 60 to 160 h a year.

    `dropped` is the yearly chance that an engine is no longer read. With `silent` the first source
    tells none of its failures: such an engine is told as running when last seen. With
    `drops_old` it drops every second engine on the day it would fail, and none else.
    """
    n = sources * each
    source = np.repeat([f"club {j + 1}" for j in range(sources)], each)
    first = source == "club 1"
    years, use = rng.uniform(1.0, 15.0, n), rng.uniform(60.0, 160.0, n)
    fails, leaves = scale_h * rng.weibull(shape, n), use * rng.exponential(1.0 / dropped, n)
    told = np.ones(n, dtype=bool)
    if drops_old:
        leaves[first] = np.inf
        told = ~(first & (rng.random(n) < 0.5))
    end = np.minimum(np.minimum(years * use, leaves), fails)
    failed = (end == fails) & told & ~(first & silent)
    last = [
        DAY - dt.timedelta(days=round(365.25 * (y - h / u)))
        for y, h, u in zip(years, end, use, strict=True)
    ]
    begun = [DAY - dt.timedelta(days=round(365.25 * y)) for y in years]
    spells = Spells.of(0.0, end, failed, source=source)
    rows = made_rows(
        spells,
        ending=["failed" if f else "running" for f in failed],
        in_service=begun,
        last_reading=last,
        source=source.tolist(),
    )
    return spells, rows
