"""Signs in the lives: hours that stand still, cells that contradict, engines that are gone."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Final

from fleetstats.chapters.integrity.found import Codes, Found, by_source, counted, each
from fleetstats.records.audit.audit_dates import is_stale, odd_dates
from fleetstats.records.audit.audit_pairs import audit_engines
from fleetstats.records.life import LifeRow
from fleetstats.records.log_event import LogEvent, in_order
from fleetstats.records.merging.alike import LEAST_REACH_H
from fleetstats.records.merging.merge_lives import OPEN, span
from fleetstats.records.reading import Records
from fleetstats.records.told_by import Telling
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.unknown import cause_known
from fleetstats.vocabulary.wording import count

SAME_READING_H: Final = 0.05
"""Readings of one log this near are the same: meters are read to 0.1 h (common practice)."""

CONTRADICTIONS: Final[Mapping[str, Callable[[LifeRow], bool]]] = {
    "running with an end date": lambda r: r.ending == "running" and r.ended is not None,
    "running with a cause": lambda r: r.ending == "running" and cause_known(r.cause),
    "running with a fault confirmed": lambda r: r.ending == "running" and r.confirmed is True,
    "running with a teardown": lambda r: r.ending == "running" and r.found_at_teardown is not None,
    "read after the end": lambda r: (
        r.ending not in OPEN
        and r.ended is not None
        and r.last_reading is not None
        and r.last_reading > r.ended
    ),
}
"""Cells of one row that cannot all be right."""

FINDINGS: Final = {
    "last-good-after-exit": "good after the end",
    "last-good-before-entry": "good before the entry",
    "dates-backwards": "dates that run backwards",
    "hours-backwards": "hours that run backwards",
}
"""Findings of the readers and the audit that are contradictions too."""


def dates_told(rows: Sequence[LifeRow], settings: Settings) -> Codes:
    """Return what the audit tells of the dates of lives, by place."""
    day = settings.study.analysis_date
    told = ((i, odd_dates(r, day)) for i, r in enumerate(rows))
    return {i: [f.code for f in found] for i, found in told if found}


def contradictory_sign(
    rows: Sequence[LifeRow], records: Records, telling: Telling, dates: Codes
) -> Found:
    """Count the lives one of whose rows contradicts itself, and what contradicts what.

    `dates` is what `dates_told` returns of the rows.
    """
    told: dict[int, set[str]] = {}
    for i, life in enumerate(rows):
        for r in (life, *telling.reports_of(life)):
            wrong = [w for w, test in CONTRADICTIONS.items() if test(r)]
            if wrong:
                told.setdefault(i, set()).update(wrong)
    for i, codes in dates.items():
        if backwards := [FINDINGS[c] for c in codes if c in FINDINGS]:
            told.setdefault(i, set()).update(backwards)
    places = {(r.origin.file, r.origin.sheet, r.origin.row): i for i, r in enumerate(rows)}
    marked = [(f, i) for f, i in audit_engines(rows)]
    marked += [
        (f, places[k]) for f in records.findings if (k := (f.file, f.sheet, f.row)) in places
    ]
    for f, i in marked:
        if f.code in FINDINGS:
            told.setdefault(i, set()).add(FINDINGS[f.code])
    which = tuple(sorted(told))
    parts = Counter(w for i in which for w in told[i])
    return Found(
        key="contradictory", n_looked=len(rows), which=which, found=counted(parts),
        doubted=True, may_have_failed=True,
    )  # fmt: skip


def standing_sign(
    rows: Sequence[LifeRow], records: Records, telling: Telling, settings: Settings
) -> Found:
    """Look for running engines whose readings, long apart, show the same hours."""
    logs = _logs(records)
    looked, which = 0, []
    for i, life in enumerate(rows):
        if life.ending != "running" or life.count != 1:
            continue
        days = _days_in_log(logs.get((life.origin.file, life.engine_id), []))
        if days is None:
            days = _days_between_reports(telling.reports_of(life))
        if days is None:
            continue
        looked += 1
        if days > settings.hours.stale_days:
            which.append(i)
    return Found(
        key="standing-still", n_looked=looked, which=tuple(which), doubted=False,
        found=f"{count(len(which), 'engine')} with no hours added in over "
        f"{settings.hours.stale_days} days" if which else "",
        expected="hours that grow, or an end", may_have_failed=True,
    )  # fmt: skip


def _logs(records: Records) -> dict[tuple[str, str], list[LogEvent]]:
    out: dict[tuple[str, str], list[LogEvent]] = {}
    for e in records.events:
        out.setdefault((e.origin.file, e.engine_id), []).append(e)
    return out


def _days_in_log(events: list[LogEvent]) -> int | None:
    """Return for how many days the last reading of a log has stood; None without two readings."""
    read = [
        (e.date, e.hours) for e in in_order(events) if e.date is not None and e.hours is not None
    ]
    if len(read) < 2:
        return None
    last_day, last_h = read[-1]
    since = last_day
    for day, h in reversed(read):
        if abs(h - last_h) > SAME_READING_H:
            break
        since = day
    return (last_day - since).days


def _days_between_reports(reports: Sequence[LifeRow]) -> int | None:
    """Return for how many days returns of one engine show its last hours; None without two."""
    read = sorted(
        (day, span(r)[1]) for r in reports if r.ending in OPEN and (day := r.last_date) is not None
    )
    if len(read) < 2:
        return None
    last_day, last_h = read[-1]
    return max((last_day - day).days for day, h in read if abs(h - last_h) <= LEAST_REACH_H)


def unread_sign(rows: Sequence[LifeRow], settings: Settings) -> Found:
    """Count the running engines whose reading is stale, by the rule of the audit."""
    day = settings.study.analysis_date
    dated = [i for i, r in enumerate(rows) if r.ending == "running" and r.last_reading is not None]
    which = () if day is None else tuple(i for i in dated if is_stale(rows[i], day, settings))
    return Found(
        key="not-read", n_looked=len(dated), which=which, may_have_failed=True,
        found=f"{count(len(which), 'engine')} not read for over {settings.hours.stale_days} days"
        if which else "",
        expected="a reading of each within that time",
    )  # fmt: skip


def gone_sign(rows: Sequence[LifeRow], records: Records) -> Found:
    """Look for engines that ran in an earlier file of a source and are not in its next one.

    Two files are one list at two times where the later has at least half of the engines that ran in
    the earlier; else they are parts of one list, and no engine is gone.
    """
    files: dict[str, dict[str, list[LifeRow]]] = {}
    for reading in records.readings:
        for r in reading.rows:
            files.setdefault(r.source, {}).setdefault(r.origin.file, []).append(r)
    still = {r.engine_id: i for i, r in enumerate(rows) if r.ending == "running"}
    looked, which = 0, []
    for told in files.values():
        dated = {
            name: max(d for r in mine if (d := r.last_date))
            for name, mine in told.items()
            if any(r.last_date for r in mine)
        }
        order = sorted(dated, key=lambda name: dated[name])
        for earlier, later in itertools.pairwise(order):
            if dated[earlier] == dated[later]:
                continue
            listed_later = {r.engine_id for r in told[later]}
            ran = {r.engine_id for r in told[earlier] if r.ending == "running"}
            if 2 * len(ran & listed_later) < len(ran):
                continue
            looked += len(ran)
            which += [still[e] for e in sorted(ran - listed_later) if e in still]
    which = sorted(set(which))
    parts = {s: count(len(mine), "engine") for s, mine in by_source(rows, which).items()}
    return Found(
        key="gone", n_looked=looked, which=tuple(which), found=each(parts),
        expected="each engine in the next file too, with its end if it ended",
        may_have_failed=True,
    )  # fmt: skip
