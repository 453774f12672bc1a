"""One table in many files: time and memory by workers, and what a hundred million rows would take.

Run: python tests/bench/bench_engine.py [ROWS] [FILES] [--workers N] [--csv] [--dask]

The table (invented, Weibull of shape 2.6 and scale 1,500 h, three sources, two causes, hours to a
tenth, dates of reading and of service) is written as partitioned Parquet, or as CSV, and studied
with its report by `study --chunks --workers N` in a process of its own. Then one file is read by
itself for the unit costs: processor seconds a million rows of reading, of handing its result from
one process to another, and of joining (rows of one engine beside each other, some rows read again).

With ``--dask`` the same table is read, audited and joined, by this process and on clusters of 1, 2
and 4 workers of one thread, each in a process of its own on this machine: processor seconds of the
study, the scheduler and all workers, and whether all that was read is the same to the digit. What
they take beyond one process is what the sharing costs; with fewer processors than workers the wall
tells nothing of more machines.

From these the last table is computed, for rows R and w workers: read x R / w + (hand over + join)
x R + rest, the reading shared evenly and all else done by one process; memory of the process that
joins is its base and what it took beyond it while it joined, a row, that of a worker the base and
those of a file. It is a model: disks and networks that do not keep up are not
in it.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
import pickle
import resource
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
from bench_bulk import SCALE_H, SHAPE, STEP, STUDY

PAPER_ROWS, PAPER_WORKERS, PAPER_FILES = 100_000_000, (1, 16, 64), 64
DASK_WORKERS = (1, 2, 4)


def write_files(n: int, files: int, folder: Path, kind: str) -> None:
    """Write an invented table of n rows over some files, and its study file."""
    import pyarrow as pa
    import pyarrow.csv as pc
    import pyarrow.parquet as pq

    rng = np.random.default_rng(5)
    (folder / "parts").mkdir(parents=True)
    first = 0
    for k in range(files):
        left, writer = n // files + (k < n % files), None
        while left:
            m = min(STEP, left)
            entry = np.where(rng.random(m) < 0.3, np.round(rng.uniform(0, 600, m), 1), 0.0)
            life = SCALE_H * (rng.exponential(size=m) + (entry / SCALE_H) ** SHAPE) ** (1 / SHAPE)
            stop = entry + np.round(rng.uniform(20, 900, m), 1)
            end = np.maximum(np.round(np.minimum(life, stop), 1), np.round(entry + 0.1, 1))
            failed = life <= stop
            read = np.datetime64("2026-01-01") - rng.integers(0, 200, m).astype("timedelta64[D]")
            new = read - (end / rng.uniform(60, 200, m) * 365.25).astype("timedelta64[D]")
            table = pa.table(
                {
                    "engine": [f"E{first + i:09d}" for i in range(m)],
                    "entry_hours": entry,
                    "exit_hours": end,
                    "ending": np.where(failed, "failed", "running"),
                    "cause": np.where(
                        failed, np.where(rng.random(m) < 0.5, "piston", "bearing"), ""
                    ),
                    "source": np.array(["club A", "club B", "club C"])[rng.integers(0, 3, m)],
                    "in_service_date": new,
                    "last_reading_date": read,
                }
            )
            if writer is None:
                make = pc.CSVWriter if kind == "csv" else pq.ParquetWriter
                writer = make(folder / "parts" / f"p-{k:03d}.{kind}", table.schema)
            (writer.write if kind == "csv" else writer.write_table)(table)
            first, left = first + m, left - m
        assert writer is not None
        writer.close()
    text = STUDY.format(kind=kind).replace(f"parts.{kind}", f"parts/*.{kind}")
    (folder / "study.toml").write_text(text, encoding="utf-8")


def peak_mb(who: int) -> float:
    """Return the greatest memory so far, in MB."""
    return resource.getrusage(who).ru_maxrss / 1024


def run_whole(folder: Path, workers: int) -> dict[str, Any]:
    """Run the verb's work here; return its figures with processor seconds and MB of each stage."""
    stages: dict[str, float] = {}
    most_mb: dict[str, float] = {}
    begun = time.perf_counter()
    last: list[Any] = ["starting", time.process_time()]

    def stage(text: str) -> None:
        now = time.process_time()
        stages[last[0]] = stages.get(last[0], 0.0) + now - last[1]
        most_mb[last[0]] = peak_mb(resource.RUSAGE_SELF)
        last[:] = [text.split(":")[0].split(" rows")[0], now]

    from fleetstats.chapters.compose import compose_report
    from fleetstats.core.crew import Crew
    from fleetstats.report.write import write_report
    from fleetstats.studies.analyse import analyse
    from fleetstats.study.study import read_study

    results = analyse(read_study(folder), chunks=True, stage=stage, crew=Crew(workers=workers))
    mb = peak_mb(resource.RUSAGE_SELF)
    stage("writing the report")
    write_report(compose_report(results), results, folder / "out")
    stage("")
    used = [resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return {
        "wall": time.perf_counter() - begun,
        "cpu": [u.ru_utime + u.ru_stime for u in used],
        "mb": [mb, peak_mb(resource.RUSAGE_SELF), peak_mb(resource.RUSAGE_CHILDREN)],
        "stages": stages,
        "most_mb": most_mb,
        "rows": results.chapters["bulk"].summary(),
        "answer": [results.fit.shape, results.fit.scale_h],
        "chapters": sorted(results.chapters),
        "troubles": [t.text for t in results.troubles],
    }


def run_one(folder: Path) -> dict[str, float]:
    """Read one file by itself; return its unit costs for a million rows."""
    from fleetstats.spells.bulk.bulk import read_bulk
    from fleetstats.spells.bulk.bulk_part import read_part
    from fleetstats.study.study import read_study

    study = read_study(folder)
    base = peak_mb(resource.RUSAGE_SELF)
    begun = time.process_time()
    part = read_part((study, study.files[0]))
    read = time.process_time() - begun
    mb = peak_mb(resource.RUSAGE_SELF) - base
    begun = time.process_time()
    text = pickle.dumps(part, protocol=5)
    pickle.loads(text)
    hand = time.process_time() - begun
    assert part.reader is not None
    assert part.source is not None
    n = part.reader.n_read / 1e6
    kept = sum(x.nbytes for x in part.marks.values())
    one = dataclasses.replace(study, files=study.files[:1])
    begun = time.process_time()
    read_bulk(one)
    join = time.process_time() - begun - read
    return {
        "read_s": read / n,
        "hand_s": hand / n,
        "join_s": join / n,
        "file_bytes": part.source.size_bytes / n / 1e6,
        "handed_bytes": len(text) / n / 1e6,
        "kept_bytes": kept / n / 1e6,
        "worker_mb": mb,
        "base_mb": base,
        "rows": n,
    }


def apart(*words: str) -> dict[str, Any]:
    """Do one task in a process of its own; return its figures."""
    call = [sys.executable, "-W", "ignore", __file__, *words]
    done = subprocess.run(call, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(done.stderr)
    return dict(json.loads(done.stdout.splitlines()[-1]))


def cpu_of(processes: list[subprocess.Popen[bytes]]) -> list[float]:
    """Return the processor seconds that some processes took so far."""
    tick = os.sysconf("SC_CLK_TCK")
    stats = [Path(f"/proc/{p.pid}/stat").read_text().rpartition(")")[2].split() for p in processes]
    return [(int(x[11]) + int(x[12])) / tick for x in stats]


def run_read(folder: Path, scheduler: str) -> dict[str, Any]:
    """Read, audit and join the table; return processor seconds here, and a digest of all of it."""
    from fleetstats.core.crew import Crew
    from fleetstats.spells.bulk.bulk import read_bulk
    from fleetstats.study.study import read_study

    begun = time.process_time()
    read = read_bulk(read_study(folder), crew=Crew(scheduler=scheduler))
    used = time.process_time() - begun
    frame = read.tally.spells().to_frame()
    told = (read.bulk.to_dict(), frame.to_csv(), read.labels, sorted(read.in_service.items()))
    return {"cpu": used, "sha256": hashlib.sha256(repr(told).encode()).hexdigest()}


def run_dask(folder: Path) -> None:
    """Print what clusters of some workers take to read a table."""
    alone = apart("--read", str(folder), "")
    print(f"read by one process: processor {alone['cpu']:.1f} s", flush=True)
    for w in DASK_WORKERS:
        with socket.socket() as s:
            s.bind(("127.0.0.1", 0))
            address = f"tcp://127.0.0.1:{s.getsockname()[1]}"
        begin = [sys.executable, "-W", "ignore", "-m"]
        calls = [[*begin, "distributed.cli.dask_scheduler", "--host", address, "--no-dashboard"]]
        calls += [[*begin, "distributed.cli.dask_worker", address, "--nthreads", "1",
                   "--no-nanny", "--no-dashboard"]] * w  # fmt: skip
        running: list[subprocess.Popen[bytes]] = []
        try:
            for call in calls:
                running.append(
                    subprocess.Popen(call, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
                )
            from distributed import Client

            with Client(address, set_as_default=False, timeout=120) as client:
                client.wait_for_workers(w, timeout=120)
            idle = cpu_of(running)
            told = apart("--read", str(folder), address)
            used = [b - a for a, b in zip(idle, cpu_of(running), strict=True)]
        finally:
            for p in running:
                p.kill()
                p.wait()
        same = "the same" if told["sha256"] == alone["sha256"] else "ANOTHER ANSWER"
        print(
            f"read by {w} workers of a scheduler: processor {told['cpu']:.1f} s here, "
            f"{used[0]:.1f} s the scheduler, {sum(used[1:]):.1f} s the workers; {same}",
            flush=True,
        )


def main(rows: int, files: int, workers: int, kind: str, dask: bool) -> None:
    """Print what was measured, and the paper for more rows."""
    with tempfile.TemporaryDirectory() as root:
        folder = Path(root) / "study"
        write_files(rows, files, folder, kind)
        one = apart("--one", str(folder))
        print({k: round(float(v), 3) for k, v in one.items()}, flush=True)
        if dask:
            run_dask(folder)
        told = apart("--whole", str(folder), str(workers))
    cpu, mb = told["cpu"], told["mb"]
    print(
        f"{rows:,} rows in {files} files of {kind}, {workers} workers: {told['wall']:.0f} s; "
        f"processor {cpu[0]:.0f} s here and {cpu[1]:.0f} s in others; {mb[0]:,.0f} MB before "
        f"the report, {mb[1]:,.0f} MB after it, others {mb[2]:,.0f} MB; {told['rows']}; shape and "
        f"scale {told['answer']}; chapters {', '.join(told['chapters'])}; {told['troubles']}"
    )
    stages, most = told["stages"], told["most_mb"]
    print(
        "processor seconds here, and the most memory so far: "
        + "; ".join(f"{k} {v:.1f} s, {most[k]:,.0f} MB" for k, v in stages.items())
    )
    unit = {k: float(v) for k, v in one.items()}
    done = sum(v for k, v in stages.items() if k.startswith(("reading", "looking")))
    rest = sum(stages.values()) - done
    joined = max(v for k, v in most.items() if k.startswith(("reading", "looking")))
    m = PAPER_ROWS / 1e6
    for w in PAPER_WORKERS:
        hand = unit["hand_s"] if w > 1 else 0.0
        seconds = unit["read_s"] * m / w + (hand + unit["join_s"]) * m + rest
        joins = unit["base_mb"] + (joined - unit["base_mb"]) / (rows / 1e6) * m
        each = unit["base_mb"] + unit["worker_mb"] / unit["rows"] * m / PAPER_FILES
        print(
            f"{PAPER_ROWS:,} rows, {w} workers: {seconds / 60:.1f} min, {joins / 1000:.1f} GB "
            f"where they are joined, {each / 1000:.1f} GB a worker, "
            f"{unit['file_bytes'] * m / 1000:.1f} GB read twice"
        )


if __name__ == "__main__":
    asked = sys.argv[1:]
    if asked[:1] == ["--one"]:
        print(json.dumps(run_one(Path(asked[1]))))
    elif asked[:1] == ["--whole"]:
        print(json.dumps(run_whole(Path(asked[1]), int(asked[2]))))
    elif asked[:1] == ["--read"]:
        print(json.dumps(run_read(Path(asked[1]), asked[2])))
    else:
        at = asked.index("--workers") + 1 if "--workers" in asked else 0
        many = int(asked.pop(at)) if at else 1
        numbers = [int(a) for a in asked if a.isdigit()]
        main(*(numbers + [2_000_000, 4][len(numbers) :])[:2], many,
             "csv" if "--csv" in asked else "parquet", "--dask" in asked)  # fmt: skip
