"""A small works' register as it is kept by hand: hours in words, days in every order, O for 0."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from shop_made import LAST_DAY, Engine, Shop, draw, truth_of, write_sheets

WORDS = {"running": "in service", "failed": "kaputt", "planned-overhaul": "TBO reached",
         "removed": "sold", "lost": "no reply"}  # fmt: skip
CAUSES = ("exhaust valve", "piston", "exhaust valve", "crankshaft", "piston")


def hours_told(i: int, x: Engine) -> Any:
    """Return the hours of the i-th engine as somebody wrote them down; most are plain numbers."""
    if x.ending not in ("running", "removed"):
        return x.exit_h
    ways = {
        3: f"approx {round(x.exit_h, -1):.0f}", 7: f"~{round(x.exit_h, -1):.0f}",
        11: f"ca. {round(x.exit_h, -1):.0f}", 13: f"{x.exit_h:.0f}hrs",
        17: f">{x.exit_h // 50 * 50:.0f}", 19: f"{x.exit_h / 1000:.1f}k",
    }  # fmt: skip
    return ways.get(i % 26, x.exit_h)


def day_told(i: int, day: dt.date) -> Any:
    """Return a day as a date cell, as text in one order or the other, or as its month."""
    if i % 26 == 5:
        return day.strftime("%B %Y")
    if i % 26 == 9:
        return day.strftime("%d.%m.%Y")
    if i in (15, 93) and day.day > 12:  # no such month: nobody can misread it
        return day.strftime("%m/%d/%Y")
    return day


def rough(folder: Path) -> Shop:
    """260 engines under two titles; five failed; of one nobody can tell the hours any more."""
    ends = [("failed", c) for c in CAUSES] + [("planned-overhaul", "")] * 20
    ends += [("removed", "")] * 9 + [("lost", "")] * 4
    lives = draw("rough register", 260, ends, serial="K{:04d}", builds=("B1", "B2"))
    rows: list[list[Any]] = [
        ["Small Works: engines delivered"],
        [f"as of {LAST_DAY:%d %b %Y}"],
        [],
        ["Serial No.", "Build std", "Total time [h]", "Status", "Cause", "Last reading", "Remarks"],
    ]
    for i, x in enumerate(lives):
        rows.append([x.engine, x.build, hours_told(i, x), WORDS[x.ending], x.cause,
                     day_told(i, x.last), ""])  # fmt: skip
    running = [i for i, x in enumerate(lives) if x.ending == "running"]
    for i in running[:3]:  # told a second time by a letter O
        x = lives[i]
        earlier = x.last - dt.timedelta(days=400)
        rows.append([x.engine.replace("0", "O"), x.build, round(0.7 * x.exit_h, 1), "in service",
                     "", earlier, "by telephone"])  # fmt: skip
    rows.append(list(rows[4 + running[5]]))  # a row pasted twice
    rows[4 + running[8]][5] = "31/12/2052"
    rows[4 + running[9]][3] = "in servce"
    rows[4 + running[10]][2] = "about a lot"
    rows.append(["Total", None, round(sum(x.exit_h for x in lives))])
    path = write_sheets(folder / "engines.xlsx", {"Engines": rows}, {"Engines": "A1:G1 A2:G2"})
    return Shop(
        name="rough register", files=(path,),
        answers={"kaputt": "failed", "in servce": "running"},
        truth=truth_of([x for i, x in enumerate(lives) if i != running[10]]),
    )  # fmt: skip
