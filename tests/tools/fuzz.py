"""All verbs on mutated studies: no traceback, no hang, no row lost, no half of a report.

Run: python tests/tools/fuzz.py MINUTES [--seed N] [--one NUMBER] [--keep FOLDER]

Minutes are those of a processor, so that a busy machine tries as many cases as an
idle one; SIGTERM ends it sooner, with its account.

Each case is a small study of a seed of its own, its files mutated one to four times (cells, words,
numbers, quotation marks, bytes, line ends, columns, rows, settings), and one verb asked of it in
this process. It prints one line for each fault, with the number that makes the case again with
``--one``, and at the end how often each verb ended in which way.

What counts as a fault: any exception that is no error of ours, more than a minute of the
processor, rows read that are not rows used + rows set aside, a failure without a word, and a
report's folder without its list of files or after a run that failed.
"""

from __future__ import annotations

import argparse
import contextlib
import functools
import json
import os
import shutil
import signal
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np
from fuzz_files import (
    MAKERS,
    WRITERS,
    Rng,
    Rows,
    as_text,
    lives,
    mends_table,
    mutate_bytes,
    mutate_rows,
    mutate_zip,
)

os.environ["FLEETSTATS_KEPT"] = "no"
os.environ["FLEETSTATS_NO_HISTORY"] = "1"

LONGEST_S = 60

VERBS: tuple[tuple[str, ...], ...] = (
    ("check",), ("check",), ("check",), ("claim", "--hours", "800"), ("study", "--chunks"),
    ("study",), ("watch",), ("plan",), ("calls",), ("causes",), ("pool",), ("hidden",),
    ("effects",), ("events",), ("forecast",), ("outlook",), ("removals",), ("sources",),
    ("interval",), ("trends",), ("bench",), ("portfolio",), ("check-return",), ("compare",),
    ("bundle",), ("verify",),
)  # fmt: skip

SETTINGS = (
    'study.analysis_date = 1970-01-01', "study.claimed_interval_h = 1e-9",
    "study.confidence = 0.999", "study.confidence = 1.0", "study.seed = 0",
    "fleet.built = 1", "fleet.built = 100000000",
    'hours.unit = "minutes"', "merge.returns = false", 'treat.hours-unreadable = "set-aside"',
    'treat.duplicate-life = "set-aside"', 'treat.ending-unknown = "set-aside"',
    "study.since = 2020-01-01", "study.since = 2999-01-01", 'question.causes = ["piston"]',
    'question.causes = []', "evidence.shapes = [0.01, 90.0]", "targets.reliability = 0.5",
    "evidence.min_at_risk = 100000", 'groups.covariates = ["no such"]', "forecast.months = 600",
    'records.decimal = ","', "nothing.at_all = 3", 'portfolio.family = "build"',
)  # fmt: skip


ASIDE = (
    "duplicate-row", "duplicate-life", "ending-unknown", "hours-unreadable", "hours-impossible",
    "count-unreadable", "row-long", "row-short", "date-unreadable", "exit-before-entry",
    "log-hours-unreadable", "log-hours-backwards", "hours-missing", "engine-missing",
)  # fmt: skip
"""Findings of one row that leave a row out, where the study knows their kind."""


VALUES = (
    "0", "1", "-1", "0.5", "1e-9", "1e9", "1e308", "nan", "inf", "-0.0", "99999999999999999999",
    '""', '"x"', '"failed"', '"2024-01-01"', "2024-01-01", "1970-01-01", "9999-12-31", "true",
    "false", "[]", '["a"]', '["piston"]', "[1.0]", "[0.5, 3.0]", "[0.0]", "{}", '{a = "b"}',
    '{a = 1.0}', "[[]]", "07:32:00", '"\\u0000"', '"' + "x" * 3000 + '"', "auto",
)  # fmt: skip
"""What a key of the study file is given at random."""


@functools.cache
def every_setting() -> tuple[str, ...]:
    """Return the name of each key of a study file but those of record files."""
    from fleetstats.spells.bulk.kept_rows import every_key

    return every_key()


