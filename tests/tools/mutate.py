"""Do the tests notice? Change one number or comparison at a time and run the tests that look.

``python tests/tools/mutate.py records advice chapters/claim --sample 60 --seed 1 -j 2`` takes 60
of the changes that can be made in those floors, rooms or files, and prints those that no test saw.
``--log FILE`` keeps a line for each change tried; the same command with the same file goes on where
it stopped. The nearest tests run first (files that import the module and name what was changed),
then more, by the imports between, up to ``--most`` seconds of tests for a change.

All is done in a copy in the system's temporary folder; the files of the project are only read.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import py_compile
import random
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from pathlib import Path

from mutants import Mutant, mutants_of
from nearest_tests import NearestTests

ROOT = Path(__file__).parents[2]
PACKAGE = "fleetstats"
COPIED = ("fleetstats", "tests", "datasets", "reports", "pyproject.toml", "README.md",
          "DEVELOPERS.md")  # fmt: skip
LEFT_OUT = ("tests/house/", "tests/tools/", "tests/bench/", "tests/cli/test_stop_cli.py",
            "tests/unit/test_scheduler.py", "tests/unit/test_report_browser.py")  # fmt: skip
"""Tests of the house, of these tools, and those that start programs of their own."""

TIMES = "seconds of "
"""Beginning of the key of a log's line that holds the time of a test file as things stand."""

MOST_UNFIT = 3
"""Test files that take too long for the seconds left, after which no more are looked at."""

FIRST_STAGE_S = 8.0
"""Seconds of tests in the first stage; a file more than that only where it is the nearest."""

SLOWER, GRACE_S = 4.0, 20.0
"""A change is given so many times the time of the tests as they stand, and so many seconds more."""

QUIET = ("-x", "-q", "--assert=plain", "-p", "no:cacheprovider", "--no-header",
         "--hypothesis-seed=0")  # fmt: skip
PRELOADED = ("pytest", "hypothesis", "numpy", "pandas", "scipy.stats", "scipy.optimize",
             "scipy.special", "click", "openpyxl", "pyarrow")  # fmt: skip


@dataclass(slots=True)
class Bench:
    """A copy of the project in which one change at a time is tried."""

    root: Path
    log: Path
    most_s: float
    seconds: dict[str, float] = field(default_factory=dict)

    def note(self, row: dict[str, object]) -> None:
        """Add a line to the log."""
        with self.log.open("a", encoding="utf-8") as out:
            out.write(json.dumps(row) + "\n")

    def run(self, files: Iterable[str], limit_s: float, *, write_bytecode: bool = False) -> str:
        """Run test files in a child of this process; return "passed", "failed" or "slow"."""
        child = os.fork()
        if child == 0:
            _be_the_tests(self.root, list(files), write_bytecode)
        begun = time.monotonic()
        status = None
        try:
            while status is None and time.monotonic() - begun < limit_s:
                done, said = os.waitpid(child, os.WNOHANG)
                status = said if done else None
                time.sleep(0.02)
        finally:
            if status is None:
                with contextlib.suppress(ProcessLookupError):  # it leads no group yet
                    os.killpg(child, signal.SIGKILL)
                os.kill(child, signal.SIGKILL)
                os.waitpid(child, 0)
        if status is None:
            return "slow"
        return "passed" if os.waitstatus_to_exitcode(status) == 0 else "failed"

    def time_of(self, file: str) -> float:
        """Return the seconds a test file takes as things stand; infinite if it does not pass."""
        if file not in self.seconds:
            begun = time.monotonic()
            said = self.run([file], 2.0 * self.most_s, write_bytecode=True)
            took = time.monotonic() - begun if said == "passed" else float("inf")
            self.seconds[file] = took
            self.note({"key": TIMES + file, "seconds": took, "outcome": said})
        return self.seconds[file]

    def stages(self, order: list[str]) -> list[list[str]]:
        """Return test files in two stages: the nearest, then more while there is time."""
        stages: list[list[str]] = [[], []]
        total, unfit = 0.0, 0
        for file in order:
            took = self.time_of(file)
            if took == float("inf") or (stages[0] and total + took > self.most_s):
                unfit += 1
                if stages[0] and unfit >= MOST_UNFIT:
                    break
                continue
            near = not stages[0] or (not stages[1] and total + took <= FIRST_STAGE_S)
            stages[0 if near else 1].append(file)
            total += took
        return [s for s in stages if s]

    def try_one(self, mutant: Mutant, order: list[str]) -> dict[str, object]:
        """Make one change, run the tests, take the change back; return what became of it."""
        stages = self.stages(order)
        path = self.root / mutant.file
        text = path.read_bytes()
        begun, said, ran = time.monotonic(), "no tests", []
        try:
            cached = Path(py_compile.compile(str(path), doraise=True) or "")
            path.write_bytes(mutant.apply(text))
            cached.unlink(missing_ok=True)  # or a change within one second might not be seen
            for files in stages:
                limit = SLOWER * sum(self.time_of(f) for f in files) + GRACE_S
                ran += files
                said = self.run(files, limit)
                if said != "passed":
                    break
        finally:
            path.write_bytes(text)
            cached.unlink(missing_ok=True)
        return {
            "key": mutant.key,
            **asdict(mutant),
            "outcome": "survived" if said == "passed" else said,
            "tests": ran,
            "seconds": round(time.monotonic() - begun, 1),
        }


