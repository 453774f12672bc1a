"""Checks and readings against the lives they belong to: engines and hours that do not match."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from fleetstats.records.condition.checks import CheckRow
from fleetstats.records.condition.leakdown import LeakRow
from fleetstats.records.life import LifeRow
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.limits import CONDITION_SLACK_H
from fleetstats.vocabulary.nearest import did_you_mean


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
            late = [r for r in mine if r.hours_h > last[engine] + CONDITION_SLACK_H]
            if late:
                out.append(_late(late, what, last[engine], engine in running))
    return tuple(out)


def _unknown(mine: list[CheckRow | LeakRow], what: str, known: list[str]) -> Finding:
    first = mine[0]
    near = did_you_mean(first.engine, known) if len(known) <= 10_000 else ""
    named = near.startswith("Did")
    return make_finding(
        "condition-engine-unknown/near" if named else "condition-engine-unknown",
        rows=_count(len(mine), what),
        hint=near,
        file=first.origin.file,
        sheet=first.origin.sheet,
        row=first.origin.row,
        column="engine",
        value=first.engine,
        engine=first.engine,
    )


def _late(late: list[CheckRow | LeakRow], what: str, end_h: float, running: bool) -> Finding:
    first = late[0]
    return make_finding(
        "condition-hours-late/running" if running else "condition-hours-late",
        rows=_count(len(late), what),
        end_h=end_h,
        file=first.origin.file,
        sheet=first.origin.sheet,
        row=first.origin.row,
        column="hours",
        value=f"{first.hours_h:g}",
        engine=first.engine,
    )


def _count(n: int, what: str) -> str:
    return f"1 {what}" if n == 1 else f"{n} {what}s"
