"""Checks due beside checks done: an argument from condition rests on checks that were made.

A check asserted is not a check evidenced. For each engine the hours watched are laid beside the
check records: how many checks were due, how many there are, how long the longest gap was, and what
they found.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

import numpy as np

from fleetstats.chapters.checks.lives import MERGE_H, SAME_H
from fleetstats.chapters.checks.words import compliance_sentence
from fleetstats.core.units import text_percent
from fleetstats.core.value import Value, value
from fleetstats.records.condition.checks import CheckRow
from fleetstats.records.life import LifeRow
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.ids import id_order
from fleetstats.vocabulary.wording import count

TOLERANCE = 0.10
"""Share of the interval by which a check may be late before the gap counts; common practice, no
source."""


@value
class EngineChecks(Value):
    """The checks of one engine over the hours watched.

    `late` are the gaps longer than the interval and its tolerance, `longest_h` is the longest gap,
    `since_last_h` the hours since the last check of a running engine (None for others).
    """

    engine: str
    watched_h: float
    due: int
    done: int
    late: int
    longest_h: float
    found: int
    since_last_h: float | None


@value
class Compliance(Value):
    """Checks due and done, engine by engine, most late gaps first.

    `n_without` are engines with lives and no check record at all.
    """

    interval_h: float
    allowed_h: float
    engines: tuple[EngineChecks, ...]
    n_due: int
    n_done: int
    n_late: int
    n_found: int
    n_without: int
    sentence: str
    cautions: tuple[Caution, ...] = ()


def count_checks(
    rows: Iterable[LifeRow], checks: Iterable[CheckRow], settings: Settings
) -> Compliance | None:
    """Return checks due and done; None where no check has a result.

    Parameters
    ----------
    rows : iterable of LifeRow
        Lives in use.
    checks : iterable of CheckRow
        Checks, hours counted as the life records count since new.
    settings : Settings
        Interval between checks.
    """
    by_engine: dict[str, list[CheckRow]] = defaultdict(list)
    for c in checks:
        if c.result:
            by_engine[c.engine_id].append(c)
    if not by_engine:
        return None
    lives: dict[str, list[LifeRow]] = defaultdict(list)
    for r in rows:
        lives[r.engine_id].append(r)
    step = settings.check.interval_h
    allowed = step * (1.0 + TOLERANCE)
    engines = [_engine(mine, by_engine.get(k, []), step, allowed) for k, mine in lives.items()]
    engines.sort(key=lambda e: (-e.late, -e.longest_h, id_order(e.engine)))
    due, done, late, found = (
        sum(getattr(e, name) for e in engines) for name in ("due", "done", "late", "found")
    )
    without = sum(1 for k in lives if k not in by_engine)
    return Compliance(
        interval_h=step,
        allowed_h=allowed,
        engines=tuple(engines),
        n_due=due,
        n_done=done,
        n_late=late,
        n_found=found,
        n_without=without,
        sentence=compliance_sentence(step, allowed, due, done, late, found, without),
        cautions=_cautions(engines, due, late, without),
    )


def _engine(
    lives: list[LifeRow], checks: list[CheckRow], step: float, allowed: float
) -> EngineChecks:
    visits: list[float] = []
    for hours in sorted(c.hours_h for c in checks):
        if not visits or hours - visits[-1] >= MERGE_H:
            visits.append(hours)
    at = np.array(visits)
    watched = longest = 0.0
    due = done = late = 0
    since = None
    for r in lives:
        start, end = r.life_start_h + r.entry_h, r.life_start_h + r.exit_h
        here = at[(at > start) & (at <= end + SAME_H)]
        marks = np.concatenate([[start], np.minimum(here, end), [end]])
        gaps = np.diff(marks)
        watched += end - start
        due += int((end - start) // step)
        done += len(here)
        late += int((gaps > allowed).sum())
        longest = max(longest, float(gaps.max(initial=0.0)))
        if r.ending == "running":
            since = float(gaps[-1])
    return EngineChecks(
        engine=lives[0].engine,
        watched_h=watched,
        due=due,
        done=done,
        late=late,
        longest_h=longest,
        found=sum(1 for c in checks if c.result == "found"),
        since_last_h=since,
    )


def _cautions(
    engines: list[EngineChecks], due: int, late: int, without: int
) -> tuple[Caution, ...]:
    if not late and not without:
        return ()
    parts = [count(late, "gap") + " too long"] if late else []
    parts += [count(without, "engine") + " without a check"] if without else []
    return (
        caution(
            "checks-missing",
            value=f"{' and '.join(parts)}, of {len(engines):,} engines and {due:,} checks due"
            + (f" ({text_percent(late / due)} of them)" if late and due else ""),
            limit="each check due, done",
        ),
    )
