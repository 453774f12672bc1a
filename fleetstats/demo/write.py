"""How clubs write lives down: three returns, three habits, and the mistakes people make.

Planted mistakes: north: a typing slip in hours, an exit before its entry, an unknown cause word, a
row without engine id, a date in the future; lowland: an engine that is in another return too, a
stale reading, an entry left blank by one who joined late; ledger: two removals in a row.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from dataclasses import replace

import numpy as np

from fleetstats.core.seeds import stream
from fleetstats.demo.truth import CHECK_H, TrueLife

FIRST_DAY = dt.date(2007, 3, 1)
ANALYSIS_DATE = dt.date(2026, 9, 30)
TACH_FACTOR = 1.05
"""Flight hours for one tach hour in the north return; stated in the study with its range."""


def _date(day: int) -> dt.date:
    return FIRST_DAY + dt.timedelta(days=day)


def _comma(hours: float) -> str:
    return f"{hours:.1f}".replace(".", ",")


def _ending(life: TrueLife) -> tuple[str, str]:
    """Return the ending and the cause as a member would write them."""
    if life.ending in ("prop strike", "sold"):
        return "removed", life.ending
    return life.ending, life.cause


def _table(rows: list[list[str]], *, delimiter: str = ",") -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="\n").writerows(rows)
    return out.getvalue()


def write_ledger(lives: list[TrueLife]) -> str:
    """Return the builder's ledger: a log, one line per event, engines followed from new."""
    rows: list[list[str]] = []

    def line(life: TrueLife, day: int, hours: float, event: str, cause: str, note: str) -> None:
        rows.append([life.engine, life.build, _date(day).isoformat(), f"{hours:.1f}", event, cause,
                     "yes" if cause else "", note])  # fmt: skip

    for life in lives:
        line(life, life.born_day, 0.0, "installed", "", "")
        for hours in np.arange(300.0, life.exit_h, 300.0):
            day = life.born_day + int(hours / life.hours_per_day)
            if day < life.end_day:
                line(life, day, float(hours), "reading", "", "")
        if life.ending == "running":
            line(life, life.end_day, life.exit_h, "reading", "", "")
        elif life.ending == "failed":
            line(life, life.end_day, life.exit_h, "failed", life.cause, "")
        elif life.ending == "found at check":
            good = life.last_good_h or 0.0
            day = life.end_day - max(1, int(CHECK_H / life.hours_per_day))
            line(life, day, good, "check", "", "plug clean")
            line(life, life.end_day, life.exit_h, "finding", life.cause, "metal on the plug")
        elif life.ending == "planned overhaul":
            line(life, life.end_day, life.exit_h, "removed", "", "due by hours")
            rows[-1][5] = "planned overhaul"
            line(life, life.end_day, life.exit_h, "teardown", "", "nothing found")
            rows[-1][6] = "no"
        else:
            line(life, life.end_day, life.exit_h, "removed", "", "")
            rows[-1][5] = life.ending
    # planted: somebody entered one removal twice, a week apart
    removed = next(i for i, r in enumerate(rows) if r[4] == "removed")
    again = list(rows[removed])
    again[2] = (dt.date.fromisoformat(again[2]) + dt.timedelta(days=7)).isoformat()
    rows.insert(removed + 1, again)
    head = ["engine", "build", "date", "hours", "kind", "cause", "confirmed", "note"]
    return _table([head, *rows])


def write_north(lives: list[TrueLife]) -> str:
    """Return the north return: tach hours, decimal commas, semicolons, its own headings."""
    head = ["Serial", "Standard", "Tach when joined", "Tach now or at end", "Last clean check",
            "Outcome", "Reason", "Confirmed", "Date of reading", "Remarks"]  # fmt: skip
    rows = []
    for life in lives:
        tach = [h / TACH_FACTOR for h in (life.entry_h, life.exit_h, life.last_good_h or 0.0)]
        rows.append([
            life.engine.replace("OT4-", "OT4 "), life.build,
            _comma(tach[0]) if life.entry_h > 0 else "", _comma(tach[1]),
            _comma(tach[2]) if life.last_good_h is not None else "",
            *_ending(life), "yes" if life.cause else "",
            _date(life.end_day).isoformat(), "",
        ])  # fmt: skip
    running = [i for i, r in enumerate(rows) if r[5] == "running"]
    failed = [i for i, r in enumerate(rows) if r[5] == "failed"]
    rows[running[3]][3] = rows[running[3]][3].replace(",", ".,")
    late = next(i for i in running[5:] if rows[i][2])
    rows[late][2], rows[late][3] = rows[late][3], rows[late][2]
    rows[failed[1]][6] = "pistn"
    rows[running[8]][8] = (ANALYSIS_DATE + dt.timedelta(days=400)).isoformat()
    rows.append(["", "standard", "", "412,0", "", "running", "", "", "2026-08-14",
                 "plate not legible"])  # fmt: skip
    return _table([head, *rows], delimiter=";")


def write_lowland(lives: list[TrueLife], ledger: list[TrueLife]) -> str:
    """Return the lowland return: rounded hours, some stale, two engines that are in the ledger."""
    rng = stream(len(lives), "demo-lowland")
    head = ["engine", "build", "entry", "exit", "last good", "ending", "cause", "confirmed",
            "in service", "observed from", "last reading", "note"]  # fmt: skip
    rows = []
    for life in lives:
        out = life
        if life.ending == "running" and rng.random() < 0.15 and life.exit_h > life.entry_h + 200:
            # the member stopped writing some time ago
            years = float(rng.uniform(1.5, 3.5))
            back = min(years * 365 * life.hours_per_day, 0.5 * (life.exit_h - life.entry_h))
            out = replace(life, exit_h=life.exit_h - back,
                          end_day=life.end_day - int(back / life.hours_per_day))  # fmt: skip
        heap = 10.0 if out.ending == "running" and rng.random() < 0.5 else 0.1
        hours = round(out.exit_h / heap) * heap
        joined = out.born_day + int(out.entry_h / out.hours_per_day)
        rows.append([
            out.engine.lower() if rng.random() < 0.2 else out.engine, out.build,
            f"{out.entry_h:.1f}" if out.entry_h > 0 else "", f"{hours:.1f}",
            f"{out.last_good_h:.1f}" if out.last_good_h is not None else "",
            *_ending(out), "yes" if out.cause else "",
            _date(out.born_day).isoformat(), _date(joined).isoformat(),
            _date(out.end_day).isoformat(), "",
        ])  # fmt: skip
    late = next(i for i, r in enumerate(rows) if r[2] and r[5] == "running")
    rows[late][2] = ""
    twins = [x for x in ledger if x.ending == "running"][4:6]
    rows += [
        [x.engine.replace("-", " "), x.build, "", f"{x.exit_h:.0f}", "", "running", "", "",
         _date(x.born_day).isoformat(), _date(x.born_day).isoformat(),
         _date(x.end_day).isoformat(), "also flown for the builder"]
        for x in twins
    ]  # fmt: skip
    return _table([head, *rows])
