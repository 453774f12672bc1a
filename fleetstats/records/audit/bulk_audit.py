"""What is odd in a table too long to list: every kind counted, the first of each shown.

Dates are judged by columns with the limits of `audit_dates`; causes, meters and rounded hours by
their counts. Rows of one engine are looked at in a second pass, by the ordinary audit.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.audit.audit_dates import MOST_HOURS_A_YEAR, SLACK_H
from fleetstats.records.audit.finding import by_head
from fleetstats.records.audit.fleet_counts import (
    ROUND_H,
    STEPS,
    find_missing_cause,
    tell_heap,
    tell_meters,
    tell_missing_causes,
    tell_undated,
)
from fleetstats.records.lives.plain_rows import NO_DAY, PlainRows
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.findings import LIFE_FINDINGS
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.spelling import one_spelling

SHOWN = 5
"""Findings of one kind that are shown in full; the rest are counted."""


@dataclass(slots=True)
class Tallies:
    """Findings counted by kind while a table is read.

    `shown` holds the first of each kind, `counts` how many there are; `reasons` how many rows were
    set aside for each reason.
    """

    settings: Settings
    counts: Counter[str] = field(default_factory=Counter)
    shown: dict[str, list[Finding]] = field(default_factory=dict)
    reasons: Counter[str] = field(default_factory=Counter)

    def decide(self, finding: Finding) -> Finding:
        """Return a finding with the study's action for its kind."""
        kind = LIFE_FINDINGS.get(finding.code)
        if kind is None:
            return finding
        action = self.settings.treat.actions.get(finding.code, kind.usual)
        return finding if action == finding.action else replace(finding, action=action)

    def add(self, findings: Iterable[Finding]) -> None:
        """Count findings, already decided."""
        for f in findings:
            self.counts[f.code] += 1
            first = self.shown.setdefault(f.code, [])
            if len(first) < SHOWN:
                first.append(f)

    def name_columns(self, heads: Mapping[str, Mapping[str, str]]) -> None:
        """Name the columns of findings as their files do: `heads` tells our names = their own."""
        self.shown = {
            c: [by_head(f, heads.get(f.file, {})) for f in first] for c, first in self.shown.items()
        }

    def add_many(self, finding: Finding, n: int) -> None:
        """Count a finding that stands for `n` rows."""
        if n:
            self.add([self.decide(finding)])
            self.counts[finding.code] += n - 1

    def action(self, code: str) -> str:
        """Return what the study does about a kind."""
        return self.settings.treat.actions.get(code, LIFE_FINDINGS[code].usual)

    @property
    def stops(self) -> dict[str, int]:
        """Return the kinds that stop the study, with their counts."""
        return {c: self.counts[c] for c, f in self.shown.items() if f[0].action == "stop"}


def odd_by_dates(rows: PlainRows, settings: Settings) -> tuple[Array, Array]:
    """Return rows whose dates raise a question, and those whose reading is only old.

    Parameters
    ----------
    rows : PlainRows
        Hours on the standard clock.
    settings : Settings
        Analysis date and the age from which readings are stale.

    Returns
    -------
    odd, stale : (n,) bool
        `odd` rows are for `audit_dates`; `stale` ones have that finding and no other.
    """
    day = settings.study.analysis_date
    d = rows.days
    last = np.maximum(d["last_reading_date"], d["ended_date"])
    odd = np.zeros(len(last), dtype=bool)
    if day is not None:
        for column in d.values():
            odd |= column > day.toordinal()
        # a reading without a date was taken by the analysis date at the latest
        last = np.where(last == NO_DAY, day.toordinal(), last)
    for name, from_h in (("in_service_date", 0.0), ("observed_from_date", rows.entry_h)):
        both = (d[name] != NO_DAY) & (last != NO_DAY)
        days = last - d[name]
        hours = rows.exit_h - from_h
        with np.errstate(invalid="ignore"):
            much = hours > np.minimum(
                24.0 * (days + 1), MOST_HOURS_A_YEAR * days / 365.25 + SLACK_H
            )
        odd |= both & ((days < 0) | much)
    stale = np.zeros(len(last), dtype=bool)
    if day is not None:
        running = np.array([e == "running" for e, _ in rows.ends], dtype=bool)[rows.end]
        read = d["last_reading_date"]
        stale = running & (read != NO_DAY) & (day.toordinal() - read > settings.hours.stale_days)
    return odd, stale & ~odd


@dataclass(slots=True)
class FleetCounts:
    """What the audit of the records as a whole needs, added up while they are read."""

    meters: Counter[str] = field(default_factory=Counter)
    ends: Counter[tuple[str, str, bool | None]] = field(default_factory=Counter)
    running: int = 0
    undated: int = 0
    readings: Counter[str] = field(default_factory=Counter)
    heaps: Counter[tuple[str, float]] = field(default_factory=Counter)

    def add_hours(self, source: str, hours: Array) -> None:
        """Count readings of a source as they were read, and those that are multiples of a step."""
        read = np.round(hours[hours > 0.0], 6)
        self.readings[source] += len(read)
        for step in STEPS:
            self.heaps[source, step] += int((np.mod(read, step) <= ROUND_H).sum())

    def of_table(self, file: str, settings: Settings) -> list[Finding]:
        """Return what they show of one table."""
        missing: Counter[str] = Counter()
        for (ending, cause, teardown), n in self.ends.items():
            missing[find_missing_cause(ending, cause, teardown)] += n
        out = [
            tell_missing_causes(code, n, settings, file)
            for code, n in sorted(missing.items())
            if code and n
        ]
        if self.undated:
            out.append(tell_undated(self.undated, self.running, file))
        return out

    def of_all(self, settings: Settings) -> list[Finding]:
        """Return what they show of all tables together."""
        out = tell_meters(self.meters, settings)
        shown = one_spelling(self.readings)
        readings: Counter[str] = Counter()
        heaps: Counter[tuple[str, float]] = Counter()
        for source, n in self.readings.items():
            readings[shown[fold(source)]] += n
            for step in STEPS:
                heaps[shown[fold(source)], step] += self.heaps[source, step]
        for source, n in readings.items():
            out += tell_heap(source, n, {step: heaps[source, step] for step in STEPS})
        return out
