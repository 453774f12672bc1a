"""Chapters of a table read by chunks beyond the claim: by source, build and cause, and ahead.

What compares sources, builds and causes asks of each when its lives entered and how they ended, so
equal lives count together, and of very many different ones the entries and ends of each are paired
anew. What looks ahead asks the lives of engines that run, which were read again; where more run
than it takes, the outlook is of those with most hours, and the forecast of engines drawn. Each
chapter is the same function that a study of ordinary size calls.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.chapters.ahead import forecast_of_drawn, look_at_oldest, mixture_of
from fleetstats.chapters.hidden import estimate_hidden
from fleetstats.chapters.plan import plan_evidence
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.core.errors import FitError
from fleetstats.core.value import Array, Value
from fleetstats.spells.bulk.bulk import BulkRead
from fleetstats.spells.bulk.bulk_running import BulkRunning
from fleetstats.spells.coupling import coarsen, couple_margins, part_running, round_ages
from fleetstats.spells.running import MOST_ENGINES, find_running
from fleetstats.spells.spells import COLUMNS, PAIRED, Spells
from fleetstats.studies.looked_at import LOOKED_AT, OF_CHECKS, Looked, work_looked_at

MOST_DISTINCT = 5_000
"""Rows with labels that are sought: so many different lives are left as they are, and more have
their entries and ends paired anew, then their hours rounded by `STEPS`. Whole work on so many lives
takes a second or two a chapter."""

STEPS = (0.001, 0.002, 0.005, 0.01)
"""Steps of rounded hours over the decade of the oldest age: 1 h to 10 h from 1,000 h on."""

MOST_LABELLED = 20_000
"""Rows with labels that are compared at all; more come of very many sources, builds and causes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Long:
    """What a table read by chunks gives beside its spells.

    Parameters
    ----------
    labelled : Spells
        The spells with cause, source and build: equal ones put together, and where that leaves
        more than `MOST_DISTINCT` rows, the entries and ends of each label paired anew.
    step_h : float or None
        Step to which their hours are rounded; None where they are not, or as those of the whole.
    service_days : dict
        Days (proleptic ordinals) on which lives of each build were put into service, with how
        many.
    running : BulkRunning
        The engines that run.
    looked : Looked
        The lives that are looked at one by one.
    grounds : str or None
        Digest of all that it rests on: files, decisions and settings; None where it is not told.
    """

    labelled: Spells
    step_h: float | None
    service_days: Mapping[str, Mapping[int, int]]
    running: BulkRunning
    looked: Looked
    grounds: str | None = None

    @classmethod
    def of(cls, read: BulkRead, looked: Looked, *, rounded: bool, paired: bool) -> Long:
        """Return it from a table that was read.

        Parameters
        ----------
        read : BulkRead
            The table.
        looked : Looked
            Its lives that are looked at one by one.
        rounded : bool
            Whether hours are rounded first, as for the whole.
        paired : bool
            Whether rows are named as pairs of entries and ends, since they are no engines.
        """
        labelled, step = _few_rows(read, rounded=rounded)
        return cls(
            labelled=labelled.replace(unit=_units(len(labelled), paired)),
            step_h=step,
            service_days=_by_build(read),
            running=read.running,
            looked=looked,
        )


def _few_rows(read: BulkRead, *, rounded: bool) -> tuple[Spells, float | None]:
    """Return the spells by label in few rows, and the step to which hours had to be rounded."""
    if len(read.tally) <= MOST_DISTINCT:
        return _joined(list(_parts(read, round_ages if rounded else None))), None
    decade = 10.0 ** np.floor(np.log10(read.bulk.spells.oldest_h))
    out = _joined([_coupled(x) for x in _parts(read, round_ages if rounded else None)])
    step: float | None = None
    for share in STEPS:
        if len(out) <= MOST_DISTINCT:
            break
        step = float(share * decade)
        out = _joined([_coupled(x) for x in _parts(read, partial(coarsen, step_h=step))])
    return out, step


def _parts(read: BulkRead, change: Callable[[Spells], Spells] | None) -> Iterator[Spells]:
    for _, part in read.tally.by_label(read.labels):
        yield part if change is None else change(part)


def _coupled(part: Spells) -> Spells:
    """Return the spells of one label, paired anew."""
    few = couple_margins(part)
    if few is part:
        return part
    labels = {f: getattr(part, f)[:1].repeat(len(few)) for f in ("cause", "source", "build")}
    return few.replace(**labels)


def _units(n: int, paired: bool) -> Array:
    names = np.arange(n).astype(np.str_)
    return np.char.add(PAIRED, names) if paired else names


