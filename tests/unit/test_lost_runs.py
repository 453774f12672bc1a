"""Processes killed in the midst of a study: what was done is kept, and the next run takes it up.

A worker, a scheduler, or the study itself is ended by a signal that nothing can catch, as soon as
the first file is kept. No outside source: every answer is held against that of one process.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

FILES, ROWS = 8, 40_000
STUDY = """\
[study]
title = "Very many"
analysis_date = 2026-02-01
claimed_interval_h = 400
[merge]
returns = false
[[records]]
file = "r-*.csv"
"""
TAKEN_UP = f"of {FILES} files are as they were when they were read before"

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are not listed"),
]


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("lost") / "study"
    folder.mkdir()
    rng = np.random.default_rng(5)
    for k in range(FILES):
        life = np.round(1500.0 * rng.weibull(2.6, ROWS), 1) + 0.1
        stop = np.round(rng.uniform(20, 900, ROWS), 1)
        rows = [
            f"E{k}{i:06d},{min(a, b):.1f},{'failed' if a <= b else 'running'},2026-01-15"
            for i, (a, b) in enumerate(zip(life, stop, strict=True))
        ]
        text = "\n".join(["engine,exit_hours,ending,last_reading_date", *rows]) + "\n"
        (folder / f"r-{k}.csv").write_text(text, encoding="utf-8")
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def plain(study: Path) -> Any:
    """What one process answers."""
    done = Run(study, study.parent / "plain", ["--workers", "1"]).ended()
    assert done.code == 0, done.err
    return done.answer


class Run:
    """One run of the verb in a process of its own."""

    def __init__(self, study: Path, room: Path, more: list[str]) -> None:
        room.mkdir(exist_ok=True)
        self.room, self.kept = room, room / "kept"
        call = [sys.executable, "-m", "fleetstats", "study", str(study), "--chunks", "--quick",
                "--json", "--no-history", "--out", str(room / "out"), *more]  # fmt: skip
        self.process = subprocess.Popen(
            call, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            env={**os.environ, "FLEETSTATS_KEPT": str(self.kept)},
        )  # fmt: skip
        self.code, self.out, self.err = -1, "", ""

    def until_kept(self, n: int = 1) -> None:
        """Wait until some files are kept, and the run is still on."""
        wait_for(lambda: len(list(self.kept.rglob("file-*.kept"))) >= n)
        assert self.process.poll() is None, "it was over before anything could be killed"

    def ended(self) -> Run:
        self.out, self.err = self.process.communicate(timeout=120)
        self.code = self.process.returncode
        assert "Traceback" not in self.err
        return self

    @property
    def answer(self) -> Any:
        """What was answered, but for how it was asked for."""
        told = json.loads(self.out)
        told.pop("command", None)
        return told


def wait_for(it: Callable[[], bool], seconds: float = 60.0) -> None:
    end = time.monotonic() + seconds
    while not it():
        assert time.monotonic() < end, "it was waited for in vain"
        time.sleep(0.01)


def below(pid: int) -> list[int]:
    """Return the processes that a process started, and those that these did."""
    parents = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            parents[int(stat.parent.name)] = int(stat.read_text().rpartition(")")[2].split()[1])
    out, due = [], [pid]
    while due:
        mine = [p for p, parent in parents.items() if parent in due]
        out, due = out + mine, mine
    return out


def is_alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


@contextlib.contextmanager
def cluster(workers: int = 2) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """Run a scheduler (first) and workers in processes of their own, without their nannies."""
    pytest.importorskip("distributed", reason="the extra 'scheduler' is not installed")
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{s.getsockname()[1]}"
    begin = [sys.executable, "-m"]
    calls = [[*begin, "distributed.cli.dask_scheduler", "--host", address, "--no-dashboard"]]
    calls += [[*begin, "distributed.cli.dask_worker", address, "--nthreads", "1", "--no-nanny",
               "--no-dashboard", "--death-timeout", "30"]] * workers  # fmt: skip
    running: list[subprocess.Popen[bytes]] = []
    try:
        for call in calls:
            running.append(
                subprocess.Popen(call, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            )
        yield address, running
    finally:
        for p in running:
            p.kill()
            p.wait()


def test_a_killed_worker_of_a_scheduler_changes_nothing(study: Path, plain: Any) -> None:
    with cluster() as (address, processes):
        run = Run(study, study.parent / "worker", ["--scheduler", address])
        run.until_kept()
        processes[1].kill()
        run.ended()
    assert run.code == 0, run.err
    assert run.answer == plain


def test_a_killed_scheduler_is_told_in_a_word_and_the_next_run_goes_on(
    study: Path, plain: Any
) -> None:
    room = study.parent / "scheduler"
    with cluster() as (address, processes):
        run = Run(study, room, ["--scheduler", address])
        run.until_kept()
        processes[0].kill()
        run.ended()
    assert run.code == 1
    errors = [x for x in run.err.splitlines() if x.startswith("fleetstats:")]
    assert errors == [
        f"fleetstats: The scheduler at '{address}' is gone. Start it and run again; what was "
        "finished is not lost where it was kept."
    ]
    assert not (room / "out").exists()
    assert below(run.process.pid) == []
    with cluster() as (address, _):
        again = Run(study, room, ["--scheduler", address]).ended()
    assert again.code == 0, again.err
    assert TAKEN_UP in again.err
    assert again.answer == plain


def test_a_killed_study_leaves_the_scheduler_nothing_to_do_and_the_next_goes_on(
    study: Path, plain: Any
) -> None:
    room = study.parent / "client"
    with cluster() as (address, processes):
        run = Run(study, room, ["--scheduler", address])
        run.until_kept()
        run.process.kill()
        run.process.communicate()
        from distributed import Client

        with Client(address, set_as_default=False) as client:
            wait_for(lambda: not any(client.processing().values()))
        assert all(p.poll() is None for p in processes)
        assert sorted(p.name for p in room.iterdir()) == ["kept"]
        again = Run(study, room, ["--scheduler", address]).ended()
    assert again.code == 0, again.err
    assert TAKEN_UP in again.err
    assert again.answer == plain


def test_a_killed_study_ends_its_own_processes_and_the_next_goes_on(
    study: Path, plain: Any
) -> None:
    room = study.parent / "own"
    run = Run(study, room, ["--workers", "2"])
    run.until_kept()
    children = below(run.process.pid)
    assert len(children) >= 2
    run.process.kill()
    run.process.communicate()
    wait_for(lambda: not any(map(is_alive, children)), 10.0)
    assert sorted(p.name for p in room.iterdir()) == ["kept"]
    again = Run(study, room, ["--workers", "2"]).ended()
    assert again.code == 0, again.err
    assert TAKEN_UP in again.err
    assert again.answer == plain


def test_a_killed_process_of_a_study_changes_nothing(study: Path, plain: Any) -> None:
    run = Run(study, study.parent / "process", ["--workers", "2"])
    run.until_kept()
    os.kill(below(run.process.pid)[-1], signal.SIGKILL)
    run.ended()
    assert run.code == 0, run.err
    assert run.answer == plain
