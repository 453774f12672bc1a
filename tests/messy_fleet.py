"""An invented fleet told by four sources, with every kind of word that must not leave a house.

Names of people, places and engines in it are made up; each is a token that stands in no vocabulary,
so that finding one anywhere in a bundle is a leak.
"""

from __future__ import annotations

import datetime as dt
import io
from pathlib import Path

from fleetstats.study.history import LedgerLook, append_look

NAMES = (
    "Quillfeather", "Brackwater", "Zimmerhof", "Oddington", "Vexley", "Yarrowby", "Pumblechook",
    "Thistlecombe", "Harkenfold", "Dunmorrow",
)  # fmt: skip
"""People and places: in sources, notes, file names, titles, heads, words of maps."""
SERIALS = "QF7"
"""With which every engine's id begins, however it is spelled."""

STUDY = """\
[study]
title = "Engines of Quillfeather, asked by Vexley"
asked_by = "Mr Vexley"
analysis_date = 2026-03-31
claimed_interval_h = 900
[hours.factors]
tach = [1.05, 1.0, 1.1]
[question]
name = "what Oddington calls a failure"
level = "confirmed-removal"
causes = ["piston", "crankshaft", "valve"]
rules = [{ source = "Brackwater Aero", cause = "valve", counts_as = "excluded", \
reason = "Vexley doubts them" }]
[fleet]
serials_file = "serials of Harkenfold.csv"
[evidence]
resamples = 200
[base_rate]
per_10000_h = 1.5
source = "a letter from Pumblechook"
[treat]
hours-unreadable = "set-aside"
ending-unknown = "set-aside"
exit-before-entry = "set-aside"
engine-missing = "set-aside"
date-future = "set-aside"
hours-impossible = "set-aside"
duplicate-life = "set-aside"
duplicate-row = "set-aside"
log-hours-unreadable = "set-aside"
failure-or-not = "accept"
[[records]]
file = "log of Quillfeather.csv"
shape = "log"
source = "Quillfeather works"
[[records]]
file = "Zimmerhof.csv"
shape = "lives"
source = "Zimmerhof gliding"
meter = "tach"
decimal = ","
columns = { engine = "Motor Zimmerhof", exit_hours = "Stunden", ending = "Ende" }
endings = { "kaputt laut Zimmerhof" = "failed", "läuft" = "running", "an Dunmorrow" = "removed" }
causes = { "Kolben Thistlecombe" = "piston" }
[[records]]
file = "brackwater.csv"
shape = "lives"
source = "Brackwater Aero"
[[records]]
file = "book of Yarrowby.xlsx"
shape = "lives"
source = "Yarrowby school"
"""


def make_messy(folder: Path) -> Path:
    """Write the fleet into a folder and return it; 4 sources, 5 files, an earlier look."""
    folder.mkdir(parents=True)
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    ids = [f"QF7-{100 + 7 * i}" for i in range(100)]
    serials = "\n".join(["serial", *ids, "QF7-9901", "QF7-9902", "QF7-9903"])
    (folder / "serials of Harkenfold.csv").write_text(serials + "\n", encoding="utf-8")
    _log(folder / "log of Quillfeather.csv", ids[:24])
    _tach(folder / "Zimmerhof.csv", ids[24:80])
    _brackwater(folder / "brackwater.csv", ids[80:90])
    _workbook(folder / "book of Yarrowby.xlsx", ids[90:])
    look = LedgerLook(verb="study", date="2025-03-31", data="earlier", chosen={"study.x": "Vexley"})
    append_look(folder, look, today=dt.date(2025, 4, 2))
    return folder


def _log(path: Path, ids: list[str]) -> None:
    rows = ["engine,build,date,hours,kind,cause,confirmed,serial,note"]
    for i, e in enumerate(ids):
        end = 400.3 + 31.7 * i
        rows.append(f"{e},B1,2019-0{1 + i % 9}-1{i % 9},0,installed,,,,sold to Oddington")
        rows.append(f"{e.lower()},B1,2022-05-2{i % 9},{end / 2:.1f},reading,,,,")
        if i % 6 == 0:
            rows.append(f"{e},B1,2025-02-1{i % 9},{end:.1f},failed,piston,yes,,seen by Vexley")
        elif i % 6 == 1:
            rows.append(f"{e},B1,2025-02-1{i % 9},{end:.1f},removed,sold,,,to Harkenfold")
        else:
            rows.append(f"{e},B1,2026-02-1{i % 9},{end:.1f},reading,,,,metal says Vexley")
    rows.append("QF7-107,B1,2025-02-03,lots by Vexley,reading,,,,")
    rows.append("Signed: J. Pumblechook,,,,,,,,")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")


def _tach(path: Path, ids: list[str]) -> None:
    rows = ["Motor Zimmerhof;build;entry hours;Stunden;Ende;cause;in service;last reading;"
            "Dunmorrow;failed at"]  # fmt: skip
    for i, e in enumerate(ids):
        word = "kaputt laut Zimmerhof" if i % 7 == 0 else "an Dunmorrow" if i % 7 == 1 else "läuft"
        cause = "Kolben Thistlecombe" if i % 14 == 0 else "valve" if i % 7 == 0 else ""
        rows.append(
            f"{e};{'B2' if i % 3 else 'B1'};{i % 4 * 10};{300 + 23.7 * i:.1f}".replace(".", ",")
            + f";{word};{cause};2018-0{1 + i % 9}-05;2026-0{1 + i % 3}-1{i % 9};"
            f"{'crack found, Oddington' if i == 5 else 'Oddington'};{'' if i != 9 else '212,4'}"
        )
    rows.append("QF7-8001;B2;0;tausend Zimmerhof;läuft;;;;;")
    rows.append("QF7-8002;B2;500;300;läuft;;;;;")
    rows.append(";B2;0;300;läuft;;;;;")
    rows.append("QF7-8003;B2;0;310;weg nach Vexley;;;;;")
    rows.append("QF7-8004;B2;0;310;läuft;;;2027-11-04;;")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")


def _brackwater(path: Path, ids: list[str]) -> None:
    rows = ["engine,exit,last good,ending,cause,in service,last reading,owner,note"]
    for i, e in enumerate(ids):
        failed = i < 3
        rows.append(
            f"{e},{611.4 + 41 * i:.1f},{600.2 + 41 * i if failed else ''},"
            f"{'found-at-check' if failed else 'running'},{'valve' if i == 0 else ''}"
            f"{'crankshaft' if i in (1, 2) else ''},2017-03-04,2026-03-0{1 + i % 9},Yarrowby,"
        )
    rows.append(rows[-1])
    rows.append("QF7-1,812,,running,,2017-03-04,2026-03-01,Yarrowby,")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")


def _workbook(path: Path, ids: list[str]) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Yarrowby"
    sheet.append(["engine", "exit", "ending", "cause", "last reading", "remarks"])
    for i, e in enumerate(ids):
        failed = i == 4
        sheet.append([e, 500.25 + 61.5 * i, "failed" if failed else "running",
                      "Thistlecombe did it" if failed else "", dt.date(2026, 2, 1 + i),
                      "no metal, signed Dunmorrow"])  # fmt: skip
    held = io.BytesIO()
    book.save(held)
    path.write_bytes(held.getvalue())
