"""A shop's log, invented: engines overhauled at about 1,200 h, cylinders changed, few failures.

It shows what a log of events tells besides lives: first lives beside later ones, events that come
again, and what one early failure means. The truth is stated below; the seed was chosen so that the
fleet has few failures and one of them early.

``python tests/tools/workshop.py [FOLDER]`` writes the study; by default into ``datasets/workshop``.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np

from fleetstats.core.seeds import stream

SEED = 52913
N_ENGINES = 72
ANALYSIS_DATE = dt.date(2026, 9, 30)
SHAPE, SCALE_H = 2.0, 5_200.0
"""Life to the failure in question, on the clock since overhaul; overhaul makes as good as new."""
CYLINDER_SHAPE, CYLINDER_SCALE_H = 1.5, 1_100.0
"""Cylinders changed by h hours since overhaul: (h / 1,100) ^ 1.5 per engine on average."""
OVERHAUL_H = (1_050.0, 1_300.0)
CYLINDER_COST = 2_100

STUDY = """\
# An invented study: the log of a shop that overhauls the fictional Ostrel T4 at about 1,200 h.
# Everything was drawn from a truth that tests/tools/workshop.py states.

[study]
title = "Ostrel T4 in one shop's log: three failures, one of them early"
asked_by = "builder, with its overhaul shop"
reader = "builder"
analysis_date = 2026-09-30
claimed_interval_h = 1000
seed = 52913

[hours]
basis = "since-overhaul"

[question]
name = "internal engine failure"

[targets]
reliability = 0.90

[cost]
currency = "EUR"

[[records]]
file = "log.csv"
shape = "log"
source = "shop's log"
"""

README = """\
# workshop: an invented shop's log

Drawn from the truth in `tests/tools/workshop.py` with seed {seed}: lives since overhaul are
Weibull, shape {shape:g}, scale {scale:,.0f} h, the same after an overhaul as before; engines are
overhauled at 1,050 to 1,300 h; cylinders are changed as a Poisson process with mean (hours since
overhaul / 1,100 h) ^ 1.5. The seed was chosen so that few engines fail, one of them early. No
engine, shop or person in it exists. Free to use for any purpose.
"""

HEAD = ("engine", "date", "hours", "kind", "cause", "confirmed", "component", "position", "cost",
        "build")  # fmt: skip


def workshop_files(seed: int = SEED) -> dict[str, str]:
    """Return the study: file name to text. The same seed gives the same text."""
    rng = stream(seed, "workshop")
    rows = [row for i in range(N_ENGINES) for row in _engine(rng, f"W-{101 + i}")]
    out = io.StringIO()
    writer = csv.DictWriter(out, HEAD, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return {
        "study.toml": STUDY,
        "log.csv": out.getvalue(),
        "README.md": README.format(seed=seed, shape=SHAPE, scale=SCALE_H),
    }


def _engine(rng: np.random.Generator, name: str) -> list[dict[str, object]]:
    """Return the rows of one engine from new to the analysis date or its failure."""
    years = float(rng.uniform(1.5, 14.0))
    a_day = float(rng.uniform(90.0, 210.0)) / 365.25
    born = ANALYSIS_DATE - dt.timedelta(days=round(365.25 * years))
    last_h = (ANALYSIS_DATE - born).days * a_day
    rows: list[dict[str, object]] = []

    def line(h: float, kind: str, **more: object) -> None:
        day = min(born + dt.timedelta(days=round(h / a_day)), ANALYSIS_DATE)
        rows.append({"engine": name, "date": day.isoformat(), "hours": f"{h:.1f}", "kind": kind,
                     **more})  # fmt: skip

    line(0.0, "installed", build="standard" if rng.random() < 0.7 else "uprated")
    start = 0.0
    while start < last_h:
        due = float(rng.uniform(*OVERHAUL_H))
        life = SCALE_H * float(rng.exponential()) ** (1.0 / SHAPE)
        end = min(start + min(due, life), last_h)
        _running(rng, line, start, end)
        if end >= last_h:
            line(last_h, "reading")
            return rows
        if life < due:
            cause = ("piston", "valve train", "main bearing")[int(rng.integers(3))]
            line(end, "failed", cause=cause, confirmed="yes")
            return rows
        line(end, "removed", cause="overhaul due")
        line(end, "teardown", confirmed="no")
        line(end, "overhauled")
        line(end, "returned")
        start = end
    return rows


def _running(rng: np.random.Generator, line: Callable[..., None], start: float, end: float) -> None:
    """Write readings and changed cylinders between two overhauls, in order of hours."""
    told: list[tuple[float, str]] = [
        (start + h, "reading") for h in np.arange(250.0, end - start, 250.0)
    ]
    mean = ((end - start) / CYLINDER_SCALE_H) ** CYLINDER_SHAPE
    told += [
        (start + (end - start) * float(u) ** (1.0 / CYLINDER_SHAPE), "cylinder")
        for u in rng.random(int(rng.poisson(mean)))
    ]
    for h, what in sorted(told):
        if what == "reading":
            line(h, "reading")
        elif end - h > 1.0 and h - start > 1.0:
            place = int(rng.integers(1, 5))
            line(h, "part-removed", component="cylinder", position=place, cause="low leak-down")
            line(h, "part-fitted", component="cylinder", position=place, cost=CYLINDER_COST)


if __name__ == "__main__":
    out = Path(sys.argv[1] if len(sys.argv) > 1 else "datasets/workshop")
    for name, text in workshop_files().items():
        (out / name).write_text(text, encoding="utf-8")
