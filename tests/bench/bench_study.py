"""Cold start and the demo studies: wall and processor time, with the share of each stage.

Run by hand: ``python tests/bench/bench_study.py [tow-clubs quiet-fleet on-condition]``. Nothing is
asserted by a clock. Goals on two free cores: ``--help`` within 0.3 s, a demo study with its report
within 15 s. The stages are those of one process alone; the last lines are the command as a user
runs it, with the process beside it that draws and asks the libraries.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

DATASETS = Path(__file__).parents[2] / "datasets"
NAMES = ("tow-clubs", "quiet-fleet", "on-condition")
SHOWN_SHARE = 0.02
RUN = "from fleetstats.cli import main; main()"


def run_verb(*arguments: str) -> tuple[float, float]:
    """Return wall seconds, and processor seconds of all its processes, of one command."""
    before, start = os.times(), time.perf_counter()
    subprocess.run([sys.executable, "-c", RUN, *arguments], check=False, capture_output=True)
    after = os.times()
    busy = after.children_user - before.children_user
    return time.perf_counter() - start, busy + after.children_system - before.children_system


def time_stages(folder: Path) -> list[tuple[str, float]]:
    """Return (stage, processor seconds) of one study and its report in this process."""
    out: list[tuple[str, float]] = []
    last, since = "imports", time.process_time()

    def stage(name: str) -> None:
        nonlocal last, since
        now = time.process_time()
        out.append((last, now - since))
        last, since = name, now

    from fleetstats.chapters.compose import compose_report
    from fleetstats.report.write import render_files
    from fleetstats.studies.analyse import analyse
    from fleetstats.study.study import read_study

    stage("reading the study file")
    study = read_study(folder)
    results = analyse(study, stage=stage)
    stage("composing the report")
    document = compose_report(results)
    stage("drawing and writing")
    render_files(document, results)
    stage("end")
    return out


def main(names: tuple[str, ...]) -> None:
    """Print the tables."""
    helps = sorted(run_verb("--help") for _ in range(5))
    print(f"--help: {helps[0][0]:.2f} s at best of 5, {helps[2][0]:.2f} s in the middle")
    for name in names:
        stages = time_stages(DATASETS / name)
        total = sum(s for _, s in stages)
        print(f"\n{name}: {total:.1f} s of one processor")
        for title, seconds in sorted(stages, key=lambda s: -s[1]):
            if seconds > SHOWN_SHARE * total:
                print(f"  {100 * seconds / total:4.0f} %  {seconds:6.2f} s  {title}")
    print()
    for name in names:
        with tempfile.TemporaryDirectory() as out:
            wall, busy = run_verb("study", str(DATASETS / name), "--out", f"{out}/report")
        print(f"fleetstats study {name}: {wall:.1f} s by the clock, {busy:.1f} s of processors")


if __name__ == "__main__":
    main(tuple(sys.argv[1:]) or NAMES)