def _by_build(read: BulkRead) -> dict[str, dict[int, int]]:
    days: dict[str, dict[int, int]] = {}
    for (build, day), n in read.in_service.items():
        days.setdefault(build, {})[day] = n
    return days


def _joined(parts: list[Spells]) -> Spells:
    columns = {f: np.concatenate([getattr(p, f) for p in parts]) for f in COLUMNS}
    return Spells(**columns, left_out=())


BY_LABEL = ("between-sources", "pooling", "sources", "causes", "growth")
AHEAD = ("outlook", "forecast", "stop-chance")
BY_SUMS = ("plan", "hidden", "tabulated")
"""Chapters that ask of lives when they entered and how they ended, and how old those are that run.
"""

NOT_SUPPOSED = (
    "Not supposed otherwise, since of a long table no row is kept: engines that joined late or "
    "were lost, and events whose standing the records leave open."
)

LONG_CHAPTERS = (*BY_LABEL, *BY_SUMS, *LOOKED_AT, *OF_CHECKS, *AHEAD)
"""Chapters beyond the claim."""


def work_long(key: str, base: Results, long: Long, done: Mapping[str, Value]) -> Value | None:
    """Return one of `LONG_CHAPTERS`, from the lives that it asks for.

    Raises
    ------
    FitError
        If more engines run than the stop rule is asked of, or labels leave too many rows.
    """
    if key in (*LOOKED_AT, *OF_CHECKS):
        return work_looked_at(key, base, long.looked, done)
    if key == "hidden" and long.looked.is_all:
        return work_looked_at(key, base, long.looked, done)
    if key in BY_SUMS:
        return _by_sums(key, base, long.running, done)
    if key not in AHEAD and len(long.labelled) > MOST_LABELLED:
        raise FitError(
            f"Sources, builds and causes leave {len(long.labelled):,} rows to compare; at most "
            f"{MOST_LABELLED:,} are.",
            "Map their many names to few, or make a study of each.",
        )
    spells = long.labelled.with_left_out(base.spells.left_out)
    part = replace(base, built=replace(base.built, spells=spells))
    if key in AHEAD:
        return _ahead(key, part, long, done)
    if key == "growth" and not base.settings.groups.build_order:
        part = _in_order(part, _by_middle(long.service_days))
    return CHAPTERS[key].work_out(part, done)


def _in_order(base: Results, order: tuple[str, ...]) -> Results:
    """Return the base of a study that states the order of its builds."""
    settings = base.settings
    stated = replace(settings, groups=replace(settings.groups, build_order=order))
    return replace(base, study=replace(base.study, settings=stated))


def _by_middle(days: Mapping[str, Mapping[int, int]]) -> tuple[str, ...]:
    """Return builds in the order of `calendar_order`, from days counted."""
    middle = {}
    for build, n in days.items():
        order = sorted(n)
        past = np.cumsum([n[d] for d in order])
        middle[build] = order[int(np.searchsorted(past, past[-1] // 2 + 1))]
    return tuple(sorted((b for b in middle if b), key=lambda b: (middle[b], b)))


def _by_sums(
    key: str, base: Results, running: BulkRunning, done: Mapping[str, Value]
) -> Value | None:
    if key == "hidden":
        found = estimate_hidden(
            base.spells, base.fit, base.settings, n_fate_unknown=base.built.n_fate_unknown,
            paired=True,
        )  # fmt: skip
        return replace(found, not_supposed=NOT_SUPPOSED)
    if key == "tabulated":
        return CHAPTERS[key].work_out(base, done)
    if base.settings.study.claimed_interval_h is None:
        return None
    spells, runs = part_running(base.spells, running.last_h, running.last_count)
    return plan_evidence(spells, base.settings, running=runs, fit=base.fit)


def _ahead(key: str, base: Results, long: Long, done: Mapping[str, Value]) -> Value | None:
    running, looked = long.running, long.looked
    if running.all_read:
        part = replace(base, built=replace(base.built, rows=running.rows))
        return CHAPTERS[key].work_out(part, done)
    if key == "stop-chance":
        raise FitError(
            f"The stop rule counts failures of all {running.n:,} engines that run, of which at "
            f"most {MOST_ENGINES:,} are forecast together.",
            "Make a study of each source or build.",
        )
    if key == "forecast":
        drawn = find_running(looked.built.rows, base.settings)
        now = mixture_of(done)
        return forecast_of_drawn(base.spells, base.fit, drawn, base.settings, now, of=running.n)
    engines = find_running(running.rows, base.settings)
    everyone = (running.age_h, running.count)
    return look_at_oldest(base.spells, base.fit, engines, base.settings, everyone)
