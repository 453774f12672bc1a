"""An invented fleet flown on condition: lives, checks, leak-down sheets and bench runs.

Everything is drawn from the truth stated in the constants below, with one seed. The engine, its
clubs and its bench exist only here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from fleetstats.core.seeds import stream
from fleetstats.core.value import Array

SEED = 52_728
N_ENGINES = 130
CHECK_H = 50.0
CHECK_JITTER_H = 6.0
"""Checks fall due each 50 h and are made within some hours of that."""
ARRIVAL_SCALE_H, ARRIVAL_SHAPE = 1500.0, 1.6
"""Faults that can be seen: ``(hours / scale) ** shape`` of them by those hours, on average."""
MEAN_DELAY_H = 160.0
"""Mean warning time, exponential, from when a fault can be seen to the failure."""
DETECTION = 0.8
"""Chance that a check finds a fault that is there."""
MODES = ("exhaust valve", "piston", "cam follower")
MODE_SHARES = (0.55, 0.30, 0.15)
NO_WARNING = "crankshaft"
CRANK_SHAPE = 2.2
BENCH_STRESS = (260.0, 300.0, 340.0, 380.0)
BENCH_PER_LEVEL = 8
BENCH_EXPONENT = 9.0
BENCH_SCALE_AT_300 = 3.0e6
RUN_OUT = 1.0e7
SERVICE_STRESS = 210.0
CYCLES_PER_H = 8_000.0
CRANK_SCALE_H = BENCH_SCALE_AT_300 * (300.0 / SERVICE_STRESS) ** BENCH_EXPONENT / CYCLES_PER_H
"""Field life of the crankshaft, as the bench's own law gives it at service stress: 9,300 h."""

N_LEAKDOWN_ENGINES = 30
CYLINDERS = 4
LEVEL, LEVEL_ENGINE_SD, LEVEL_CYLINDER_SD = 76.0, 1.0, 1.0
FALL_PER_100_H, FALL_SD = 0.35, 0.2
VALVE_FALL_PER_100_H = 9.0
"""A leaking exhaust valve falls this much faster from its onset on."""
CHECK_SD, NOISE = 1.2, 0.9
"""Spread common to a check, and scale of the t noise (4 degrees of freedom) of one reading."""
PLUG_CUTS, PLUG_SLOPE_PER_H = (0.2, 3.2, 6.5, 9.0), 0.02
"""Cuts of the odds of fuzz, paste, slivers, chips, and their rise with hours since oil change."""
OIL_USE, OIL_RISE_PER_100_H, OIL_SD = 0.16, 0.003, 0.02
OIL_CHANGE_H = 50.0


@dataclass(slots=True)
class TrueEngine:
    """One engine as it truly was. Hours since new, on the flight clock; dates as hours a day."""

    name: str
    entry_h: float
    now_h: float
    hours_per_day: float
    checks: list[float] = field(default_factory=list)
    found: list[tuple[float, str, float]] = field(default_factory=list)
    """Faults found: hours of the check, mode, hours of onset."""
    end_h: float = 0.0
    cause: str = ""


def draw_fleet(seed: int = SEED) -> list[TrueEngine]:
    """Draw the engines: faults, checks, what was found and what failed.

    Engines that failed before their club began to keep records are drawn and left out.
    """
    rng = stream(seed, "on-condition lives")
    out: list[TrueEngine] = []
    number = 0
    while len(out) < N_ENGINES:
        number += 1
        engine = _engine(rng, f"C-{number:03d}")
        if engine.end_h > engine.entry_h:
            out.append(engine)
    return out


def _engine(rng: np.random.Generator, name: str) -> TrueEngine:
    now = float(rng.uniform(150.0, 1650.0))
    entry = float(rng.uniform(0.1, 0.6) * now) if rng.random() < 0.35 else 0.0
    engine = TrueEngine(
        name=name,
        entry_h=round(entry, 1),
        now_h=round(now, 1),
        hours_per_day=float(rng.uniform(90.0, 240.0)) / 365.25,
    )
    due = np.arange(CHECK_H, now, CHECK_H)
    due = due + CHECK_JITTER_H * rng.uniform(-1.0, 1.0, len(due))
    engine.checks = [round(float(c), 1) for c in due if c < now]
    crank = CRANK_SCALE_H * float(rng.weibull(CRANK_SHAPE))
    free = 0.0
    while True:
        onset = ARRIVAL_SCALE_H * (
            (free / ARRIVAL_SCALE_H) ** ARRIVAL_SHAPE + float(rng.exponential())
        ) ** (1.0 / ARRIVAL_SHAPE)
        fails = onset + float(rng.exponential(MEAN_DELAY_H))
        mode = str(rng.choice(MODES, p=MODE_SHARES))
        seen = next(
            (c for c in engine.checks if onset <= c < fails and rng.random() < DETECTION), math.inf
        )
        stop = min(fails, seen, crank, now)
        if stop == seen:
            engine.found.append((seen, mode, onset))
            free = seen
            continue
        engine.end_h = round(stop, 1)
        engine.cause = "" if stop == now else NO_WARNING if stop == crank else mode
        return engine


