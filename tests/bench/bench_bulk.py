"""Tables of up to ten million rows by chunks, in time and memory, beside lifelines.

Run: python tests/bench/bench_bulk.py [ROWS …] [--parquet] [--digits] [--whole]

Each size is read, audited, fitted, banded, tabulated and written by `study --chunks` in a process
of its own, so that its peak memory is its own. Then lifelines fits a Weibull and a product-limit
curve to the same rows, read by pandas, in a process that may use 4 GB, at the largest of the sizes
that it can take. Data are invented, with shape 2.6 and scale 1,500 h; hours are written to a tenth,
or with nine digits after the point, so that hardly two are equal (``--digits``). ``--whole`` reads
the same tables whole, for the size from which on chunks are the rule.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

SIZES = (1_250_000, 2_500_000, 5_000_000, 10_000_000)
LIMIT = 4 * 2**30
STEP = 500_000
CHUNKS, WHOLE, LIFELINES = "--ours", "--ours-whole", "--lifelines"
SHAPE, SCALE_H = 2.6, 1500.0
STUDY = """\
[study]
title = "Very many parts"
analysis_date = 2026-02-01
claimed_interval_h = 600
[merge]
returns = false
[[records]]
file = "parts.{kind}"
"""


def write_table(n: int, folder: Path, kind: str, digits: int) -> None:
    """Write an invented table of n rows and its study file."""
    import pyarrow as pa
    import pyarrow.csv as pc
    import pyarrow.parquet as pq

    rng = np.random.default_rng(5)
    writer = None
    for first in range(0, n, STEP):
        m = min(STEP, n - first)
        entry = np.where(rng.random(m) < 0.3, np.round(rng.uniform(0, 600, m), digits), 0.0)
        life = SCALE_H * (rng.exponential(size=m) + (entry / SCALE_H) ** SHAPE) ** (1 / SHAPE)
        stop = entry + np.round(rng.uniform(20, 900, m), digits)
        end = np.maximum(np.round(np.minimum(life, stop), digits), np.round(entry + 0.1, digits))
        failed = life <= stop
        cause = np.where(rng.random(m) < 0.5, "piston", "bearing")
        read = np.datetime64("2026-01-01") - rng.integers(0, 200, m).astype("timedelta64[D]")
        table = pa.table(
            {
                "engine": [f"E{first + i:08d}" for i in range(m)],
                "entry_hours": entry,
                "exit_hours": end,
                "ending": np.where(failed, "failed", "running"),
                "cause": np.where(failed, cause, ""),
                "source": np.array(["club A", "club B", "club C"])[rng.integers(0, 3, m)],
                "last_reading_date": read,
            }
        )
        if writer is None:
            path = folder / f"parts.{kind}"
            make = pc.CSVWriter if kind == "csv" else pq.ParquetWriter
            writer = make(path, table.schema)
        if kind == "csv":
            writer.write(table)
        else:
            writer.write_table(table)
    writer.close()
    (folder / "study.toml").write_text(STUDY.format(kind=kind), encoding="utf-8")


def run_ours(folder: Path, *, chunks: bool) -> dict[str, object]:
    """Run the verb's work here, and return its figures, the share of each stage among them."""
    stages: dict[str, float] = {}
    last = ["starting", time.perf_counter()]
    begun = last[1]

    def stage(text: str) -> None:
        now = time.perf_counter()
        stages[last[0]] = stages.get(last[0], 0.0) + now - last[1]
        last[:] = [text.split(":")[0], now]

    from fleetstats.chapters.compose import compose_report
    from fleetstats.report.write import write_report
    from fleetstats.studies.analyse import analyse
    from fleetstats.study.study import read_study

    results = analyse(read_study(folder), chunks=chunks, stage=stage)
    stage("writing the report")
    write_report(compose_report(results), results, folder / "out")
    stage("")
    audit = results.audit
    fit, life = results.fit, results.sureness.lives[2]
    return {
        "wall": time.perf_counter() - begun,
        "stages": stages,
        "rows": f"{audit.n_read:,} read = {audit.n_used:,} used + {audit.n_set_aside:,} set aside",
        "spells": len(results.chapters["bulk"].spells if chunks else results.spells),
        "shape": fit.shape,
        "scale_h": fit.scale_h,
        "life": [life.low, life.estimate, life.high],
        "steps": len(results.description.product_limit.hours),
        "reliability": float(results.description.product_limit.reliability[-1]),
    }