def _be_the_tests(root: Path, files: list[str], write_bytecode: bool) -> None:
    """Become a run of pytest in the copy; never returns."""
    code = 3
    try:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        os.setpgid(0, 0)
        os.chdir(root)
        null = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(null, stream)
        sys.dont_write_bytecode = not write_bytecode
        sys.path[:0] = [str(root)]
        os.environ["PYTHONPATH"] = str(root)
        import pytest

        code = int(pytest.main([*QUIET, *files]))
    finally:
        os._exit(code)


def find_files(root: Path, asked: list[str]) -> list[str]:
    """Return the files of floors, rooms or modules, as paths below the root.

    Raises
    ------
    SystemExit
        If one of them names nothing.
    """
    out: list[str] = []
    for word in asked:
        place = root / PACKAGE / word.removeprefix(f"{PACKAGE}/")
        found = sorted(place.rglob("*.py")) if place.is_dir() else [place, Path(f"{place}.py")]
        there = [p.relative_to(root).as_posix() for p in found if p.is_file()]
        if not there:
            raise SystemExit(f"'{word}' names no floor, room or file of {PACKAGE}.")
        out += [f for f in there if f not in out]
    return out


def choose(
    root: Path, asked: list[str], sample: int, seed: int, *, limits: bool = False
) -> list[Mutant]:
    """Return the changes to try: all, or `sample` of them drawn with `seed`.

    `limits` keeps those of numbers that have a name in capitals of its own.
    """
    every = [
        m
        for f in find_files(root, asked)
        for m in mutants_of(f, (root / f).read_bytes())
        if not limits or m.name.isupper()
    ]
    if 0 < sample < len(every):
        every = random.Random(seed).sample(every, sample)
    return every


def copy_project(root: Path, to: Path) -> None:
    """Copy what the tests read, without caches."""
    for name in COPIED:
        if (root / name).is_dir():
            shutil.copytree(root / name, to / name, ignore=shutil.ignore_patterns("__pycache__"))
        elif (root / name).is_file():
            shutil.copy2(root / name, to / name)


def read_log(path: Path) -> dict[str, dict[str, object]]:
    """Return what a log holds, by key; a line cut off by an interrupt is left out."""
    out: dict[str, dict[str, object]] = {}
    if path.is_file():
        for line in path.read_text(encoding="utf-8").splitlines():
            try:
                row = json.loads(line)
            except ValueError:
                continue
            out[row["key"]] = row
    return out


