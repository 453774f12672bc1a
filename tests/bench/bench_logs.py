"""What the verbs take on a log of many events: processor time, memory, and how they grow.

Run by hand, `OMP_NUM_THREADS=1` set so that no library waits in threads::

    python tests/bench/bench_logs.py 20000 100000 500000 --verbs check pool forecast study

Each run is a process of its own, asked for JSON, results kept from another run not used. Nothing is
asserted by a clock. Made-up records with no source: `made_events`, engines that are put in, read or
checked every 60 to 200 h, fail by a Weibull law of two builds, and half of the time come back.
"""

from __future__ import annotations

import argparse
import datetime as dt
import math
import os
import random
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

VERBS = ("check", "pool", "forecast")
END = dt.date(2026, 9, 30)
CAUSES = ("piston", "valve train", "main bearing", "crankcase", "crankshaft", "turbocharger")
STUDY = """[study]
title = "Made log"
analysis_date = 2026-09-30
claimed_interval_h = 1200
seed = 17
[hours]
meter = "flight"
basis = "since-new"
[question]
name = "internal engine failure"
causes = ["piston", "valve train", "main bearing", "crankcase", "crankshaft"]
[fleet]
hours_per_year = 120
[check]
interval_h = 100
[[records]]
file = "log.csv"
shape = "log"
meter = "flight"
"""
HEAD = "engine,build,source,date,hours,kind,cause,note"
SCRAPPED_H = 1900
"""Hours at which engines that have not failed are taken out."""


def made_events(n: int) -> list[str]:
    """Return n lines of a log, engine after engine."""
    draw = random.Random(17)
    lines: list[str] = []
    for i in range(n):
        if len(lines) >= n:
            break
        build = draw.choice(["standard", "standard", "improved"])
        who = f"E-{i + 1:06d},{build},club {draw.randrange(8)}"
        lines += (f"{who},{told}," for told in _engine(draw, 2.2 if build == "standard" else 2.6))
    return lines[:n]


def _engine(draw: random.Random, shape: float) -> Iterator[str]:
    """Yield what a log tells of one engine: date, hours, kind and cause."""
    day = END - dt.timedelta(days=draw.randrange(200, 12 * 365))
    rate = draw.uniform(60, 250) / 365  # hours a day
    h, fails = 0.0, draw.weibullvariate(1500, shape)
    yield f"{day},0.0,installed,"
    while True:
        then = min(h + draw.uniform(60, 200), fails, SCRAPPED_H)
        day += dt.timedelta(days=max(int((then - h) / rate), 1))
        h = then
        if day > END:
            return
        if h == SCRAPPED_H:
            yield f"{day},{h:.1f},removed,"
            return
        if h < fails:
            yield f"{day},{h:.1f},{'reading' if draw.random() < 0.75 else 'check'},"
            continue
        yield f"{day},{h:.1f},failed,{draw.choice(CAUSES)}"
        back = day + dt.timedelta(days=30)
        if draw.random() < 0.5 or back > END:
            return
        yield f"{day + dt.timedelta(days=3)},{h:.1f},overhauled,"
        yield f"{back},{h:.1f},installed,"
        day, fails = back, h + draw.weibullvariate(1500, 2.2)


def write_made_log(place: Path, n: int) -> None:
    """Write a study of one log of n events into a folder."""
    place.mkdir(parents=True, exist_ok=True)
    (place / "study.toml").write_text(STUDY, encoding="utf-8")
    lines = "\n".join([HEAD, *made_events(n)]) + "\n"
    (place / "log.csv").write_text(lines, encoding="utf-8")


def measure(verb: str, place: Path) -> tuple[float, float]:
    """Return the seconds of processor that a verb takes, and the most memory in MB."""
    keys = {"FLEETSTATS_KEPT": "no", "FLEETSTATS_NO_HISTORY": "1", "OMP_NUM_THREADS": "1"}
    more = ["--quiet", "--out", str(place / "report")] if verb == "study" else ["--json"]
    run = subprocess.Popen(
        [sys.executable, "-m", "fleetstats", verb, str(place), *more],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=os.environ | keys,
    )
    _, status, used = os.wait4(run.pid, 0)
    run.returncode = os.waitstatus_to_exitcode(status)
    if run.returncode not in (0, 3):  # 3: the audit has something to say
        raise SystemExit(f"{verb} ended with {run.returncode}")
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def main() -> None:
    """Print a line to a verb: seconds at each size, memory at the largest, and the exponent."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("events", nargs="*", type=int, default=[20_000, 100_000, 500_000])
    parser.add_argument("--verbs", nargs="+", default=list(VERBS))
    parser.add_argument("--write", type=Path, help="Write the made log of the first size here.")
    asked = parser.parse_args()
    if asked.write is not None:
        write_made_log(asked.write, asked.events[0])
        return
    heads = "".join(f"{n:>11,}" for n in asked.events)
    print(f"{'seconds of one processor':26}{heads}{'MB':>8}{'exponent':>10}")
    with tempfile.TemporaryDirectory() as made:
        places = {n: Path(made) / str(n) for n in asked.events}
        for n, place in places.items():
            write_made_log(place, n)
        for verb in asked.verbs:
            took = {n: measure(verb, place) for n, place in places.items()}
            line = "".join(f"{s:11.1f}" for s, _ in took.values())
            few, many = min(took), max(took)
            power = ""
            if few < many:
                power = f"{math.log(took[many][0] / took[few][0]) / math.log(many / few):.2f}"
            print(f"{verb:26}{line}{took[many][1]:8,.0f}{power:>10}", flush=True)


if __name__ == "__main__":
    main()
