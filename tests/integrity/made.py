"""Invented fleets with a stated truth, and what is done to them before the tool sees them.

The honest fleet: 120 engines, drawn once, of which so many fail before 1,000 h that the claim "at
most one in ten fails by 1,000 h" is not carried by its records. Every case bends those records or
the question, by error or by cunning; the truth stays "not supported".
"""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from fleetstats.chapters.compose import compose_report
from fleetstats.core.errors import FleetstatsError
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study

Row = dict[str, str]
Rows = list[Row]

CLAIM_H, ACCEPTED = 1000.0, 0.10
DAY = dt.date(2026, 9, 30)
CAUSES = ("crankshaft", "piston", "exhaust valve")
COLUMNS = (
    "engine", "source", "build", "entry_hours", "exit_hours", "ending", "cause", "confirmed",
    "in_service_date", "last_reading_date", "ended_date", "note",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """One study's files: tables by file name, tables of study.toml by name, text besides."""

    tables: Mapping[str, Rows]
    settings: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    files: Sequence[Mapping[str, Any]] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Trick:
    """A case: its name, what makes it, and the words that the first page or the stop must hold."""

    name: str
    make: Callable[[], Made]
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What the tool said: a word, or "stopped"; and what a reader of the first page sees."""

    word: str
    first_page: str
    whole: str = ""


def honest(n: int = 120, *, seed: int = 11, scale_h: float = 1900.0, sources: int = 1) -> Rows:
    """Return one row to an engine: shape 2.5; one in five fails by 1,000 h."""
    rng = np.random.default_rng(seed)
    rows = []
    for i in range(n):
        life = scale_h * rng.weibull(2.5)
        stop = float(rng.uniform(500.0, 1700.0))
        failed = life <= stop
        hours = round(min(life, stop), 1)
        use = float(rng.uniform(50.0, 160.0))
        start = DAY - dt.timedelta(days=round(365.25 * stop / use))
        end = start + dt.timedelta(days=round(365.25 * hours / use))
        rows.append(
            row(
                f"E-{100 + i}",
                hours,
                "failed" if failed else "running",
                cause=CAUSES[i % 3] if failed else "",
                confirmed="yes" if failed else "",
                source="shop" if sources == 1 else f"club {i % sources + 1}",
                build="standard",
                in_service_date=str(start),
                last_reading_date="" if failed else str(DAY),
                ended_date=str(end) if failed else "",
            )
        )
    return rows


def row(engine: str, hours: object, ending: str, **more: str) -> Row:
    """Return one row; what is not given is blank."""
    told = dict.fromkeys(COLUMNS, "") | {"engine": engine, "exit_hours": str(hours)}
    return told | {"ending": ending} | more


def failures(rows: Rows) -> Rows:
    """Return the rows that failed, in their order."""
    return [r for r in rows if r["ending"] == "failed"]


def changed(rows: Rows, **new: Any) -> Rows:
    """Return the rows with their failures written otherwise; a value may be a function of a row."""
    out = []
    for r in rows:
        told = dict(r)
        if r["ending"] == "failed":
            told |= {k: v(r) if callable(v) else str(v) for k, v in new.items()}
        out.append(told)
    return out


def lives(rows: Rows, *, columns: Mapping[str, str] | None = None, **settings: Any) -> Made:
    """Return a study of one file of lives; settings by table, as ``question={"level": …}``."""
    keys: dict[str, Any] = {"file": "lives.csv", "shape": "lives", "source": "shop"}
    own = settings.pop("records", {})
    if columns:
        own = own | {"columns": dict(columns)}
    return Made(tables={"lives.csv": rows}, settings=settings, files=(keys | own,))


def write(folder: Path, made: Made) -> None:
    """Write a study's files."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in made.tables.items():
        names = list(dict.fromkeys(k for r in rows for k in r))
        with (folder / name).open("w", newline="", encoding="utf-8") as f:
            out = csv.DictWriter(f, names)
            out.writeheader()
            out.writerows(rows)
    base = {
        "study": {
            "title": "A made fleet",
            "analysis_date": DAY,
            "claimed_interval_h": CLAIM_H,
            "seed": 7,
        },
        "targets": {"reliability": 1.0 - ACCEPTED},
    }
    tables = {
        k: base.get(k, {}) | dict(made.settings.get(k, {})) for k in {**base, **made.settings}
    }
    lines = []
    for name, keys in tables.items():
        lines += [f"[{name}]", *(f"{k} = {_toml(v)}" for k, v in keys.items()), ""]
    for keys in made.files:
        maps = {k: v for k, v in keys.items() if isinstance(v, dict)}
        lines += ["[[records]]"]
        lines += [f"{k} = {_toml(v)}" for k, v in keys.items() if k not in maps]
        for k, v in maps.items():
            lines += [f"[records.{k}]", *(f"{_toml(a)} = {_toml(b)}" for a, b in v.items())]
        lines.append("")
    (folder / "study.toml").write_text("\n".join(lines), encoding="utf-8")


def _toml(v: Any) -> str:
    if isinstance(v, bool):
        return "true" if v else "false"
    if isinstance(v, str):
        return '"' + v.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(v, list | tuple):
        return "[" + ", ".join(_toml(x) for x in v) + "]"
    if isinstance(v, dict):
        return "{ " + ", ".join(f"{k} = {_toml(x)}" for k, x in v.items()) + " }"
    return str(v)


def outcome(folder: Path) -> Outcome:
    """Run a study and return its verdict and what stands on its first page."""
    try:
        results = analyse(read_study(folder))
    except FleetstatsError as error:
        return Outcome(word="stopped", first_page=str(error))
    document = compose_report(results)
    v = results.advice.verdict
    assert v is not None
    beside = [str(b.to_dict()) for s in document.beside for b in s.blocks]
    page = " ".join((*document.answer, *document.chosen, *beside))
    assert (v.sentence.count("support") > 0) or v.word != "supported"
    return Outcome(word=v.word, first_page=page, whole=" ".join(c.text for c in document.cautions))