def work(asked: argparse.Namespace) -> None:
    """Try one worker's part of the changes, in a copy of its own."""
    for name in PRELOADED:
        __import__(name)
    ends = time.monotonic() + 60.0 * asked.minutes
    mutants = choose(asked.root, asked.where, asked.sample, asked.seed, limits=asked.limits)[
        asked.part :: asked.j
    ]
    done = read_log(asked.log)
    times = {k.removeprefix(TIMES): float(str(r["seconds"])) for k, r in done.items()
             if k.startswith(TIMES)}  # fmt: skip
    with tempfile.TemporaryDirectory(prefix="mutants-") as folder:
        root = Path(folder)
        copy_project(asked.root, root)
        bench = Bench(root, asked.log, asked.most, times)
        choice = NearestTests(root, PACKAGE, LEFT_OUT)
        for m in mutants:
            if m.key in done:
                continue
            if time.monotonic() > ends:
                break
            bench.note(bench.try_one(m, choice.order(m.file, m.name)))


def table(rows: Iterable[dict[str, object]]) -> str:
    """Return the table of survivors, and a line that counts the rest."""
    rows = list(rows)
    by = {o: [r for r in rows if r["outcome"] == o] for o in {str(r["outcome"]) for r in rows}}
    counts = ", ".join(f"{len(by[o])} {o}" for o in sorted(by))
    out = [f"{len(rows)} changes tried: {counts or 'none'}", ""]
    left = sorted(
        (r for r in rows if r["outcome"] in ("survived", "no tests")),
        key=lambda r: (str(r["file"]), int(str(r["line"]))),
    )
    if left:
        out += [
            "| file | line | in | before -> after | tests run |",
            "| --- | --- | --- | --- | --- |",
        ]
    for r in left:
        tests = r["tests"]
        ran = len(tests) if isinstance(tests, list) else 0
        change = re.sub(r"\s+", " ", f"{r['before']} -> {r['after'] or '(nothing)'}")
        out.append(f"| {r['file']} | {r['line']} | {r['name']} | `{change}` | {ran} files |")
    return "\n".join(out) + "\n"


def main(arguments: list[str] | None = None) -> int:
    """Run from a command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("where", nargs="+", help="floors, rooms or files of the package")
    parser.add_argument("--sample", type=int, default=0, help="how many changes; all without it")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--limits", action="store_true", help="only numbers NAMED so")
    parser.add_argument("--most", type=float, default=30.0, help="seconds of tests for a change")
    parser.add_argument("--minutes", type=float, default=1e9, help="begin none after so long")
    parser.add_argument("-j", type=int, default=1, help="workers")
    parser.add_argument("--log", type=Path, default=None, help="kept, and gone on with")
    parser.add_argument("--root", type=Path, default=ROOT, help=argparse.SUPPRESS)
    parser.add_argument("--part", type=int, default=-1, help=argparse.SUPPRESS)
    asked = parser.parse_args(arguments)
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # so that no copy is left behind
    if asked.part >= 0:
        work(asked)
        return 0
    with tempfile.TemporaryDirectory() as folder:
        asked.log = (asked.log or Path(folder) / "log.jsonl").resolve()
        chosen = choose(asked.root, asked.where, asked.sample, asked.seed, limits=asked.limits)
        again = [*(arguments or sys.argv[1:]), "--log", str(asked.log)]
        here = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        workers = [
            subprocess.Popen([sys.executable, __file__, *again, "--part", str(i)], env=here)
            for i in range(asked.j)
        ]
        try:
            failed = [w for w in workers if w.wait() != 0]
        finally:
            for w in workers:
                w.terminate()
                w.wait()
        done = read_log(asked.log)
    sys.stdout.write(table(done[m.key] for m in chosen if m.key in done))
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
