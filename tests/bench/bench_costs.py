"""What each stage of a study takes on a made-up fleet: seconds of one processor, and memory.

Run by hand: ``python tests/bench/bench_costs.py 5000``, one size a run. `fleetstats.studies.costs`
and the memory a row takes in `fleetstats.studies.how_read` hold what it printed; `bench_growth.py`
sets several sizes beside each other. Nothing is asserted by a clock.
"""

from __future__ import annotations

import csv
import datetime as dt
import random
import resource
import sys
import tempfile
import time
from pathlib import Path

STUDY = """[study]
title = "A made-up fleet"
analysis_date = 2026-09-30
claimed_interval_h = 1200
[question]
level = "beyond-limits"
[check]
interval_h = 50
undetectable_causes = ["crankshaft"]
[cost]
ratio = 4
planned = 14000
[fleet]
hours_per_year = 135
[[records]]
file = "a.csv"
source = "a"
[[records]]
file = "b.csv"
source = "b"
"""
HEAD = "engine,build,entry,exit,last good,ending,cause,in service,last reading"
SHOWN_S = 0.15


def made_rows(n: int) -> list[list[object]]:
    """Return lives from a Weibull law, a part of the failures found at checks."""
    draw = random.Random(1)
    rows: list[list[object]] = []
    for i in range(n):
        fails, ends = 1500 * draw.weibullvariate(1, 2.2), draw.uniform(100, 1600)
        entry = draw.choice([0, 0, 0, round(draw.uniform(0, 90), 1)])
        start = dt.date(2005, 1, 1) + dt.timedelta(days=draw.randrange(4500))
        end = round(max(min(fails, ends), entry + 1), 1)
        failed = fails < ends
        last = dt.timedelta(days=int((end - entry) / 120 * 365))
        rows.append([
            f"E{i:07}", draw.choice(["standard", "uprated"]), entry, end,
            round(max(end - draw.uniform(5, 50), entry), 1) if failed and draw.random() < 0.4
            else "",
            "failed" if failed else draw.choice(["running", "planned overhaul"]),
            draw.choice(["piston", "valve train", "crankshaft"]) if failed else "",
            start, min(start + last, dt.date(2026, 9, 1)),
        ])  # fmt: skip
    return rows


def write_made_study(folder: Path, n: int, *, one_file: bool = False) -> None:
    """Write a study of `made_rows`, half of them told by each of two sources, or all by one."""
    rows = made_rows(n)
    parts = {"a": rows} if one_file else {name: rows[k::2] for k, name in enumerate("ab")}
    for name, part in parts.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as f:
            out = csv.writer(f)
            out.writerow(HEAD.split(","))
            out.writerows(part)
    study = STUDY[: STUDY.rindex("[[records]]")] if one_file else STUDY
    (folder / "study.toml").write_text(study, "utf-8")


def main(n: int) -> None:
    """Print the table."""
    from fleetstats.chapters.compose import compose_checked
    from fleetstats.report.write import render_files
    from fleetstats.studies.analyse import analyse
    from fleetstats.study.study import read_study

    last, since = "imports", time.process_time()

    def stage(name: str) -> None:
        nonlocal last, since
        now = time.process_time()
        if now - since > SHOWN_S:
            most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(f"{n:9,} lives  {now - since:8.2f} s  {most:6,.0f} MB  {last}", flush=True)
        last, since = name, now

    with tempfile.TemporaryDirectory() as place:
        write_made_study(Path(place), n)
        results = analyse(read_study(Path(place)), False, stage=stage)
        stage("composing the report")
        results, document = compose_checked(results)
        stage("writing the report")
        render_files(document, results)
        stage("end")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5000)
