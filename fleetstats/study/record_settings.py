"""[[records]]: the keys that describe one record file."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from fleetstats.study.key import FACT, VERDICT, key

SHAPES = {
    "lives": "one row per engine life",
    "log": "one row per event",
    "histories": "one row per engine, its history in columns",
    "checks": "one row per check of an engine",
    "leakdown": "one row per leak-down reading of a cylinder",
    "bench": "one row per part run on the bench",
}
"""Shapes of record files."""

LIFE_SHAPES = ("lives", "log", "histories")
"""Shapes that become lives; files of other shapes are read by the chapters that need them."""

METERS = ("flight", "tach", "hobbs")
"""Meter kinds: time in flight, revolutions counted as time, time with the master or oil-pressure
switch on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordKeys:
    """[[records]]: one record file, and how to read it."""

    file: str = key(
        "File with records, within the study's folder. A folder (records/) or a pattern "
        "(returns-*.csv) means several files that are one table; a URL is drawn by 'study --draw'.",
        default="",
        required=True,
        role=FACT,
    )
    sql: str = key(
        "A query that gives the rows, drawn by 'study --draw'; 'file' then names the copy.",
        default="",
        role=FACT,
    )
    database: str = key(
        "Address of the query's database without a password, such as sqlite:///fleet.db; env:NAME "
        "takes it from an environment variable.",
        default="",
        role=FACT,
    )
    shape: str = key("What a row stands for.", default="lives", choices=tuple(SHAPES), role=FACT)
    source: str = key("Who sent the file; for rows that do not say.", default="", role=FACT)
    meter: str = key(
        "Meter kind of its hours; default the study's standard clock.",
        default="",
        choices=("", *METERS),
        role=VERDICT,
    )
    sheet: str = key("Sheet of a workbook; default the first.", default="", role=VERDICT)
    header_row: int = key(
        "Line of the column names; 0 takes the first line with content.",
        default=0,
        low=0,
        role=VERDICT,
    )
    encoding: str = key("Encoding of a text file, such as utf-8; default found.", default="")
    delimiter: str = key(
        "Mark between the cells of a text file; default found.",
        default="",
        choices=("", ",", ";", "\t", "|"),
    )
    decimal: str = key("Decimal mark.", default="auto", choices=("auto", ".", ","), role=VERDICT)
    date_order: str = key(
        "Order in dates such as 03/04/2021.",
        default="auto",
        choices=("auto", "day-first", "month-first"),
        role=VERDICT,
    )
    observed_from: dt.date | None = key(
        "Date on which this source's records begin. An engine older than that was not followed "
        "from new and needs entry hours.",
        role=FACT,
    )
    after_meter_change: str = key(
        "Whose hours stand after a change of the meter in histories: those that the new meter "
        "shows or the engine's in total; asked for where hours do not fall.",
        default="",
        choices=("", "new-meter", "total"),
        role=VERDICT,
    )
    columns: dict[str, str] = key(
        "Our column name = the file's own header.", factory=dict, role=VERDICT
    )
    endings: dict[str, str] = key(
        "The file's word for an ending = our word.", factory=dict, role=VERDICT
    )
    kinds: dict[str, str] = key(
        "The file's word for an event of a log = our word.", factory=dict, role=VERDICT
    )
    causes: dict[str, str] = key(
        "The file's word for a cause = the study's word.", factory=dict, role=VERDICT
    )
    renews: dict[str, str] = key(
        "A repair of a history, as its column or its cell names it = what it renewed: all, part or "
        "nothing; left open where empty.",
        factory=dict,
        role=VERDICT,
    )
