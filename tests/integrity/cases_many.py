"""Cases in logs, in returns of several senders, and in what is known of the fleet."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
from made import DAY, Made, Row, Rows, Trick, failures, honest

NEVER = r"(?!)"
"""No reason would do: such records must not support the claim."""

EVENTS = ("engine", "date", "hours", "kind", "cause", "confirmed", "note")


def event(engine: str, date: str, hours: object, kind: str, **more: str) -> Row:
    told = dict.fromkeys(EVENTS, "") | {"engine": engine, "date": date, "hours": str(hours)}
    return told | {"kind": kind} | more


def day_book(end: Any) -> Rows:
    """Return the honest fleet as a log; `end` gives the last events of an engine that failed."""
    out: Rows = []
    for r in honest():
        out.append(event(r["engine"], r["in_service_date"], 0, "installed"))
        hours, half = float(r["exit_hours"]), round(0.5 * float(r["exit_hours"]), 1)
        start = dt.date.fromisoformat(r["in_service_date"])
        last = dt.date.fromisoformat(r["ended_date"] or str(DAY))
        middle = start + (last - start) / 2
        out.append(event(r["engine"], str(middle), half, "check"))
        if r["ending"] == "failed":
            out += end(r, str(last), hours)
        else:
            out.append(event(r["engine"], str(DAY), hours, "reading"))
    return out


def book(end: Any, **settings: Any) -> Made:
    own = settings.pop("records", {})
    keys = {"file": "log.csv", "shape": "log", "source": "shop"} | own
    return Made(tables={"log.csv": day_book(end)}, settings=settings, files=(keys,))


def returns(first: Rows, second: Rows, **settings: Any) -> Made:
    return Made(
        tables={"club.csv": first, "shop.csv": second},
        settings=settings,
        files=(
            {"file": "club.csv", "shape": "lives", "source": "club"},
            {"file": "shop.csv", "shape": "lives", "source": "shop"},
        ),
    )


def of(rows: Rows, source: str) -> Rows:
    return [r | {"source": source} for r in rows]


def running(r: Row, by: float = 0.0) -> Row:
    hours = round(float(r["exit_hours"]) + by, 1)
    return r | {"ending": "running", "cause": "", "confirmed": "", "ended_date": "",
                "last_reading_date": str(DAY), "exit_hours": str(hours)}  # fmt: skip


def overhauled(jitter: float) -> tuple[Rows, Rows]:
    """Return two returns of engines that failed, were overhauled and run on; hours differ."""
    one: Rows = []
    two: Rows = []
    rng = np.random.default_rng(3)
    for r in honest():
        if r["ending"] != "failed":
            one.append(r | {"source": "club"})
            continue
        at = float(r["exit_hours"])
        off = round(float(rng.uniform(0.5, 1.0)) * jitter, 1)
        for rows, who, h in ((one, "club", at), (two, "shop", round(at + off, 1))):
            rows.append(r | {"source": who, "exit_hours": str(h)})
            rows.append(running(r, 300.0) | {
                "source": who, "exit_hours": str(round(h + 300.0, 1)),
                "overhauled_at_hours": str(h), "entry_hours": str(h)})  # fmt: skip
    return one, two


def silent_source() -> Made:
    """Return four sources of which one drops every failure and has most of the hours."""
    rows = honest(320, seed=19, sources=4)
    out = [running(r) if r["source"] in ("club 1", "club 2") and r["ending"] == "failed" else r
           for r in rows]  # fmt: skip
    return Made(
        tables={"lives.csv": out},
        files=({"file": "lives.csv", "shape": "lives", "source": "clubs"},),
    )


def B(name: str, end: Any, reason: str, **settings: Any) -> Trick:
    return Trick(name=name, make=lambda: book(end, **settings), reason=reason)


def M(name: str, make: Any, reason: str) -> Trick:
    return Trick(name=name, make=make, reason=reason)


def _told_as_running() -> Made:
    """Return a club that tells failures and a shop that tells the same engines as running."""
    rows = honest()
    told = of(rows, "club")
    quiet = of([running(r) for r in rows], "shop")
    return returns(
        told,
        quiet,
        treat={"merge-conflict": "accept"},
    )


def _respelt() -> Made:
    """Return failures told under one spelling and running lives under another."""
    rows = honest()
    told = of(failures(rows), "club")
    quiet = of([running(r, 50.0) | {"engine": r["engine"].replace("-", " ")} for r in rows], "shop")
    return returns(told, quiet, treat={"merge-conflict": "accept"})


def _o_for_zero() -> Made:
    rows = honest()
    told = of(failures(rows), "club")
    quiet = of([running(r, 50.0) | {"engine": r["engine"].replace("0", "O")} for r in rows], "shop")
    return returns(told, quiet)


def _half_told() -> Made:
    """Return two clubs of one population, each telling a third of the failures."""
    rows = honest(200, seed=23)
    rng = np.random.default_rng(8)
    out = []
    for who in ("club", "shop"):
        out.append(of([r if r["ending"] != "failed" or rng.random() < 0.3 else running(r)
                       for r in rows], who))  # fmt: skip
    return returns(out[0], out[1], treat={"merge-conflict": "accept"})


def _built_unknown() -> Made:
    rows = [r for r in honest() if r["ending"] != "failed"]
    return Made(
        tables={"lives.csv": rows}, settings={"fleet": {"built": 160}},
        files=({"file": "lives.csv", "shape": "lives", "source": "shop"},),
    )  # fmt: skip


def _base_rate() -> Made:
    rows = [r for r in honest() if r["ending"] != "failed"]
    return Made(
        tables={"lives.csv": rows},
        settings={"base_rate": {"per_10000_h": 3.0, "source": "public"}},
        files=({"file": "lives.csv", "shape": "lives", "source": "shop"},),
    )


def _ended(kind: str, **more: str) -> Any:
    return lambda r, day, h: [event(r["engine"], day, h, kind, **more)]


def _gone(r: Row, day: str, h: float) -> Rows:
    return []


def _two(first: Row, *more: Row) -> Rows:
    return [first, *more]


def _overhauled_in_log(r: Row, day: str, h: float) -> Rows:
    later = str(dt.date.fromisoformat(day) + dt.timedelta(days=40))
    return [event(r["engine"], later, h, "overhauled", note="after seizure"),
            event(r["engine"], str(DAY), round(h + 50.0, 1), "reading")]  # fmt: skip


MANY = (
    B("log: failed without hours", lambda r, d, h: [event(r["engine"], d, "", "failed",
      cause=r["cause"], confirmed="yes")], r"hours"),
    B("log: failed without hours, set aside", lambda r, d, h: [event(r["engine"], d, "", "failed",
      cause=r["cause"], confirmed="yes")], r"hours",
      treat={"hours-missing": "set-aside", "log-hours-missing": "set-aside"}),
    B("log: failed read as check", _ended("failed", cause="crankshaft", confirmed="yes"),
      r"failed", records={"kinds": {"failed": "check"}}),
    B("log: failed read as retired", _ended("failed", cause="crankshaft", confirmed="yes"),
      r"failed", records={"kinds": {"failed": "retired"}}),
    B("log: removed, crankshaft", _ended("removed", cause="crankshaft broke"),
      r"broke|removed|cause"),
    B("log: retired, seized", _ended("retired", cause="seized"), r"seized|cause"),
    B("log: a note of the failure", _ended("reading", note="seized, back in service"),
      r"note|hint|seized"),
    B("log: not confirmed", _ended("failed", cause="piston", confirmed="no"),
      r"no fault found\) come with age"),
    B("log: prop strikes", _ended("removed", cause="prop strike"), r"prop strike\) come with age"),
    B("log: unscheduled work, crankshaft cracked",
      _ended("unscheduled", cause="crankshaft cracked"), r"not counted"),
    B("log: overhauled after seizure", _overhauled_in_log, r"seiz|hint|note"),
    B("log: the book ends before the failure", _gone, r"not read for over"),
    M("two returns: overhauls told 4 h apart", lambda: returns(*overhauled(4.0),
      treat={"merge-conflict": "accept"}), NEVER),
    M("two returns: overhauls told 1.6 h apart", lambda: returns(*overhauled(1.6)), NEVER),
    M("two returns: overhauls told 9 h apart", lambda: returns(*overhauled(9.0),
      treat={"merge-conflict": "accept"}), NEVER),
    M("two returns: told as failed and as running", _told_as_running, r"merg|fail"),
    M("two returns: failures under another spelling", _respelt, r"merg|fail|same"),
    M("two returns: O for 0", _o_for_zero, r"O|near|alike"),
    M("two returns, each tells a third", _half_told, r"told|unreported|nobody|merg|conflict"),
    M("sources that never report", silent_source, r"club 1|club 2|source"),
    M("engines built that are in no record", _built_unknown, r"in no record"),
    M("far fewer failures than a public rate", _base_rate, r"public rate"),
)  # fmt: skip
