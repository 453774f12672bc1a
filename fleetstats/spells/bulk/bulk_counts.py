"""What the audit of the whole needs of plain rows: counts of a fleet, and old readings."""

from __future__ import annotations

import datetime as dt

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.audit.audit_dates import stale_reading
from fleetstats.records.audit.bulk_audit import SHOWN, FleetCounts, Tallies
from fleetstats.records.audit.fleet_counts import tell_fate_unknown, tell_more_than_built
from fleetstats.records.audit.stopped import stop_at
from fleetstats.records.life import LifeRow
from fleetstats.records.lives.plain_rows import NO, NO_DAY, UNKNOWN, YES, PlainRows
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.wording import count

FLAGS = {YES: True, NO: False, UNKNOWN: None}
"""What a mark of plain rows says."""


def count_fleet(fleet: FleetCounts, rows: PlainRows, plain: Array) -> Array:
    """Add plain rows to the counts of a fleet; return (m,) how many there are of each ending."""
    n_end = np.bincount(
        rows.end[plain] * 3 + rows.found_at_teardown[plain] + 1, minlength=3 * len(rows.ends)
    )
    for i, n in enumerate(n_end.tolist()):
        if n:
            ending, cause = rows.ends[i // 3]
            fleet.ends[ending, cause, FLAGS[i % 3 - 1]] += n
    codes, words = rows.labels["meter"]
    counts = np.bincount(codes[plain], minlength=len(words)).tolist()
    fleet.meters.update({w: n for w, n in zip(words, counts, strict=True) if n})
    codes, words = rows.labels["source"]
    for i, source in enumerate(words):
        mine = plain & (codes == i)
        fleet.add_hours(source, np.concatenate([rows.entry_h[mine], rows.exit_h[mine]]))
    running = np.array([e == "running" for e, _ in rows.ends], dtype=bool)[rows.end] & plain
    fleet.running += int(running.sum())
    dated = (rows.days["last_reading_date"] != NO_DAY) | (rows.days["ended_date"] != NO_DAY)
    fleet.undated += int((running & ~dated).sum())
    return np.asarray(n_end.reshape(-1, 3).sum(axis=1))


def service_days(rows: PlainRows, keep: Array) -> dict[tuple[str, int], int]:
    """Return how many rows of `keep` (n, bool) were put into service, by build and day."""
    codes, words = rows.labels["build"]
    days = rows.days["in_service_date"]
    keep = keep & (days != NO_DAY)
    told = np.column_stack([codes[keep], days[keep]])
    kinds, n = np.unique(told, axis=0, return_counts=True)
    return {(words[b], d): k for (b, d), k in zip(kinds.tolist(), n.tolist(), strict=True)}


def stale_rows(
    stale: Array, rows: PlainRows, lines: Array, file: str, settings: Settings, tallies: Tallies
) -> Array:
    """Count old readings; return the rows that the study sets aside for them."""
    n = int(stale.sum())
    day = settings.study.analysis_date
    if day is not None:
        for k in np.flatnonzero(stale)[:SHOWN].tolist():
            read = dt.date.fromordinal(int(rows.days["last_reading_date"][k]))
            life = LifeRow(origin=Origin(file=file, row=int(lines[k])), engine="",
                           exit_h=1.0, ending="running", last_reading=read)  # fmt: skip
            told = stale_reading(life, day, settings)
            tallies.add(map(tallies.decide, told))
    if n > SHOWN:
        tallies.counts["reading-stale"] += n - SHOWN
    if not n or tallies.action("reading-stale") == "accept":
        return np.zeros(len(stale), dtype=bool)
    tallies.reasons["reading-stale"] += n
    return stale


def beside_built(tallies: Tallies, engines: int, built: int | None) -> int:
    """Compare the engines named with those built; return how many are in no row."""
    if built is None:
        return 0
    if engines > built:
        tallies.add_many(tell_more_than_built(engines, built), 1)
    unknown = max(built - engines, 0)
    if unknown:
        tallies.add_many(tell_fate_unknown(unknown, built), 1)
    return unknown


def refuse_stopped(tallies: Tallies) -> None:
    """Raise RecordError with what stops the study; nothing when nothing does."""
    stops = tallies.stops
    if not stops:
        return
    lines = []
    for code, n in stops.items():
        lines.append(f"{code}: {count(n, 'finding')}{', such as' if n > SHOWN else ''}")
        lines += [f"  {f}" for f in tallies.shown[code]]
    raise stop_at(stops, lines)
