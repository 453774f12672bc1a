"""Checks and readings against the lives they belong to: engines and hours that do not match."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from fleetstats.records.audit.finding import Finding
from fleetstats.records.condition.checks import CheckRow
from fleetstats.records.condition.leakdown import LeakRow
from fleetstats.records.lives.life import LifeRow
from fleetstats.vocabulary.nearest import did_you_mean

SLACK_H = 1.0
"""Hours past the end of a life that are still the same event; meters are read to 0.1 h."""


def audit_condition(
    checks: Sequence[CheckRow], leakdown: Sequence[LeakRow], lives: Iterable[LifeRow]
) -> tuple[Finding, ...]:
    """Return what does not match between checks or readings and the lives.

    Parameters
    ----------
    checks, leakdown : sequence of CheckRow, sequence of LeakRow
        Rows that were read.
    lives : iterable of LifeRow
        Lives in use.

    Returns
    -------
    tuple of Finding
        One for each engine without a life, and one for each row past the end of its engine's
        last life, or the first of many alike. All are warnings: the rows stay, and chapters that
        need a life leave them out.
    """
    last: dict[str, float] = {}
    running: set[str] = set()
    names: dict[str, str] = {}
    for life in lives:
        total = life.life_start_h + life.exit_h
        last[life.engine_id] = max(total, last.get(life.engine_id, 0.0))
        names[life.engine_id] = life.engine
        if life.ending == "running":
            running.add(life.engine_id)
    out: list[Finding] = []
    for rows, what in ((checks, "check"), (leakdown, "reading")):
        by_engine: dict[str, list[CheckRow | LeakRow]] = defaultdict(list)
        for r in rows:
            by_engine[r.engine_id].append(r)
        for engine, mine in by_engine.items():
            if engine not in last:
                out.append(_unknown(mine, what, list(names.values())))
                continue
            late = [r for r in mine if r.hours_h > last[engine] + SLACK_H]
            if late:
                out.append(_late(late, what, last[engine], engine in running))
    return tuple(out)


def _unknown(mine: list[CheckRow | LeakRow], what: str, known: list[str]) -> Finding:
    first = mine[0]
    near = did_you_mean(first.engine, known) if len(known) <= 10_000 else ""
    return Finding(
        code="condition-engine-unknown",
        severity="warning",
        message=f"Engine '{first.engine}' has {_count(len(mine), what)} and no life in the "
        "records.",
        advice=(near if near.startswith("Did") else "Add its life, or correct the id.")
        + " Without hours at risk its rows say nothing of the check interval.",
        file=first.origin.file,
        sheet=first.origin.sheet,
        row=first.origin.row,
        column="engine",
        value=first.engine,
        engine=first.engine,
    )


def _late(late: list[CheckRow | LeakRow], what: str, end_h: float, running: bool) -> Finding:
    first = late[0]
    advice = (
        "Update the engine's hours in the life records; until then these rows lie past them."
        if running
        else "Its life ended there; correct the hours or the engine."
    )
    return Finding(
        code="condition-hours-late",
        severity="warning",
        message=f"Engine '{first.engine}' has {_count(len(late), what)} past {end_h:g} h, the last "
        "hours of its life.",
        advice=advice,
        file=first.origin.file,
        sheet=first.origin.sheet,
        row=first.origin.row,
        column="hours",
        value=f"{first.hours_h:g}",
        engine=first.engine,
    )


def _count(n: int, what: str) -> str:
    return f"1 {what}" if n == 1 else f"{n} {what}s"
