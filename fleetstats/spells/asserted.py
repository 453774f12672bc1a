"""What a study says of its lives on a typed word alone, and what the records show of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any, Self

import numpy as np

from fleetstats.core.value import Array, Value, value
from fleetstats.records.audit.audit_dates import is_stale
from fleetstats.records.life import LifeRow
from fleetstats.records.lives.plain_rows import NO_DAY, UNKNOWN, PlainRows
from fleetstats.records.reading import Records
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.vocabulary.fold import fold

CHECK_SHAPES = ("checks", "leakdown")
"""Shapes of record files that tell of checks."""

CHECK_KINDS = ("check", "finding")
"""Events of a log that are checks."""

CHECK_ENDINGS = ("found-at-check", "removed-finding")
"""Endings of a life that a check made."""


@value
class Asserted(Value):
    """What is asserted of the lives in use, beside what shows it.

    Parameters
    ----------
    n_from_start : int
        Lives that count as followed from their start.
    n_from_start_unsaid : int
        Those of them of which neither a date nor the source says so: their hours of entry are
        blank, and no date of the first observation stands beside the day of entry into service.
    checks_seen : bool
        Whether any check is in the records.
    level : str
        The failure level of the question.
    """

    n_from_start: int
    n_from_start_unsaid: int
    checks_seen: bool
    level: str

    @property
    def unlooked(self) -> bool:
        """Return whether conditions at a check are in question and no check is in the records."""
        return self.level == "beyond-limits" and not self.checks_seen


def find_asserted(study: Study, records: Records, rows: Sequence[LifeRow]) -> Asserted:
    """Return what is asserted of the lives in use.

    Parameters
    ----------
    study : Study
        Its record files of checks show that there were some.
    records : Records
        The events of its logs.
    rows : sequence of LifeRow
        The lives in use.
    """
    told = LivesTold.of_rows(rows, study.settings)
    checked = (
        told.n_checked > 0
        or bool(study.of_shape(*CHECK_SHAPES))
        or any(e.kind in CHECK_KINDS for e in records.events)
        or any(x.ending in CHECK_ENDINGS for x in rows)
    )
    return told.asserted(checks_seen=checked, level=study.settings.question.level)


def says_start(life: LifeRow) -> bool:
    """Return whether a date or the source says that a life was followed from its start.

    The source does by hours of entry that it gives itself, a log by its first reading, a life after
    an overhaul by that overhaul; dates do where observation began no later than service.
    """
    if life.entry_told or life.life_start_h > 0.0:
        return True
    seen, new = life.observed_from, life.in_service
    return seen is not None and new is not None and seen <= new


METER = "meter: "
"""Before the name of a meter that is counted."""

SOURCE = "source: "
"""Before the name of a source that is counted, in its form for comparison."""


@value
class LivesTold(Value):
    """What the rows of the lives in use tell and leave untold, counted.

    It is added up in any order, so that a table read by chunks says what the same rows read whole
    say.

    Parameters
    ----------
    n_lives : int
        Lives in use; where not said otherwise, a row that stands for several counts as so many.
    n_from_start, n_from_start_unsaid : int
        As in `Asserted`.
    n_rows_of_many, n_of_many : int
        Rows that stand for several engines each, and those engines.
    n_running, n_dated, n_unread : int
        Rows of engines that run; those with the date of a reading; and of these those unread for
        longer than the study allows, whose hours were not carried on.
    n_checked, n_undated : int
        Lives with hours last known good, and with no date of an end or reading.
    n_torn_down : int
        Lives of which is said whether a teardown found a fault.
    meters : tuple of str
        Kinds of meter that rows name, in order.
    n_sources : int
        Different sources, one that is not said among them.
    """

    n_lives: int
    n_from_start: int
    n_from_start_unsaid: int
    n_rows_of_many: int
    n_of_many: int
    n_running: int
    n_dated: int
    n_unread: int
    n_checked: int
    n_undated: int
    n_torn_down: int
    meters: tuple[str, ...]
    n_sources: int

    @classmethod
    def of_rows(cls, rows: Sequence[LifeRow], settings: Settings) -> Self:
        """Return what lives tell."""
        said: Counter[str] = Counter()
        for x in rows:
            said.update(marks_of(x, settings))
        return cls.of(said)

    @classmethod
    def of(cls, said: Mapping[str, int]) -> Self:
        """Return it from counts, by the names of the fields, of meters and of sources."""
        meters = sorted(k.removeprefix(METER) for k, n in said.items() if k.startswith(METER) and n)
        sources = sum(k.startswith(SOURCE) and n > 0 for k, n in said.items())
        told: dict[str, Any] = {f.name: said.get(f.name, 0) for f in fields(cls)}
        return cls(**told | {"meters": tuple(meters), "n_sources": sources})

    def asserted(self, *, checks_seen: bool, level: str) -> Asserted:
        """Return what is asserted of these lives."""
        return Asserted(
            n_from_start=self.n_from_start,
            n_from_start_unsaid=self.n_from_start_unsaid,
            checks_seen=checks_seen,
            level=level,
        )


def marks_of(life: LifeRow, settings: Settings) -> dict[str, int]:
    """Return what one life adds to the counts of `LivesTold`."""
    n, day = life.count, settings.study.analysis_date
    runs, dated = life.ending == "running", life.last_reading is not None
    old = day is not None and is_stale(life, day, settings)
    said = {
        "n_lives": n,
        "n_from_start": n * (life.entry_h == 0.0),
        "n_from_start_unsaid": n * (life.entry_h == 0.0 and not says_start(life)),
        "n_rows_of_many": n > 1,
        "n_of_many": n * (n > 1),
        "n_running": runs,
        "n_dated": runs and dated,
        "n_unread": old and not life.carried_h,  # what was carried on is told apart, with its hours
        "n_checked": n * (life.last_good_h is not None),
        "n_undated": n * (life.last_date is None),
        "n_torn_down": n * (life.found_at_teardown is not None),
        SOURCE + fold(life.source): n,
    }
    if life.meter:
        said[METER + life.meter] = n
    return {k: int(v) for k, v in said.items()}


def marks_of_plain(rows: PlainRows, keep: Array, settings: Settings) -> dict[str, int]:
    """Return what the plain rows of `keep` (n, bool) add to the counts of `LivesTold`.

    Such a row has no overhaul and no hours carried on, so `marks_of` asks no more of it.
    """
    day, n = settings.study.analysis_date, rows.count
    read, seen, new = (
        rows.days[f"{k}_date"] for k in ("last_reading", "observed_from", "in_service")
    )
    runs = np.array([e == "running" for e, _ in rows.ends], dtype=bool)[rows.end]
    start = rows.entry_h == 0.0
    by_dates = (seen != NO_DAY) & (new != NO_DAY) & (seen <= new)
    dated = runs & (read != NO_DAY)
    old = dated & (day is not None and day.toordinal() - read > settings.hours.stale_days)
    said = {
        "n_lives": n,
        "n_from_start": n * start,
        "n_from_start_unsaid": n * (start & ~rows.entry_told & ~by_dates),
        "n_rows_of_many": n > 1,
        "n_of_many": n * (n > 1),
        "n_running": runs,
        "n_dated": dated,
        "n_unread": old,
        "n_checked": n * np.isfinite(rows.last_good_h),
        "n_undated": n * ((read == NO_DAY) & (rows.days["ended_date"] == NO_DAY)),
        "n_torn_down": n * (rows.found_at_teardown != UNKNOWN),
    }
    told = {k: int(v[keep].sum()) for k, v in said.items()}
    words: Counter[str] = Counter(told)
    for label, before, form in (("meter", METER, str), ("source", SOURCE, fold)):
        codes, names = rows.labels[label]
        of_each = np.bincount(codes[keep], weights=n[keep], minlength=len(names)).tolist()
        for name, k in zip(names, of_each, strict=True):
            if name or label == "source":
                words[before + form(name)] += int(k)
    return words
