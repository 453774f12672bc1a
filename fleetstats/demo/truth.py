"""Lives drawn from a stated truth, before anybody writes them down.

An invented scenario: glider-tow clubs fly the Ostrel T4, a turbocharged four-stroke that exists
only here, in two build standards. Nothing in it is taken from any real engine, shop or club.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fleetstats.core.seeds import stream

SEED = 41_207
CLAIM_H = 1200.0
CHECK_H = 50.0
LIFE_SHAPE = 2.6
LIFE_SCALE_H = {"standard": 2800.0, "uprated": 2350.0}
UPRATED_SHARE = 0.4
TURBO_SHAPE, TURBO_SCALE_H = 1.2, 12_000.0
PROP_STRIKE_MEAN_H = 16_000.0
LEAVE_MEAN_H = 14_000.0
FOUND_AT_CHECK = 0.45
"""Share of faults that a 50-h check catches before they stop the engine."""
OVERHAUL_AT_CLAIM = 0.3
"""Share of engines overhauled when they reach the claimed hours, because they are due."""
CAUSES = ("piston", "valve train", "main bearing", "crankcase", "crankshaft")
CAUSE_SHARES = (0.30, 0.28, 0.20, 0.14, 0.08)
SOURCES = ("ledger", "north", "lowland")


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueLife:
    """What happened to one engine; hours since new on the flight clock, dates as days."""

    engine: str
    source: str
    build: str
    entry_h: float
    exit_h: float
    last_good_h: float | None
    ending: str
    cause: str
    hours_per_day: float
    born_day: int
    end_day: int


def reliability(hours: float) -> float:
    """Return the true share of engines, both builds together, that reach `hours` unfailed."""
    return float(
        sum(
            share * np.exp(-((hours / LIFE_SCALE_H[build]) ** LIFE_SHAPE))
            for build, share in (("standard", 1 - UPRATED_SHARE), ("uprated", UPRATED_SHARE))
        )
    )


def life(p: float) -> float:
    """Return the hours by which a share `p` of all engines has truly failed."""
    low, high = 1.0, 20_000.0
    for _ in range(200):
        mid = 0.5 * (low + high)
        low, high = (mid, high) if 1 - reliability(mid) < p else (low, mid)
    return 0.5 * (low + high)


def draw_lives(n: int, *, last_day: int, seed: int = SEED) -> tuple[TrueLife, ...]:
    """Draw engines until `n` are known to some source.

    Parameters
    ----------
    n : int
        Engines in the records. Those that failed before their club began to keep records are
        drawn too, and absent, as in life.
    last_day : int
        Analysis date as days since the first engine was built.
    seed : int
        Names the stream of draws.
    """
    rng = stream(seed, "demo-fleet")
    out: list[TrueLife] = []
    serial = 100
    while len(out) < n:
        serial += int(rng.integers(1, 4))
        made = _draw_one(rng, f"OT4-{serial:04d}", last_day)
        if made is not None:
            out.append(made)
    return tuple(out)


def _draw_one(rng: np.random.Generator, engine: str, last_day: int) -> TrueLife | None:
    build = "uprated" if rng.random() < UPRATED_SHARE else "standard"
    source = SOURCES[int(rng.choice(3, p=(0.38, 0.34, 0.28)))]
    born = int(rng.integers(0, int(last_day * 0.93)))
    per_day = float(rng.lognormal(np.log(135 / 365.25), 0.35))
    now_h = (last_day - born) * per_day
    # the ledger follows each engine from new; a club hears of an engine some time later
    entry = 0.0
    if source != "ledger" and rng.random() < 0.6:
        entry = float(rng.uniform(0.05, 0.7)) * min(now_h, 900.0)
    fault = LIFE_SCALE_H[build] * float(rng.exponential()) ** (1 / LIFE_SHAPE)
    cause = str(rng.choice(CAUSES, p=CAUSE_SHARES))
    ends = {
        "fault": fault,
        "turbo": TURBO_SCALE_H * float(rng.exponential()) ** (1 / TURBO_SHAPE),
        "strike": PROP_STRIKE_MEAN_H * float(rng.exponential()),
        "left": LEAVE_MEAN_H * float(rng.exponential()),
        "overhaul": CLAIM_H + float(rng.uniform(0, 60))
        if rng.random() < OVERHAUL_AT_CLAIM
        else np.inf,
        "now": now_h,
    }
    first = min(ends, key=lambda k: ends[k])
    end = ends[first]
    last_good: float | None = None
    kind = {
        "fault": "failed", "turbo": "failed", "strike": "prop strike", "left": "sold",
        "overhaul": "planned overhaul", "now": "running",
    }[first]  # fmt: skip
    if first == "turbo":
        cause = "turbocharger"
    elif first == "fault" and rng.random() < FOUND_AT_CHECK:
        last_good = CHECK_H * np.floor(end / CHECK_H)
        end, kind = last_good + CHECK_H, "found at check"
        if end > now_h:
            end, kind, last_good = now_h, "running", None
    elif first != "fault":
        cause = ""
    end = round(end, 1)
    entry = round(entry, 1)
    if end <= entry + 0.5:
        return None
    if last_good is not None:
        last_good = max(last_good, entry)
    return TrueLife(
        engine=engine, source=source, build=build, entry_h=entry, exit_h=end,
        last_good_h=last_good, ending=kind, cause=cause if kind != "running" else "",
        hours_per_day=per_day, born_day=born,
        end_day=min(last_day, born + int(np.ceil(end / per_day))),
    )  # fmt: skip
