"""The table of speed as printed and as a page: rows in which we are behind first."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import os
from collections.abc import Iterable
from pathlib import Path

from beside.contest import BOUND_S, Contest, Row

WORDS = {1: "one core", 2: "two cores", 4: "four cores", 8: "eight cores"}


def ordered(rows: Iterable[Row]) -> list[Row]:
    """Return the rows by ratio, those in which we are behind first."""
    return sorted(rows, key=lambda r: r.ratio)


def seconds(s: float) -> str:
    """Return seconds with three figures, or milliseconds."""
    if s < 0.9995:
        return f"{s * 1e3:.3g} ms"
    return f"{s:,.3g} s" if s < 999.5 else f"{s:,.0f} s"


def times(x: float) -> str:
    """Return a ratio in words of its size."""
    return f"{x:,.0f}" if x >= 99.5 else f"{x:.2g}" if x < 9.95 else f"{x:.0f}"


def size(row: Row) -> str:
    """Return the size, and the whole one where the other cannot do it."""
    told = f"{row.size:,} {row.of}"
    return told if row.size == row.whole else f"{told} (not {row.whole:,})"


def cells(row: Row) -> list[str]:
    """Return what the table says of a row."""
    far = max(row.apart.values())
    most = max(row.within.values())
    return [
        row.title, size(row), f"{row.who}: `{row.call}`", seconds(row.our_s),
        seconds(row.their_s), times(row.ratio), f"{far:.0e} ({most:g})",
    ]  # fmt: skip


HEAD = ["what", "size", "beside", "ours", "theirs", "times", "apart (allowed)"]


def printed(rows: Iterable[Row]) -> str:
    """Return the table for the screen."""
    lines = [HEAD, *(cells(r) for r in ordered(rows))]
    wide = [max(len(x[i]) for x in lines) for i in range(len(HEAD))]
    return "\n".join("  ".join(c.ljust(w) for c, w in zip(x, wide, strict=True)) for x in lines)


def write_rows(path: Path, rows: Iterable[Row]) -> None:
    """Write rows for a later run to take up."""
    path.write_text(json.dumps([dataclasses.asdict(r) for r in rows], indent=1), encoding="utf-8")


def read_rows(path: Path) -> list[Row]:
    """Return the rows of earlier runs."""
    return [Row(**r) for r in json.loads(path.read_text(encoding="utf-8"))]


def page(
    rows: list[Row], contests: Iterable[Contest], versions: dict[str, str], *, kept: bool = False
) -> str:
    """Return the page of the table, in Markdown; `kept` if not all rows are of one run."""
    behind = [r for r in rows if r.ratio < 1.0]
    cores = os.cpu_count() or 1
    told = ", ".join(f"{k} {v}" for k, v in versions.items())
    state = (
        f"In {len(behind)} of {len(rows)} rows we are behind; they come first."
        if behind
        else f"We are ahead in each of {len(rows)} rows; the narrowest come first."
    )
    runs = " Rows were measured in more than one run; both sides of a row always in one." * kept
    out = [
        "# How fast, beside other libraries",
        "",
        f"Measured on {dt.date.today():%Y-%m-%d} on a machine with "
        f"{WORDS.get(cores, f'{cores} cores')}, by `python tests/bench/bench_beside.py`: {told}.",
        "",
        "Both sides start from the same plain columns, ours with the making of the lives in its "
        "time. Times are of the processor on one thread, the least of several runs in turn; R's by "
        f"its own clock. {state}{runs} The last column says how far the two answers lie apart, "
        "over their greatest value, and how far they may before the run ends with an error.",
        "",
        "| " + " | ".join(HEAD) + " |",
        "|---|---|---|--:|--:|--:|--:|",
        *("| " + " | ".join(cells(r)) + " |" for r in ordered(rows)),
        "",
        f"Where the other side cannot do the whole size within {BOUND_S:g} s of the processor and "
        "the memory of the machine, both do less, as the size says.",
        "",
    ]
    said = [f"- {c.title[0].upper()}{c.title[1:]}: {c.none}." for c in contests if c.none]
    have = {(r.key, r.who) for r in rows}
    said += [
        f"- {c.title[0].upper()}{c.title[1:]}: {t.who} is not measured yet."
        for c in contests
        for t in c.theirs
        if (c.key, t.who) not in have
    ]
    out += dict.fromkeys(said)
    out += [f"- {n}" for n in dict.fromkeys(r.note for r in rows) if n]
    out += ["", "Data are invented: shape 2.5, scale 2,500 h, about half of the lives failed.", ""]
    return "\n".join(out)