def run_lifelines(folder: Path) -> dict[str, object]:
    """Read with pandas, fit with lifelines; return its figures."""
    resource.setrlimit(resource.RLIMIT_DATA, (LIMIT, LIMIT))
    begun = time.perf_counter()
    import pandas as pd
    from lifelines import KaplanMeierFitter, WeibullFitter

    path = next(folder.glob("parts.*"))
    names = ["entry_hours", "exit_hours", "ending"]
    frame = (
        pd.read_csv(path, usecols=names)
        if path.suffix == ".csv"
        else pd.read_parquet(path, columns=names)
    )
    entry, end = frame["entry_hours"].to_numpy(), frame["exit_hours"].to_numpy()
    failed = (frame["ending"] == "failed").to_numpy()
    # its own start runs away with late entry; a near one spares it time, in its favour
    fit = WeibullFitter().fit(end, failed, entry=entry, initial_point=np.array([SCALE_H, SHAPE]))
    curve = KaplanMeierFitter().fit(end, failed, entry=entry)
    return {
        "wall": time.perf_counter() - begun,
        "shape": float(fit.rho_),
        "scale_h": float(fit.lambda_),
        "reliability": float(curve.survival_function_.iloc[-1, 0]),
    }


def apart(what: str, folder: Path) -> dict[str, float] | None:
    """Run one side in a process of its own; None where it fails. Adds processor time and peak."""
    call = [sys.executable, "-W", "ignore", __file__, what, str(folder)]
    done = subprocess.run(call, capture_output=True, text=True, check=False)
    if done.returncode:
        print(f"  {what}: {(done.stderr.splitlines() or ['no word'])[-1]}")
        return None
    return dict(json.loads(done.stdout.splitlines()[-1]))


def measure(what: str, folder: Path) -> None:
    """Do one side's work and print its figures as JSON."""
    ours = what in (CHUNKS, WHOLE)
    out = run_ours(folder, chunks=what == CHUNKS) if ours else run_lifelines(folder)
    used = resource.getrusage(resource.RUSAGE_SELF)
    out |= {"cpu": used.ru_utime + used.ru_stime, "mb": used.ru_maxrss / 1024}
    print(json.dumps(out))


def main(sizes: tuple[int, ...], kind: str, digits: int, what: str) -> None:
    """Print the table."""
    done = {}
    with tempfile.TemporaryDirectory() as root:
        for n in sizes:
            folder = Path(root) / str(n)
            folder.mkdir()
            write_table(n, folder, kind, digits)
            ours = apart(what, folder)
            if ours is None:
                print(f"{n:,} rows: ours FAILED")
                continue
            done[n] = ours
            low, middle, high = ours["life"]  # type: ignore[misc]
            print(
                f"{n:,} rows of {kind}: {ours['wall']:.0f} s ({ours['cpu']:.0f} s of processors, "
                f"{1e6 * ours['cpu'] / n:.1f} s a million), {ours['mb']:,.0f} MB; {ours['rows']}; "
                f"{ours['spells']:,} different spells, {ours['steps']:,} steps; shape "
                f"{ours['shape']:.4f}, scale {ours['scale_h']:,.1f} h, B10 {middle:,.1f} h "
                f"({low:,.1f} to {high:,.1f})"
            )
            total = sum(ours["stages"].values())  # type: ignore[attr-defined]
            told = (f"{k} {100 * v / total:.0f} %" for k, v in ours["stages"].items())  # type: ignore[attr-defined]
            print(f"  {', '.join(told)}", flush=True)
        for n in sorted(done, reverse=True):
            theirs = apart(LIFELINES, Path(root) / str(n))
            if theirs is None:
                print(f"lifelines, {n:,} rows: not within {LIMIT / 2**30:g} GB", flush=True)
                continue
            ours = done[n]
            print(
                f"lifelines, {n:,} rows, reading, one fit and one curve only: "
                f"{theirs['wall']:.0f} s ({theirs['cpu']:.0f} s of processors, "
                f"{theirs['cpu'] / ours['cpu']:.2f} of ours), {theirs['mb']:,.0f} MB "
                f"({theirs['mb'] / ours['mb']:.1f} of ours); shape differs by "
                f"{theirs['shape'] / ours['shape'] - 1:+.1e}, scale by "
                f"{theirs['scale_h'] / ours['scale_h'] - 1:+.1e}, the curve's end by "
                f"{theirs['reliability'] - ours['reliability']:+.1e}"
            )
            break


if __name__ == "__main__":
    asked = sys.argv[1:]
    if asked and asked[0] in (CHUNKS, WHOLE, LIFELINES):
        measure(asked[0], Path(asked[1]))
    else:
        numbers = tuple(int(a) for a in asked if a.isdigit())
        main(
            numbers or SIZES,
            "parquet" if "--parquet" in asked else "csv",
            9 if "--digits" in asked else 1,
            WHOLE if "--whole" in asked else CHUNKS,
        )
