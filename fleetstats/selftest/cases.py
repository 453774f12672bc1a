"""Reads the reference cases kept under ``data/``: values published or computed elsewhere.

``data/cases.json`` and ``data/more/cases.json`` name, for each case, its table, the expected
values, a relative tolerance, the source and how the values were computed (R's survival package,
and likelihoods written out anew). ``data/README.md`` and ``data/more/README.md`` say more. The
tests of this package read the same files by the same functions.
"""

from __future__ import annotations

import csv
import json
import math
import re
from functools import cache
from importlib import resources
from typing import Any

import numpy as np

from fleetstats.core.value import Floats
from fleetstats.spells import Event, Spells
from fleetstats.spells.histories import Histories

DATA = resources.files("fleetstats.selftest") / "data"


@cache
def _cases() -> dict[str, dict[str, Any]]:
    out = {}
    for part in (DATA, DATA / "more"):
        for case in json.loads((part / "cases.json").read_text("utf-8")):
            out[case["id"]] = case
    return out


def case(name: str) -> dict[str, Any]:
    """Return one case as a dictionary; ``["expected"]`` holds its values."""
    return _cases()[name]


def expected(name: str) -> dict[str, Any]:
    """Return the expected values of one case."""
    return dict(case(name)["expected"])


def tolerance(name: str) -> float:
    """Return the relative tolerance that the case states."""
    c = case(name)
    return float(c["rel_tolerance"] if "rel_tolerance" in c else c["tolerance"]["relative"])


def source(name: str) -> str:
    """Return where a case comes from; "as NAME" is followed to the case so named."""
    text = str(case(name)["source"])
    head, _, rest = text.removeprefix("as ").partition(";")
    if text.startswith("as ") and head in _cases():
        return "; ".join(x for x in (source(head), rest.strip()) if x)
    return text


def columns(file: str) -> dict[str, list[str]]:
    """Return the columns of a table as text; `file` is relative to ``data/``."""
    text = DATA.joinpath(*file.split("/")).read_text("utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    return {k: [r[k] for r in rows] for k in rows[0]}


def numbers(file: str) -> dict[str, Floats]:
    """Return the columns of a table as floats; blanks are NaN."""
    return {
        k: np.array([float(x) if x.strip() else math.nan for x in v])
        for k, v in columns(file).items()
    }


def _plain(file: str, exit_name: str, entry_name: str | None = None) -> Spells:
    t = numbers(file)
    n = len(t[exit_name])
    return Spells.of(
        t[entry_name] if entry_name else np.zeros(n),
        t[exit_name],
        t["failed"] == 1,
        weight=t.get("count", np.ones(n)),
    )


def _bounds(file: str) -> Spells:
    t = numbers(file)
    lower, upper = t["lower"], t["upper"]
    entry = t.get("entry", np.zeros(len(lower)))
    failed = ~np.isnan(upper)
    # A lower of 0 says "failed before upper"; with late entry it failed after its entry.
    return Spells.of(
        entry,
        np.where(failed, upper, lower),
        failed,
        exit_lower=np.maximum(np.where(failed, lower, lower), entry),
    )


def _wheels() -> Spells:
    t = numbers("more/turbine_wheels.csv")
    hours, cracked, sound = t["hours"], t["cracked"], t["inspected"] - t["cracked"]
    stop = np.concatenate([hours, hours])
    failed = np.arange(len(stop)) < len(hours)
    weight = np.concatenate([cracked, sound])
    keep = weight > 0
    return Spells.of(
        np.zeros(keep.sum()),
        stop[keep],
        failed[keep],
        exit_lower=np.where(failed, 0.0, stop)[keep],
        weight=weight[keep],
    )


def _shock() -> Spells:
    t = columns("more/shock_absorber.csv")
    km = np.array([float(x) for x in t["km"]])
    mode = np.array(t["mode"])
    event = np.where(mode == "", Event.CENSORED, Event.FAILED)
    return Spells.of(np.zeros(len(km)), km, event, cause=mode)


def _mgus2() -> Spells:
    t = numbers("mgus2_F.csv")
    cause = np.array(["", "1", "2"])[t["cause"].astype(int)]
    event = np.where(t["cause"] == 0, Event.CENSORED, Event.FAILED)
    return Spells.of(np.zeros(len(cause)), t["exit"], event, cause=cause)


def spells(table: str) -> Spells:
    """Return a reference table as spells, by the name of its file without the ending.

    Tables with two causes give every cause as a failure with its name in `cause`; use `one_cause`
    to make the others competing.
    """
    readers = {
        "bearing_cage": lambda: _plain("bearing_cage.csv", "exit"),
        "bearing_cage_fleet": lambda: _plain("more/bearing_cage_fleet.csv", "hours"),
        "nist_weibull": lambda: _plain("nist_weibull.csv", "exit"),
        "nist_ten_of_twenty": lambda: _plain("more/nist_ten_of_twenty.csv", "hours"),
        "genfan": lambda: _plain("more/genfan.csv", "hours"),
        "channing_men": lambda: _plain("channing_men.csv", "exit", "entry"),
        "late_fleet_a": lambda: _plain("more/late_fleet_a.csv", "exit", "entry"),
        "cosmesis_1": lambda: _bounds("cosmesis_1.csv"),
        "mixed_fleet_a": lambda: _bounds("more/mixed_fleet_a.csv"),
        "turbine_wheels": _wheels,
        "shock_absorber": _shock,
        "mgus2_F": _mgus2,
    }
    return readers[table]()


def one_cause(lives: Spells, cause: str) -> Spells:
    """Return the spells with only `cause` as the failure in question; others compete."""
    other = lives.failed & (lives.cause != cause)
    return lives.replace(event=np.where(other, int(Event.COMPETING), lives.event))


def valve_seats(file: str, unit: str, time: str) -> Histories:
    """Return the replacements of valve seats, from a table and the names of its columns."""
    hours = numbers(file)[time]
    event = np.array(columns(file)["event"]) == "1"
    name = np.array(columns(file)[unit])
    units = np.unique(name)
    end = np.array([hours[name == u].max() for u in units])
    return Histories.of(units, np.zeros(len(units)), end, name[event], hours[event])


def single_system(file: str, end_h: float | None) -> Histories:
    """Return the events of one system, watched to `end_h` or to its last event."""
    t = numbers(f"more/{file}")["hours"]
    end = t.max() if end_h is None else end_h
    return Histories.of(["a"], [0.0], [end], ["a"] * len(t), t)


def three_systems() -> Histories:
    """Return the events of three systems, each watched to 200 h."""
    t = columns("more/three_systems_200h.csv")
    hours = [float(x) for x in t["hours"]]
    return Histories.of(["1", "2", "3"], [0.0] * 3, [200.0] * 3, t["system"], hours)


def never_failed(*, late: bool) -> Spells:
    """Return the ten lives of the case "zero-failures"; its arguments list them."""
    told = re.findall(r"(?:exit ages|uses entries) ([\d ]+)", case("zero-failures")["arguments"])
    ages, entries = ([float(x) for x in part.split()] for part in told)
    return Spells.of(entries if late else 0.0, ages, np.zeros(len(ages)))
