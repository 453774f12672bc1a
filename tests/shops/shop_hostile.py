"""A sheet by somebody who wishes us ill, or by chance: nothing in it may run, break or hide."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from shop_made import Shop, draw, truth_of, write_text

BREAKING = 'ok"\n[question]\nlevel = "power-loss'
"""A word that would close its own text in the study file and open a table."""

FORMULA = '=HYPERLINK("http://x.invalid";"sold")'
OVERRIDE = "in ser\u202evice"
"""A word with a sign that turns the order of writing; shown without it."""

LONG = "word " * 60
HEAD = 'Status"] ]\n# "failed" = "running'
"""A head that would, unguarded, write a line of its own."""


def hostile(folder: Path) -> Shop:
    """Words that break out of quotes, a head that does, a long text, a failure in a note."""
    ends = [("failed", "piston"), ("removed", ""), ("removed", "")]
    lives = draw("hostile", 40, ends)
    words = {"running": ("running", BREAKING, OVERRIDE), "failed": ("gave up",),
             "removed": (FORMULA,)}  # fmt: skip
    rows: list[list[Any]] = [
        ["\u202eRegister\x07"],
        ["S/N", "Hours", HEAD, "Cause", "Last reading", "", "Note", "Note", *["x"] * 120],
    ]
    for i, x in enumerate(lives):
        may = words[x.ending]
        note = "failed at 40 h in 2014, another engine fitted" if i == 30 else ""
        rows.append([x.engine, x.exit_h, may[i % len(may)], x.cause, x.last, "", note, LONG])
    path = write_text(folder / "~..register;rm.csv", rows)
    shown = " ".join(BREAKING.split())
    return Shop(
        name="hostile", files=(path,), truth=truth_of(lives),
        answers={"gave up": "failed", shown: "running", FORMULA: "removed",
                 "ending": " ".join(HEAD.split())},
    )  # fmt: skip