def draw_leakdown(engines: list[TrueEngine], seed: int = SEED) -> list[dict[str, object]]:
    """Draw leak-down sheets at every second check of some engines.

    A valve fault bends one cylinder down from its onset; at the check that found it the valve is
    mended and the cylinder starts anew. A few odd readings are retested the same day.
    """
    rng = stream(seed, "on-condition leak-down")
    rows: list[dict[str, object]] = []
    for e in engines[:N_LEAKDOWN_ENGINES]:
        own = rng.normal(0.0, LEVEL_ENGINE_SD)
        level = LEVEL + own + rng.normal(0.0, LEVEL_CYLINDER_SD, CYLINDERS)
        fall = np.maximum(0.0, FALL_PER_100_H + FALL_SD * rng.normal(size=CYLINDERS)) / 100.0
        start = np.zeros(CYLINDERS)
        valves = [(on, at, int(rng.integers(CYLINDERS))) for at, m, on in e.found if m == MODES[0]]
        must = {at for _, at, _ in valves}
        for k, h in enumerate(c for c in e.checks if c <= e.end_h):
            if (k % 2 == 0 and h not in must) or h <= e.entry_h:
                continue
            shared = rng.normal(0.0, CHECK_SD)
            for c in range(CYLINDERS):
                sick = [max(0.0, h - on) for on, at, cyl in valves if cyl == c and on < h <= at]
                true = level[c] - fall[c] * (h - start[c]) - VALVE_FALL_PER_100_H * sum(sick) / 100
                mended = any(at == h and cyl == c for _, at, cyl in valves)
                rows += _readings(rng, e, h, c, true + shared, mended=mended, sick=bool(sick))
                if mended:
                    level[c], start[c] = LEVEL + own + rng.normal(0.0, LEVEL_CYLINDER_SD), h
    return rows


def _readings(
    rng: np.random.Generator,
    e: TrueEngine,
    h: float,
    c: int,
    centre: float,
    *,
    mended: bool,
    sick: bool,
) -> list[dict[str, object]]:
    value = centre + NOISE * rng.standard_t(4)
    ident = f"{e.name}-{h:.0f}-{c + 1}"
    row: dict[str, object] = {
        "id": ident,
        "engine": e.name,
        "hours": h,
        "cylinder": c + 1,
        "reading": int(np.clip(round(value), 5, 80)),
        "temperature": "hot",
        "leak_path": "exhaust valve" if sick else "rings" if value < 70 else "",
        "retest_of": "",
        "action": "valve work" if mended else "",
    }
    if value < centre - 4.0 * NOISE and not mended:
        again = dict(row)
        again["id"] = f"{ident}-r"
        again["retest_of"] = ident
        again["reading"] = int(np.clip(round(centre + NOISE * rng.standard_t(4)), 5, 80))
        return [row, again]
    return [row]


def draw_checks(engines: list[TrueEngine], seed: int = SEED) -> list[dict[str, object]]:
    """Draw the check sheet: each check with its result, metal on the plug and oil use."""
    rng = stream(seed, "on-condition checks")
    rows: list[dict[str, object]] = []
    for i, e in enumerate(engines):
        burn = OIL_USE * float(np.exp(0.15 * rng.normal()))
        rise = 0.05 if i in (7, 19) else OIL_RISE_PER_100_H
        for h in e.checks:
            if h <= e.entry_h or h > e.end_h:
                continue
            oil_age = float(np.clip(rng.normal(OIL_CHANGE_H - 5.0, 8.0), 5.0, 70.0))
            fault = next((f for f in e.found if f[0] == h), None)
            grade = _grade(rng, oil_age, making_metal=fault is not None and fault[1] != MODES[0])
            base = {"engine": e.name, "hours": h, "mode": "", "grade": "", "value": "",
                    "oil_hours": "", "action": ""}  # fmt: skip
            plug = base | {"method": "plug", "result": "clean", "grade": grade,
                           "oil_hours": round(oil_age, 1)}  # fmt: skip
            if fault is not None:
                plug |= {"result": "found", "mode": fault[1], "action": "repaired"}
                if fault[1] == MODES[0]:
                    plug |= {"method": "leak-down", "grade": "", "oil_hours": ""}
            use = max(0.02, burn + rise * h / 100.0 + OIL_SD * rng.normal())
            oil = base | {"method": "oil use", "result": "", "value": round(use, 3)}
            rows += [plug, oil]
    return rows


def _grade(rng: np.random.Generator, oil_age: float, *, making_metal: bool) -> int:
    if making_metal:
        return int(rng.choice([2, 3, 4], p=[0.3, 0.4, 0.3]))
    u = float(rng.logistic())
    return sum(u > cut - PLUG_SLOPE_PER_H * oil_age for cut in PLUG_CUTS)


def draw_bench(seed: int = SEED) -> list[dict[str, object]]:
    """Draw crankshafts run to destruction above rating, stopped unbroken at the run-out."""
    rng = stream(seed, "on-condition bench")
    rows: list[dict[str, object]] = []
    for level in BENCH_STRESS:
        scale = BENCH_SCALE_AT_300 * (300.0 / level) ** BENCH_EXPONENT
        lives: Array = scale * rng.weibull(CRANK_SHAPE, BENCH_PER_LEVEL)
        for life in lives:
            failed = bool(life < RUN_OUT)
            rows.append(
                {
                    "specimen": f"K-{len(rows) + 1:02d}",
                    "stress": level,
                    "life": round(min(float(life), RUN_OUT), -2),
                    "ended": "failed" if failed else "run-out",
                    "mode": "fillet fatigue" if failed else "",
                    "mode_proven_by": "fractography" if failed else "",
                }
            )
    return rows
