"""An invented fleet whose clubs write use and fuel as they please, with its truth stated.

Truth: Weibull lives of shape 2.5 and scale 1,900 h; towing multiplies life by 0.55, school by 1;
fuel does nothing. Newer engines (build B) live 1.2 times as long and tow less. A third of the
engines are told by a log, a few of which change from school to towing; from the change on they have
the hazard that a towing engine of their age has.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from pathlib import Path

import numpy as np

SHAPE, SCALE_H, TOWING, NEWER = 2.5, 1900.0, 0.55, 1.2
LAST = dt.date(2025, 11, 30)
"""Day of the last readings."""
WRITTEN = {
    "towing": ("Towing", "glider tow", "TUG", "Schlepp", "aero-tow"),
    "school": ("school", "Training", "flight school", "Schulung"),
    "touring": ("touring", "private", "", "n/a"),
}
"""How the clubs write each use; German words stand in the study's map, some say nothing."""
FUEL = {"leaded": ("avgas", "100LL", "Avgas 100LL"), "unleaded": ("UL91", "unleaded", "ul 91")}
MAP = '[categories.words.use]\n"Schlepp" = "towing"\n"Schulung" = "school"\n'
STUDY = """[study]
title = "Clubs that tow"
analysis_date = 2025-12-31
claimed_interval_h = 1000.0
[categories]
columns = ["use", "fuel"]
{map}
[[records]]
file = "lives.csv"
source = "list"
[records.columns]
use = "Art des Betriebs"
[[records]]
file = "log.csv"
shape = "log"
source = "books"
"""


def write_messy(folder: Path, *, n: int = 300, seed: int = 5, mapped: bool = True) -> Path:
    """Write the study of the fleet into `folder` and return it."""
    rng = np.random.default_rng(seed)
    folder.mkdir(parents=True, exist_ok=True)
    lives: list[list[str]] = []
    log: list[list[str]] = []
    for i in range(n):
        build = "B" if rng.random() < 0.4 else "A"
        towing = 0.2 if build == "B" else 0.45
        use = str(rng.choice(["towing", "school", "touring"], p=[towing, 0.35, 0.65 - towing]))
        fuel = str(rng.choice(["leaded", "unleaded"]))
        factor = (TOWING if use == "towing" else 1.0) * (NEWER if build == "B" else 1.0)
        life = SCALE_H * factor * float(rng.weibull(SHAPE))
        year = int(rng.integers(2004, 2014) + (6 if build == "B" else 0))
        watched = float(rng.uniform(500.0, 2400.0))
        entry = float(rng.uniform(100.0, 500.0)) if rng.random() < 0.3 else 0.0
        if life <= entry:
            continue
        word, juice = (str(rng.choice(w)) for w in (WRITTEN[use], FUEL[fuel]))
        if i % 3 == 0:
            log += _log(rng, f"L-{i}", build, word, juice, life, watched, year, use)
            continue
        watched = max(watched, entry + 50.0)
        end, failed = min(life, watched), life <= watched
        lives.append(
            [f"E-{i}", build, f"{entry:.1f}" if entry else "", f"{end:.1f}",
             "failed" if failed else "running", word, juice, f"{year}-04-01",
             _day(year, end / watched)]
        )  # fmt: skip
    head = ["engine", "build", "entry_hours", "exit_hours", "ending", "Art des Betriebs",
            "fuel type", "in_service_date", "last_reading_date"]  # fmt: skip
    (folder / "lives.csv").write_text(_table(head, lives), encoding="utf-8")
    head = ["engine", "date", "hours", "kind", "build", "use", "fuel"]
    (folder / "log.csv").write_text(_table(head, log), encoding="utf-8")
    (folder / "study.toml").write_text(STUDY.format(map=MAP if mapped else ""), encoding="utf-8")
    return folder


def _log(
    rng: np.random.Generator, engine: str, build: str, word: str, fuel: str, life: float,
    watched: float, year: int, use: str,
) -> list[list[str]]:  # fmt: skip
    """Return the events of an engine followed from new, of which some in schools begin to tow."""
    out = [[engine, f"{year}-04-01", "0", "installed", build, word, fuel]]
    change = float(rng.uniform(200.0, 900.0))
    if use == "school" and rng.random() < 0.5 and change < min(life, watched):
        scale = SCALE_H * TOWING * (NEWER if build == "B" else 1.0)
        life = scale * float(rng.exponential() + (change / scale) ** SHAPE) ** (1.0 / SHAPE)
        day = _day(year, change / watched)
        out.append([engine, day, f"{change:.1f}", "reading", "", "towing", ""])
    end = min(life, watched)
    day = _day(year, end / watched)
    out.append([engine, day, f"{end:.1f}", "failed" if life <= watched else "reading", "", "", ""])
    return out


def _day(year: int, share: float) -> str:
    """Return the day at which a share of the watch from April of `year` to the end has passed."""
    begun = dt.date(year, 4, 1)
    return (begun + share * (LAST - begun)).isoformat()


def _table(head: list[str], rows: list[list[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(head)
    writer.writerows(rows)
    return out.getvalue()
