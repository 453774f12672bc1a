"""Six shops as spreadsheet people keep them; `SHOPS` makes each into a folder."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any

from shop_hostile import hostile
from shop_made import (
    LAST_DAY,
    Engine,
    Shop,
    Truth,
    draw,
    german,
    slashed,
    truth_of,
    write_sheets,
    write_text,
)

EXTRA = 22
"""Columns of no use in the widest sheet, so that it has thirty."""


def none_failed(folder: Path) -> Shop:
    """260 engines in one wide sheet under titles; none failed; a price list beside it."""
    words = {"running": "in service", "planned-overhaul": "TBO reached", "removed": "sold",
             "lost": "no reply"}  # fmt: skip
    ends = [("planned-overhaul", "")] * 20 + [("removed", "")] * 9 + [("lost", "")] * 4
    lives = draw("none failed", 260, ends, builds=("B1", "B2"))
    extra = [f"Option {k}" for k in range(EXTRA)]
    rows: list[list[Any]] = [
        ["Aero Works, engine register", *[None] * 6],
        ["as of 20 December 2025"],
        [],
        ["Engine", None, "Life", None, None, "Dates", None],
        ["Serial No.", "Build std", "Total time [h]", "Current status", "Remarks", "In service",
         "Last reading", *extra],
    ]  # fmt: skip
    rows += [
        [x.engine, x.build, x.exit_h, words[x.ending], "", x.new, x.last, *["yes", "no"] * 11]
        for x in lives
    ]
    rows.append(["Total", None, sum(x.exit_h for x in lives)])
    prices = [["Part", "Price"], ["Piston", 120], ["Gasket set", 80]]
    path = write_sheets(folder / "register.xlsx", {"Engines": rows, "Prices": prices},
                        {"Engines": "A1:G1 A4:B4 C4:E4 F4:G4"})  # fmt: skip
    return Shop(
        name="none failed", files=(path,), answers={}, truth=truth_of(lives),
        passed=("register.xlsx [Prices]",),
    )  # fmt: skip


def three_failures(folder: Path) -> Shop:
    """A German text file, decimal commas, a total and a signature below; three engines failed."""
    words = {"running": "in Betrieb", "failed": "kaputt", "removed": "verkauft",
             "planned-overhaul": "überholt"}  # fmt: skip
    causes = {"exhaust valve": "Auslassventil", "crankshaft": "Kurbelwelle", "": ""}
    ends = [("failed", "exhaust valve"), ("failed", "exhaust valve"), ("failed", "crankshaft")]
    ends += [("removed", "")] * 5 + [("planned-overhaul", "")] * 6
    lives = draw("three failures", 70, ends, serial="{:05d}", late=0.2)
    rows: list[list[Any]] = [
        ["Motorenliste Werkstatt Süd"],
        ["Werk-Nr.", "Stunden bei Übernahme", "Betriebsstunden gesamt", "Zustand", "Ursache",
         "Einbaudatum", "Datum"],
    ]  # fmt: skip
    rows += [
        [x.engine, x.entry_h or "", x.exit_h, words[x.ending], causes[x.cause], x.new, x.last]
        for x in lives
    ]
    rows += [["Summe", "", sum(x.exit_h for x in lives)], ["Unterschrift: der Vorstand"]]
    path = write_text(folder / "Motorenliste.csv", rows, mark=";", encoding="cp1252", shown=german)
    return Shop(
        name="three failures", files=(path,),
        answers={"kaputt": "failed", "überholt": "planned-overhaul"}, truth=truth_of(lives),
    )  # fmt: skip


def three_builds(folder: Path) -> Shop:
    """Three build standards, a sheet for each; engines that were repaired go on as a second row."""
    sheets: dict[str, list[list[Any]]] = {}
    lives: list[Engine] = []
    head = ["Engine no", "Mod std", "Hours at start", "Hours at end", "Outcome", "Reason",
            "End date", "Comment"]  # fmt: skip
    words = {"running": "flying", "failed": "broke down", "removed": "written off"}
    for k, build in enumerate(("B1", "B2", "B2+")):
        ends = [("failed", "piston")] * (3 - k) + [("removed", "")] * 3
        own = draw(f"three builds {build}", 40, ends, serial=f"T{k + 1}-{{:03d}}", builds=(build,))
        again = [
            Engine(engine=x.engine, build=x.build, entry_h=x.exit_h,
                   exit_h=round(x.exit_h + 210.0 + i, 1), ending="running", cause="", new=x.new,
                   last=LAST_DAY, note="repaired")
            for i, x in enumerate(y for y in own if y.ending == "failed")
        ]  # fmt: skip
        lives += [*own, *again]
        sheets[f"Build {build}"] = [head] + [
            [x.engine, x.build, x.entry_h or None, x.exit_h, words[x.ending], x.cause,
             None if x.ending == "running" else x.last, x.note]
            for x in (*own, *again)
        ]  # fmt: skip
    sheets["Summary"] = [["Build", "Engines", "Mean hours"], ["B1", 40, 700], ["B2", 40, 690]]
    path = write_sheets(folder / "builds.xlsx", sheets)
    return Shop(
        name="three builds", files=(path,), answers={"broke down": "failed"},
        truth=truth_of(lives), passed=("builds.xlsx [Summary]",),
    )  # fmt: skip


def day_book(folder: Path) -> Shop:
    """A French day book of events: fitted, read, checked, failed, taken off."""
    lives = draw("day book", 45, [("failed", "bielle"), ("failed", "piston")]
                 + [("removed", "vendu")] * 4, serial="M{:03d}")  # fmt: skip
    rows: list[list[Any]] = []
    for x in lives:
        rows.append([x.new, x.engine, 0.0, "mise en service", "", ""])
        for share, what in ((0.3, "relevé"), (0.6, "visite annuelle")):
            day = x.new + dt.timedelta(days=int(share * (x.last - x.new).days))
            rows.append([day, x.engine, round(share * x.exit_h, 1), what, "", ""])
        end = {"running": "relevé", "failed": "panne moteur", "removed": "dépose"}[x.ending]
        rows.append([x.last, x.engine, x.exit_h, end, x.cause, ""])
    rows.sort(key=lambda r: (r[0], r[1], r[2]))
    head = ["Date", "N° moteur", "Heures totales", "Événement", "Motif", "Remarques"]
    path = write_text(folder / "carnet.csv", [head, *rows], mark=";", shown=german)
    return Shop(
        name="day book", files=(path,), answers={"panne moteur": "failed"}, truth=truth_of(lives)
    )


_CLUBS: tuple[tuple[str, list[str], dict[str, str]], ...] = (
    ("Club North", ["Engine serial", "Build", "Hours", "Status", "Cause", "Date of last reading"],
     {"running": "in service", "failed": "failed", "removed": "sold"}),
    ("Verein West", ["Seriennummer", "Bauart", "Gesamtstunden", "Verbleib", "Grund", "Stand vom"],
     {"running": "läuft", "failed": "Motorschaden", "removed": "verkauft"}),
    ("Aéroclub Est", ["Numéro de série", "Version", "Heures moteur", "État", "Cause", "Relevé le"],
     {"running": "en service", "failed": "en panne", "removed": "vendu"}),
)  # fmt: skip


def club_returns(folder: Path) -> Shop:
    """Six returns in three languages, two of each: a workbook and a text file."""
    files, lives = [], []
    for k in range(6):
        club, head, words = _CLUBS[k % 3]
        ends = [("failed", "gearbox")] * (1 if k < 4 else 0) + [("removed", "")] * 2
        own = draw(f"club {k}", 20, ends, serial=f"{'ABCDEF'[k]}{{:04d}}")
        lives += own
        rows: list[list[Any]] = [[f"{club} {k + 1}"], head]
        rows += [[x.engine, x.build, x.exit_h, words[x.ending], x.cause, x.last] for x in own]
        stem = folder / f"{club} {k + 1}"
        if k < 3:
            files.append(write_sheets(stem.with_suffix(".xlsx"), {"Motor": rows}))
        else:
            shown = (slashed, german, slashed)[k % 3]
            mark = ";" if k % 3 else ","
            files.append(write_text(stem.with_suffix(".csv"), rows, mark=mark, shown=shown))
    return Shop(
        name="club returns", files=tuple(files),
        answers={"Motorschaden": "failed", "en panne": "failed"}, truth=truth_of(lives),
    )  # fmt: skip


SHOPS: dict[str, Callable[[Path], Shop]] = {
    "none failed": none_failed,
    "three failures": three_failures,
    "three builds": three_builds,
    "day book": day_book,
    "club returns": club_returns,
    "hostile": hostile,
}

__all__ = ["SHOPS", "Truth"]
