"""All verbs on mutated studies: no traceback, no hang, no row lost, no half of a report.

Run: python tests/tools/fuzz.py MINUTES [--seed N] [--one NUMBER] [--keep FOLDER]

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
import io
import json
import os
import shutil
import signal
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

os.environ["FLEETSTATS_NO_HISTORY"] = "1"

Rng = np.random.Generator

LONGEST_S = 60

VERBS: tuple[tuple[str, ...], ...] = (
    ("check",), ("check",), ("check",), ("claim", "--hours", "800"), ("study", "--chunks"),
    ("study",), ("watch",), ("plan",), ("calls",), ("causes",), ("pool",), ("hidden",),
    ("effects",), ("events",), ("forecast",), ("outlook",), ("removals",), ("sources",),
    ("interval",), ("trends",), ("bench",), ("portfolio",), ("check-return",), ("compare",),
    ("bundle",),
)  # fmt: skip

WORDS = (
    "failed", "running", "FAILED", " failed ", "removed", "lost", "piston", "", "?", "n/a", "-",
    "yes", "0", "-1", "1e308", "1e-310", "nan", "inf", "12,5", "1.250,0", "12.500",
    "44300", "2026-02-30",
    "1899-12-31", "9999-12-31", "31/12/2024", "12/31/2024", "about 700", "over 1,000", "1:30",
    "=1+1", "\u200b", "\ufeff", "é" * 70, "x" * 5000, "9" * 400, "\x00", "\x1b[2J", "E-001",
    "e 001", "Ⅷ", "١٢٣", "TOTAL", "Signature", "crankshaft broke", "true", "#REF!", "null",
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


def lives(rng: Rng) -> list[list[str]]:
    """Return a table of lives with its header, of one to eighty engines."""
    n = int(rng.integers(1, 80))
    columns = ["engine", "exit_hours", "ending", "cause", "last_reading_date", "note"]
    more = {
        "entry_hours": lambda: f"{rng.uniform(0, 300):.1f}" if rng.random() < 0.3 else "0",
        "source": lambda: str(rng.choice(["north", "south"])),
        "build": lambda: str(rng.choice(["A", "B", ""])),
        "in_service_date": lambda: f"20{rng.integers(10, 20)}-0{rng.integers(1, 9)}-15",
        "confirmed": lambda: str(rng.choice(["yes", "no", ""])),
        "count": lambda: str(rng.choice(["1", "1", "3"])),
        "last_good_hours": lambda: str(rng.choice(["", "310.5"])),
    }
    chosen = [c for c in more if rng.random() < 0.5]
    rows = [[*columns, *chosen]]
    for i in range(n):
        failed = rng.random() < 0.25
        rows.append(
            [
                f"E{i:03d}",
                f"{rng.uniform(310, 2200):.1f}",
                str(rng.choice(["failed", "found-at-check", "removed"])) if failed else "running",
                str(rng.choice(["piston", "bearing", "propeller strike"])) if failed else "",
                f"202{rng.integers(3, 6)}-1{rng.integers(0, 3)}-0{rng.integers(1, 10)}",
                "",
                *(more[c]() for c in chosen),
            ]
        )
    return rows


def log(rng: Rng) -> list[list[str]]:
    """Return a log of events with its header."""
    rows = [["engine", "date", "hours", "event", "cause", "note"]]
    for i in range(int(rng.integers(1, 30))):
        hours, year = 0.0, 2012
        rows.append([f"E{i:03d}", f"{year}-03-01", "0", "installed", "", ""])
        for _ in range(int(rng.integers(0, 7))):
            hours, year = hours + float(rng.uniform(20, 300)), year + 1
            kind = str(
                rng.choice(["reading", "reading", "check", "finding", "overhauled", "failed"])
            )
            rows.append(
                [f"E{i:03d}", f"{year}-05-1{rng.integers(0, 9)}", f"{hours:.1f}", kind, "", ""]
            )
            if kind == "failed":
                rows[-1][4] = "piston"
                break
    return rows


def text_of(rows: list[list[str]], rng: Rng) -> str:
    """Return a table as text, in one of the ways in which programs write it."""
    mark = str(rng.choice([",", ",", ";", "\t"]))
    out = io.StringIO()
    import csv

    writer = csv.writer(out, delimiter=mark, lineterminator=str(rng.choice(["\n", "\r\n"])))
    writer.writerows(rows)
    return out.getvalue()


def mutate_rows(rows: list[list[str]], rng: Rng) -> None:
    """Change a table at one place."""
    body = rows[1:] or rows
    row = body[int(rng.integers(len(body)))]
    at = int(rng.integers(len(row))) if row else 0
    what = int(rng.integers(9))
    if what <= 3 and row:
        row[at] = str(rng.choice(WORDS))
    elif what == 4:
        rows.insert(int(rng.integers(len(rows) + 1)), list(row))
    elif what == 5:
        rows[:] = [[c for i, c in enumerate(r) if i != at] for r in rows]
    elif what == 6:
        row.append(str(rng.choice(WORDS)))
    elif what == 7:
        rows[0][int(rng.integers(len(rows[0])))] = str(rng.choice(["engine", "hours", *WORDS]))
    else:
        for r in body:
            if rng.random() < 0.5 and at < len(r):
                r[at] = str(rng.choice(WORDS))


def mutate_bytes(raw: bytes, rng: Rng) -> bytes:
    """Change a file at one place without knowing what it is."""
    if not raw:
        return raw
    at = int(rng.integers(len(raw)))
    n = int(rng.integers(1, 40))
    ways: tuple[Callable[[], bytes], ...] = (
        lambda: raw[:at],
        lambda: raw[:at] + raw[at + n :],
        lambda: raw[:at] + bytes(rng.integers(0, 256, n, dtype=np.uint8)) + raw[at:],
        lambda: raw[:at] + b'"' + raw[at:],
        lambda: raw[:at] + raw[max(at - n, 0) : at] * 3 + raw[at:],
        lambda: raw.decode("utf-8", "replace").encode("utf-16"),
        lambda: raw.decode("utf-8", "replace").encode("cp1252", "replace"),
        lambda: raw.replace(b"\n", b"\r"),
        lambda: b"\xef\xbb\xbf" + raw,
        lambda: raw + b"\n" * n,
    )
    return ways[int(rng.integers(len(ways)))]()


def make_case(folder: Path, rng: Rng) -> tuple[str, ...]:
    """Write a mutated study; return the verb to ask of it and its options."""
    verb = VERBS[int(rng.integers(len(VERBS)))]
    shape = "log" if rng.random() < 0.3 and "--chunks" not in verb else "lives"
    rows = log(rng) if shape == "log" else lives(rng)
    files = [f"{shape}.csv"] + (["more.csv"] if rng.random() < 0.2 else [])
    settings = {"study.title": '"Fuzz"', "study.analysis_date": "2026-01-31",
                "study.claimed_interval_h": "900"}  # fmt: skip
    n_rows, n_settings = int(rng.integers(0, 3)), int(rng.integers(0, 2))
    for _ in range(n_settings):
        key, _, told = str(rng.choice(SETTINGS)).partition(" = ")
        settings[key] = told
    if rng.random() < 0.85:  # most stops are decided, so that what comes after is reached
        settings |= {f"treat.{code}": '"set-aside"' for code in ASIDE}
        settings["treat.failure-or-not"] = '"accept"'
    if "--chunks" in verb:
        settings.setdefault("merge.returns", "false")
        files = files[:1]
    for _ in range(n_rows):
        mutate_rows(rows, rng)
    for name in files:
        raw = text_of(rows, rng).encode("utf-8", "surrogatepass")
        if rng.random() < 0.25:
            raw = mutate_bytes(raw, rng)
        (folder / name).write_bytes(raw)
        rows = [rows[0], *([f"X{r[0]}", *r[1:]] for r in rows[1:] if r)]
    tables: dict[str, list[str]] = {}
    for key, told in settings.items():
        table, _, name = key.partition(".")
        tables.setdefault(table, []).append(f"{name} = {told}")
    beside = "\n".join(tables.pop("records", []))
    lines = [f"[{t}]\n" + "\n".join(x) for t, x in tables.items()]
    lines += [f'[[records]]\nfile = "{f}"\nshape = "{shape}"\n{beside}' for f in files]
    raw = "\n".join(lines).encode()
    (folder / "study.toml").write_bytes(mutate_bytes(raw, rng) if rng.random() < 0.05 else raw)
    if verb[0] == "check-return":
        return "check-return", str(folder / files[0])
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
    if code == 1 and not err.strip():
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


def run_case(number: int, seed: int, keep: Path | None = None) -> tuple[str, int, list[str]]:
    """Make and run one case; return its verb, its exit code and its faults."""
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    here = Path.cwd()
    os.chdir(folder)
    try:
        study = folder / "study"
        study.mkdir()
        words = make_case(study, np.random.default_rng([seed, number]))
        found, code = faults_of(study, words)
        if keep is not None:
            shutil.copytree(folder, keep, dirs_exist_ok=True)
        return " ".join(w if not w.startswith("/") else Path(w).name for w in words), code, found
    finally:
        os.chdir(here)
        shutil.rmtree(folder, ignore_errors=True)


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
    end, number = time.monotonic() + 60 * told.minutes, 0
    ends: Counter[tuple[str, int]] = Counter()
    faults = 0
    while time.monotonic() < end:
        verb, code, found = run_case(number, told.seed)
        ends[verb.split()[0], code] += 1
        for what in found:
            faults += 1
            print(f"case {number}: {verb} ended with {code}: {what}", flush=True)
        number += 1
    print(f"{number} cases, {faults} faults")
    for (verb, code), n in sorted(ends.items()):
        print(f"{verb:14} {code:3} {n:6}")


if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))
    main()