@functools.cache
def sound_bundle() -> bytes:
    """Return a bundle of a small study, made once."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "study"
        folder.mkdir()
        rng = np.random.default_rng(5)
        (folder / "lives.csv").write_bytes(as_text(lives(rng), rng))
        (folder / "study.toml").write_text(
            '[study]\ntitle = "Fuzz"\nanalysis_date = 2026-01-31\nclaimed_interval_h = 900\n'
            '[treat]\nfailure-or-not = "accept"\n[[records]]\nfile = "lives.csv"\n', "utf-8",
        )  # fmt: skip
        out = Path(name) / "x.zip"
        code, _, err, raised = ask(("bundle", str(folder), "--out", str(out)))
        if not out.exists():
            raise RuntimeError(f"no bundle to spoil: {code} {err} {raised}")
        return out.read_bytes()


def make_settings(rng: Rng) -> dict[str, str]:
    """Return settings of a study, some of them at random."""
    settings = {"study.title": '"Fuzz"', "study.analysis_date": "2026-01-31",
                "study.claimed_interval_h": "900"}  # fmt: skip
    if rng.random() < 0.5:
        key, _, told = str(rng.choice(SETTINGS)).partition(" = ")
        settings[key] = told
    for _ in range(int(rng.integers(0, 3)) if rng.random() < 0.3 else 0):
        settings[str(rng.choice(every_setting()))] = str(rng.choice(VALUES))
    if rng.random() < 0.85:  # most stops are decided, so that what comes after is reached
        settings |= {f"treat.{code}": '"set-aside"' for code in ASIDE}
        settings["treat.failure-or-not"] = '"accept"'
    return settings


def write_table(folder: Path, name: str, rows: Rows, rng: Rng) -> None:
    """Write a record file in the form that its name tells, one in four spoilt."""
    raw = WRITERS[name.rpartition(".")[2]](rows, rng)
    (folder / name).write_bytes(mutate_bytes(raw, rng) if rng.random() < 0.25 else raw)


def make_case(folder: Path, rng: Rng) -> tuple[tuple[str, ...], str]:
    """Write a mutated study; return the verb to ask of it with its options, and what was spoilt."""
    verb = VERBS[int(rng.integers(len(VERBS)))]
    if verb[0] == "verify" and rng.random() < 0.8:  # it runs a whole study in a process of its own
        verb = ("check",)
    if verb[0] == "verify":
        raw = mutate_zip(sound_bundle(), rng) if rng.random() < 0.8 else mutate_bytes(
            sound_bundle(), rng)  # fmt: skip
        (folder / "x.zip").write_bytes(raw)
        return ("verify", str(folder / "x.zip")), "bundle"
    chunks = "--chunks" in verb
    shape = "lives" if chunks else str(rng.choice(["lives"] * 5 + ["log"] * 3 + ["histories"] * 2))
    form = str(rng.choice(["csv"] * 4 + ["xlsx"] * 2 * (not chunks) + ["parquet"] * 2))
    rows = MAKERS[shape](rng)
    tables = {f"{shape}.{form}": (shape, rows)}
    if rng.random() < 0.2 and not chunks:
        again = [rows[0], *([f"X{r[0]}", *r[1:]] for r in rows[1:] if r)]
        tables[f"more.{form}"] = (shape, again)
    if rng.random() < 0.25 and not chunks:
        beside = str(rng.choice(["checks", "leakdown", "bench"]))
        tables[f"{beside}.csv"] = (beside, MAKERS[beside](rng))
    settings = make_settings(rng)
    if chunks:
        settings.setdefault("merge.returns", "false")
    n_rows = int(rng.integers(0, 3))
    for name, (_, body) in tables.items():
        for _ in range(n_rows):
            mutate_rows(body, rng)
        write_table(folder, name, body, rng)
    write_study(folder, {n: kind for n, (kind, _) in tables.items()}, settings, rng)
    what = f"{shape}/{form}"
    if rng.random() < 0.12:
        name = next(iter(tables))
        (folder / "mends.csv").write_bytes(mends_table(folder, name, tables[name][1], rng))
        what += "+mends"
    return (*options(verb, folder, next(iter(tables))),), what


def write_study(folder: Path, files: dict[str, str], settings: dict[str, str], rng: Rng) -> None:
    """Write the study file of some record files, each with its shape, now and then spoilt."""
    tables: dict[str, list[str]] = {}
    for key, told in settings.items():
        table, _, name = key.partition(".")
        tables.setdefault(table, []).append(f"{name} = {told}")
    beside = "\n".join(tables.pop("records", []))
    lines = [f"[{t}]\n" + "\n".join(x) for t, x in tables.items()]
    lines += [f'[[records]]\nfile = "{f}"\nshape = "{shape}"\n{beside}'
              for f, shape in files.items()]  # fmt: skip
    raw = "\n".join(lines).encode()
    (folder / "study.toml").write_bytes(mutate_bytes(raw, rng) if rng.random() < 0.05 else raw)


def options(verb: tuple[str, ...], folder: Path, file: str) -> tuple[str, ...]:
    """Return a verb with its options."""
    if verb[0] == "check-return":
        return "check-return", str(folder / file)
    if verb[0] == "compare":
        return "compare", str(folder), str(folder)
    if verb[0] == "bundle":
        return "bundle", str(folder), "--out", str(folder / "x.zip")
    out = ("--out", str(folder / "out")) if verb[0] in ("study", "portfolio") else ()
    return verb[0], str(folder), *verb[1:], *out


class Hangs(BaseException):
    """A verb took too long; no error that a verb could take for one of its own."""


@contextlib.contextmanager
def within(seconds: int) -> Iterator[None]:
    """Raise `Hangs` in this process after so much time of the processor."""

    def stop(*_: object) -> None:
        raise Hangs(f"more than {seconds} s")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def ask(words: tuple[str, ...]) -> tuple[int, str, str, BaseException | None]:
    """Run a verb here; return its exit code, what it printed, and what it raised."""
    from click.testing import CliRunner

    from fleetstats.cli import main

    with within(LONGEST_S):
        got = CliRunner().invoke(main, list(words))
    raised = got.exception if not isinstance(got.exception, SystemExit) else None
    return got.exit_code, got.stdout, got.stderr, raised


def faults_of(folder: Path, words: tuple[str, ...]) -> tuple[list[str], int]:
    """Return what is wrong with how a verb ended, and its exit code."""
    try:
        code, out, err, raised = ask(words)
    except Hangs as e:
        return [str(e)], -1
    found = []
    if raised is not None:
        told = traceback.extract_tb(raised.__traceback__)
        where = next((f for f in reversed(told) if "fleetstats/" in f.filename), told[-1])
        place = f"{Path(where.filename).name}:{where.lineno}"
        found.append(f"{type(raised).__name__}: {str(raised)[:120]!r} at {place}")
    if "Traceback" in out + err or "Report this" in out + err:
        found.append(f"says: {(out + err)[-200:]!r}")
    if code not in (0, 1, 2, 3) and raised is None:
        found.append(f"exit code {code}")
    if code == 1 and not (err.strip() or (words[0] == "verify" and out.strip())):
        found.append("fails without a word")
    report = folder / "out"
    if report.exists() and not (report / "manifest.json").exists():
        found.append(f"half a report: {sorted(p.name for p in report.iterdir())[:5]}")
    if code in (1, 2) and report.exists():
        found.append("a report of a run that failed")
    if words[0] == "check" and code in (0, 1, 3):
        found += lost_rows(folder)
    return found, code


def lost_rows(folder: Path) -> list[str]:
    """Return where rows read are not rows used + rows set aside."""
    code, out, _, raised = ask(("check", str(folder), "--json"))
    if raised is not None or code == 2 or not out.strip().startswith("{"):
        return []
    found = []
    for account in json.loads(out).get("accounts", []):
        read, used, aside = (account[n] for n in ("n_read", "n_used", "n_set_aside"))
        if read != used + aside:
            found.append(f"{account['file']}: {read} read, {used} used, {aside} set aside")
    return found


class Case(NamedTuple):
    """What was asked, of which files, how it ended, and what is wrong with that."""

    verb: str
    files: str
    code: int
    faults: list[str]


def run_case(number: int, seed: int, keep: Path | None = None) -> Case:
    """Make and run one case."""
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    here = Path.cwd()
    os.chdir(folder)
    try:
        study = folder / "study"
        study.mkdir()
        words, what = make_case(study, np.random.default_rng([seed, number]))
        found, code = faults_of(study, words)
        if keep is not None:
            shutil.copytree(folder, keep, dirs_exist_ok=True)
        told = " ".join(w if not w.startswith("/") else Path(w).name for w in words)
        return Case(told, what, code, found)
    finally:
        os.chdir(here)
        shutil.rmtree(folder, ignore_errors=True)


def busy_s() -> float:
    """Return the seconds of a processor that this process and its children took."""
    return sum(os.times()[:4])


def main() -> None:
    """Run cases until the time is over."""
    read = argparse.ArgumentParser(description=__doc__)
    read.add_argument("minutes", type=float, nargs="?", default=10.0)
    read.add_argument("--seed", type=int, default=1)
    read.add_argument("--one", type=int)
    read.add_argument("--keep", type=Path)
    told = read.parse_args()
    if told.one is not None:
        print(*run_case(told.one, told.seed, told.keep), sep="\n")
        return
    if hasattr(os, "sched_setaffinity"):  # on one processor no case starts a process beside it
        own = sorted(os.sched_getaffinity(0))
        os.sched_setaffinity(0, {own[told.seed % len(own)]})
    number = 0
    ends: Counter[tuple[str, int]] = Counter()
    kinds: Counter[tuple[str, str]] = Counter()
    faults = 0
    stopped: list[int] = []
    signal.signal(signal.SIGTERM, lambda *_: stopped.append(number))
    while busy_s() < 60 * told.minutes and not stopped:
        case = run_case(number, told.seed)
        ends[case.verb.split()[0], case.code] += 1
        kinds[case.files, "read" if case.code in (0, 3) else "refused"] += 1
        for what in case.faults:
            faults += 1
            said = f"case {number}: {case.verb} of {case.files} ended with {case.code}: {what}"
            print(said, flush=True)
        number += 1
    print(f"{number} cases, {faults} faults")
    for (files, how), n in sorted(kinds.items()):
        print(f"{files:24} {how:8} {n:6}")
    for (verb, code), n in sorted(ends.items()):
        print(f"{verb:14} {code:3} {n:6}")


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))
    main()
