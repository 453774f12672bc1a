"""Cases in lives: errors and tricks that take failures out of the rows, or put engines in."""

from __future__ import annotations

import datetime as dt

import numpy as np
from made import CAUSES, DAY, Made, Row, Rows, Trick, changed, failures, honest, lives, row

SET_ASIDE = {"treat": {"hours-missing": "set-aside", "hours-unreadable": "set-aside"}}


def every(n: int, rows: Rows, **new: object) -> Rows:
    """Change all failures but every n-th."""
    keep = {id(r) for r in failures(rows)[::n]}
    out: Rows = []
    for r in rows:
        out += [r] if id(r) in keep else changed([r], **new)
    return out


def plain(r: Row) -> Row:
    return r | {"ending": "running", "cause": "", "confirmed": "", "ended_date": "",
                "last_reading_date": str(DAY)}  # fmt: skip


def with_extra(rows: Rows, name: str, value: object, **new: object) -> Rows:
    """Add a column that is not one of ours, filled where an engine failed; hide the ending."""
    out: Rows = []
    for r in rows:
        bad = r["ending"] == "failed"
        told = plain(r) | dict(new) if bad else dict(r)  # type: ignore[arg-type]
        told[name] = str(value(r) if callable(value) else value) if bad else ""
        out.append(told)
    return out


def hidden(**new: object) -> Rows:
    """Return the honest rows with every failure turned into something else."""
    rows = honest()
    return [plain(r) | {k: str(v(r) if callable(v) else v) for k, v in new.items()}
            if r["ending"] == "failed" else r for r in rows]  # fmt: skip


def without_failures() -> Rows:
    """Return the rows that did not fail."""
    return [r for r in honest() if r["ending"] != "failed"]


def totals() -> Rows:
    """Return half of the failures kept and a row of totals that would count as an engine."""
    rows = without_failures()[:35] + failures(honest())[:5]
    total = sum(float(r["exit_hours"]) for r in rows)
    return [*rows, row("Total", f"{total:.1f}", "running", source="shop")]


def subtotals() -> Rows:
    rows = without_failures()[:40] + failures(honest())[:3]
    out: Rows = []
    for k in range(0, len(rows), 10):
        part = rows[k : k + 10]
        out += [*part, row(f"Subtotal {k // 10 + 1}", sum(float(r["exit_hours"]) for r in part),
                           "running")]  # fmt: skip
    return out


def far_life() -> Rows:
    """Return a small fleet in which one engine's hours lack their decimal mark."""
    rows = without_failures()[:25] + failures(honest())[:2]
    rows[0] = rows[0] | {"exit_hours": "12791", "in_service_date": "2015-03-01"}
    return rows


def copies(times: int) -> Rows:
    """Return running engines copied under other serials beside some failures."""
    rows = without_failures()[:45] + failures(honest())[:6]
    out = list(rows)
    for k in range(times):
        out += [
            r | {"engine": f"K{k}{i:03d}"} for i, r in enumerate(rows) if r["ending"] != "failed"
        ]
    return out


def lookalikes() -> Rows:
    rows = [r | {"engine": r["engine"].replace("E-1", "EO-0")} for r in without_failures()[:45]]
    twins = [r | {"engine": r["engine"].replace("EO-0", "E0-O")} for r in rows]
    return rows + twins + failures(honest())[:6]


def many_counts() -> Rows:
    """Return rows of which the running ones stand for five engines each."""
    return [r | {"count": "5" if r["ending"] == "running" else ""} for r in honest()]


def vanished() -> Rows:
    """Return a list in which engines that failed are dropped and their last reading is old."""
    return [
        plain(r) | {"last_reading_date": str(dt.date.fromisoformat(r["ended_date"])
                                             - dt.timedelta(days=200)),
                    "exit_hours": str(round(0.9 * float(r["exit_hours"]), 1))}
        if r["ending"] == "failed" else r
        for r in honest()
    ]  # fmt: skip


def recoded(cause: str, ending: str = "removed", share: float = 0.9) -> Rows:
    """Return the rows with a share of the failures written as something that censors."""
    rng = np.random.default_rng(5)
    return [
        r | {"ending": ending, "cause": cause, "confirmed": ""}
        if r["ending"] == "failed" and rng.random() < share else r
        for r in honest(240)
    ]  # fmt: skip


