"""Signs in the hours themselves: digits, rates of use, and days on which much happened."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from typing import Final

import numpy as np

from fleetstats.chapters.integrity.found import RARE, Codes, Found, by_source, each, sources_of
from fleetstats.core.value import Array
from fleetstats.records.audit.audit_dates import MOST_HOURS_A_YEAR
from fleetstats.records.audit.audit_fleet import hours_as_read
from fleetstats.records.clocks.usage import DAYS_PER_YEAR, use_rate
from fleetstats.records.life import LifeRow
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.wording import chance, count

LEAST_FOR_DIGITS: Final = 50
"""Readings of a source from which on all ten digits are expected five times (common practice)."""

LEAST_ALIKE: Final = 4
"""Engines with one rate of use below which it may be chance or twins (our own choice)."""

ALIKE: Final = 0.002
"""Rates this near to each other, as a share, are one: readings are whole hours (our own choice)."""

WIDE: Final = 0.2
"""The share around a rate in which its chance neighbours are counted (our own choice)."""

LEAST_ON_A_DAY: Final = 3
"""Ends on one day below which a day is like any other (our own choice)."""

LEAST_READ: Final = 5
"""Readings of a source below which nothing is said of their days (our own choice)."""

MOST_READ: Final = 0.5
"""Share of a source's readings on one day from which on they came with the form (our own)."""


def digits_sign(rows: Sequence[LifeRow], settings: Settings) -> Found:
    """Look at the last whole digit of hours as read, source by source, against equal use."""
    from scipy import special

    n, hits, parts, who = 0, 0, {}, []
    read = {s: h for s, h in hours_as_read(rows, settings).items() if len(h) >= LEAST_FOR_DIGITS}
    for source, hours in read.items():
        digits = np.floor(np.asarray(hours) + 1e-6).astype(np.int64) % 10
        table = np.bincount(digits, minlength=10)
        even = len(hours) / 10.0
        p = float(special.chdtrc(9, float(((table - even) ** 2).sum() / even))) * len(read)
        n += len(hours)
        if p >= RARE:
            continue
        top = int(table.argmax())
        hits += int(table[top])
        who.append(source)
        parts[source] = (
            f"{table[top]:,} of {len(hours):,} end in {top}, {even:,.0f} expected "
            f"(chance of such digits {chance(min(p, 1.0))})"
        )
    return Found(
        key="last-digits", n_looked=n, n_found=hits, found=each(parts), unit="reading",
        expected="each of the ten digits alike often", sources=tuple(s for s in who if s),
    )  # fmt: skip


def use_sign(rows: Sequence[LifeRow], told: Codes) -> Found:
    """Count the lives whose hours do not fit their dates, by the rules of the audit.

    `told` is what `dates_told` returns of the rows.
    """
    codes = ("hours-exceed-calendar", "use-implausible")
    dated = [i for i, r in enumerate(rows) if r.last_date and (r.in_service or r.observed_from)]
    which = [i for i in dated if any(c in codes for c in told.get(i, ()))]
    return Found(
        key="use-impossible", n_looked=len(dated), which=tuple(which), doubted=True,
        found=count(len(which), "life", "lives") if which else "",
        expected=f"none above {MOST_HOURS_A_YEAR:,.0f} h a year",
    )  # fmt: skip


def alike_sign(rows: Sequence[LifeRow]) -> Found:
    """Look for engines of a source whose hours are one rate times their days."""
    from scipy import special

    rates = {i: rate for i, r in enumerate(rows) if r.count == 1 and (rate := use_rate(r))}
    groups = by_source(rows, rates)
    which: list[int] = []
    parts = {}
    for source, mine in groups.items():
        single = list({(rates[i], rows[i].exit_h): i for i in mine}.values())
        if len(single) < LEAST_ALIKE:
            continue
        log = np.log([rates[i] for i in single])
        near, wide = _within(log, ALIKE), _within(log, WIDE)
        by_chance = np.maximum(wide - near, 1.0) * ALIKE / (WIDE - ALIKE)
        p = special.pdtrc(near - 2, by_chance) * len(single) * len(groups)
        at = int(np.argmin(np.where(near >= LEAST_ALIKE, p, np.inf)))
        if near[at] < LEAST_ALIKE or p[at] >= RARE:
            continue
        same = [i for i, x in zip(single, log, strict=True) if abs(x - log[at]) <= ALIKE]
        which += same
        parts[source] = (
            f"{count(len(same), 'engine')} with {rates[single[at]] * DAYS_PER_YEAR:,.0f} h a year, "
            f"{by_chance[at] + 1.0:.1f} expected"
        )
    return Found(
        key="use-alike", n_looked=len(rates), which=tuple(which), doubted=True, found=each(parts),
        expected="rates that differ: equal ones were worked out and not read",
    )  # fmt: skip


def _within(log: Array, reach: float) -> Array:
    """Return how many of the values lie within reach of each, itself counted."""
    order = np.sort(log)
    upto = np.searchsorted(order, log + reach, side="right")
    return np.asarray(upto - np.searchsorted(order, log - reach, side="left"), dtype=np.float64)


def ends_sign(rows: Sequence[LifeRow]) -> Found:
    """Look for days on which more engines of a source ended than chance brings together."""
    from scipy import special

    ended = [i for i, r in enumerate(rows) if r.ending != "running" and r.ended is not None]
    groups = by_source(rows, ended)
    which: list[int] = []
    parts = {}
    for source, mine in groups.items():
        days = Counter(d for i in mine if (d := rows[i].ended) is not None)
        day, most = days.most_common(1)[0]
        over = (max(days) - min(days)).days + 1
        p = float(special.pdtrc(most - 1, len(mine) / over)) * over * len(groups)
        if most < LEAST_ON_A_DAY or p >= RARE:
            continue
        which += [i for i in mine if rows[i].ended == day]
        parts[source] = f"{most:,} of {len(mine):,} on {day}"
    return Found(
        key="ends-one-day", n_looked=len(ended), which=tuple(which), doubted=True,
        found=each(parts), expected="days spread over the years",
    )  # fmt: skip


def read_sign(rows: Sequence[LifeRow]) -> Found:
    """Look for sources whose running engines were mostly read on one and the same day."""
    read = [i for i, r in enumerate(rows) if r.ending == "running" and r.last_reading is not None]
    which: list[int] = []
    parts = {}
    for source, mine in by_source(rows, read).items():
        days: Counter[dt.date] = Counter(d for i in mine if (d := rows[i].last_reading) is not None)
        day, most = days.most_common(1)[0]
        if most < LEAST_READ or most < MOST_READ * len(mine):
            continue
        which += [i for i in mine if rows[i].last_reading == day]
        parts[source] = f"{most:,} of {len(mine):,} on {day}"
    return Found(
        key="read-one-day", n_looked=len(read), which=tuple(which), found=each(parts),
        expected="the day of each reading; one day for all is often that of the form",
        sources=sources_of(rows, which),
    )  # fmt: skip