def L(name: str, rows: object, reason: str, **settings: object) -> Trick:
    def make() -> Made:
        told = rows() if callable(rows) else rows
        return lives(told, **settings)  # type: ignore[arg-type]

    return Trick(name=name, make=make, reason=reason)


NO_HOURS = r"no hours|hours.*(missing|not read|unreadable)|without hours"

LIVES = (
    L("failures without hours", lambda: changed(honest(), exit_hours=""), NO_HOURS),
    L("failures without hours, set aside", lambda: changed(honest(), exit_hours=""), NO_HOURS,
      **SET_ASIDE),
    L("failures with hours that cannot be read, set aside",
      lambda: changed(honest(), exit_hours="see book"), NO_HOURS, **SET_ASIDE),
    L("failures with a question mark for hours, set aside",
      lambda: changed(honest(), exit_hours="?"), NO_HOURS, **SET_ASIDE),
    L("all but a few failures without hours", lambda: every(5, honest(), exit_hours=""),
      NO_HOURS, **SET_ASIDE),
    L("running, crankshaft, confirmed", lambda: changed(honest(), ending="running"),
      r"running|cause"),
    L("running with a cause", lambda: changed(honest(), ending="running", confirmed=""),
      r"running|cause"),
    L("removed, piston seized", lambda: hidden(ending="removed", cause="piston seized"),
      r"seized|removed|cause"),
    L("planned overhaul, crankshaft broke",
      lambda: hidden(ending="planned-overhaul", cause="crankshaft broke"), r"broke|cause"),
    L("lost, engine seized", lambda: hidden(ending="lost", cause="seized"), r"seized|cause"),
    L("a column failed at", lambda: with_extra(honest(), "failed at", lambda r: r["exit_hours"]),
      r"failed at"),
    L("a column failed_at_h, back in service",
      lambda: with_extra(honest(), "failed_at_h", lambda r: r["exit_hours"]), r"failed"),
    L("a column of history with the failure in words",
      lambda: with_extra(honest(), "history", lambda r: f"crankshaft broke at {r['exit_hours']} h"),
      r"history|broke|hint"),
    L("a note seized at", lambda: hidden(note=lambda r: f"seized at {r['exit_hours']} h"),
      r"note|hint|seized"),
    L("a note back in service after failure",
      lambda: hidden(note=lambda r: f"failed at {r['exit_hours']} h, back in service"),
      r"note|hint|failed"),
    L("a note metal in the filter", lambda: hidden(ending="removed", note="metal in filter, engine "
      "replaced"), r"not counted"),
    L("a note low compression, removed", lambda: hidden(ending="removed",
      note="low compression on 3, cracked head"), r"not counted"),
    L("none confirmed", lambda: changed(honest(), confirmed="no"),
      r"no fault found\) come with age"),
    L("prop strikes", lambda: recoded("prop strike"), r"prop strike\) come with age"),
    L("sold", lambda: recoded("sold"), r"sold\) come with age"),
    L("no fault found", lambda: recoded("no fault found"), r"no fault found\) come with age"),
    L("accidents", lambda: recoded("accident"), r"accident\) come with age"),
    L("lost", lambda: recoded("", ending="lost"), r"dropped off its list"),
    L("a row of totals", totals, r"total|sum"),
    L("subtotals", subtotals, r"total|sum"),
    L("hours without their decimal mark", far_life, r"12,?791|far|calendar|rate"),
    L("copies under other serials", lambda: copies(2), r"repeat the hours"),
    L("ids with O for 0", lookalikes, r"repeat the hours"),
    L("counts of five", many_counts, r"without serials"),
    L("engines that drop off before they fail", vanished, r"dropped off its list"),
    L("unknown words for failing, set aside", lambda: changed(honest(), ending="kaputt"),
      r"kaputt|no known ending|not known|set aside", treat={"ending-unknown": "set-aside"}),
    L("failed with a question mark", lambda: changed(honest(), ending="failed?"), r"failed\?"),
    L("causes as sentences", lambda: changed(honest(), cause="prop strike found after crankshaft "
      "broke", ending="removed", confirmed=""), r"broke|cause|hint"),
)  # fmt: skip

assert set(CAUSES)
