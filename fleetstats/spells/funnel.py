"""The funnel of exclusion: rows, engines, lives, used; each loss with its reason, per source."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import field
from typing import TypeVar

from fleetstats.core.value import Value, value
from fleetstats.records.audit.audit_fleet import seen_engines
from fleetstats.records.audit.finding import Audit
from fleetstats.records.life import LifeRow
from fleetstats.records.reading import Records
from fleetstats.records.set_aside import SetAside
from fleetstats.vocabulary.ids import normalise_id

T = TypeVar("T")
S = TypeVar("S")

NO_SOURCE = "not said"


@value
class FunnelLine(Value):
    """One source's way from rows to lives used.

    ``rows_read == rows_used + rows_set_aside`` and ``lives == lives_used + lives_excluded``. For
    a log, many rows make one life. `engines` are those named in the rows read, `engines_used`
    those whose lives are used. `row_losses` counts the reasons of rows set aside, `life_losses`
    those of lives that a rule excludes.
    """

    source: str
    rows_read: int
    rows_set_aside: int
    rows_used: int
    lives: int
    lives_excluded: int
    lives_used: int
    engines: int
    engines_used: int
    row_losses: dict[str, int] = field(default_factory=dict)
    life_losses: dict[str, int] = field(default_factory=dict)


@value
class Funnel(Value):
    """Rows, engines, lives, used: in all and by source.

    Parameters
    ----------
    total : FunnelLine
        All sources together; an engine in two sources counts once here, so that engines of the
        sources may add up to more.
    sources : tuple of FunnelLine
        Each source.
    n_built : int or None
        Engines built, where the study says.
    n_fate_unknown : int
        Engines built that are in no row.
    engines_excluded : int
        Engines in the records of which a rule excludes every life that is left.
    engines_aside : int
        Engines in the records of which no life is left, every row being set aside.
    told_apart : bool
        Whether those two are told apart; else all of them stand under `engines_aside`.
    n_listed : int
        Serials on the list of those built; 0 without a list.
    """

    total: FunnelLine
    sources: tuple[FunnelLine, ...]
    n_built: int | None
    n_fate_unknown: int
    engines_excluded: int = 0
    engines_aside: int = 0
    told_apart: bool = True
    n_listed: int = 0

    @property
    def engines_not_built(self) -> int:
        """Return how many engines in the records are not among those built, as far as told.

        ``built = used + unknown fate + excluded + set aside - not among those built``.
        """
        if self.n_built is None:
            return 0
        return (
            self.total.engines_used
            + self.n_fate_unknown
            + self.engines_excluded
            + self.engines_aside
            - self.n_built
        )

    @property
    def all_with_hours(self) -> bool:
        """Return whether as many engines as were built are in the records with hours."""
        return self.n_built == self.total.engines_used + self.engines_excluded

    @property
    def all_listed(self) -> bool:
        """Return whether a list of serials shows that every engine built is in the records."""
        listed = self.n_built is not None and self.n_listed >= self.n_built
        return listed and self.all_with_hours and not self.n_fate_unknown

    @property
    def coverage(self) -> float | None:
        """Return the share of the engines built whose lives are used; None where not stated."""
        return None if not self.n_built else self.total.engines_used / self.n_built

    @property
    def holds(self) -> bool:
        """Return whether every sum of the funnel is right."""
        lines = (self.total, *self.sources)
        within = all(
            x.rows_read == x.rows_used + x.rows_set_aside
            and x.lives == x.lives_used + x.lives_excluded
            and x.rows_set_aside == sum(x.row_losses.values())
            and x.lives_excluded == sum(x.life_losses.values())
            for x in lines
        )
        across = all(
            getattr(self.total, name) == sum(getattr(x, name) for x in self.sources)
            for name in ("rows_read", "rows_used", "rows_set_aside", "lives", "lives_used")
        )
        return within and across and self.engines_not_built >= 0


def build_funnel(
    records: Records,
    audit: Audit,
    kept: Sequence[LifeRow],
    excluded: Sequence[tuple[LifeRow, str]],
    *,
    n_built: int | None,
    n_fate_unknown: int,
) -> Funnel:
    """Count the way from rows to lives used.

    Parameters
    ----------
    records, audit : Records, Audit
        What was read, and what became of it.
    kept : sequence of LifeRow
        Lives used.
    excluded : sequence of (LifeRow, str)
        Lives that a rule excludes, with the reason.
    n_built, n_fate_unknown : int
        Engines built, and those that are in no row.
    """
    lives = [*kept, *(x for x, _ in excluded)]
    used, seen_lives = _engine_keys(kept), _engine_keys(lives)
    source_of = _row_sources(records, audit)
    sources = dict.fromkeys([*source_of.values(), *(x.source or NO_SOURCE for x in lives)])
    aside = {(s.file, s.sheet, s.row): s.reason for s in audit.set_aside}
    n_rows, lost_of = Counter(source_of.values()), {x: Counter[str]() for x in sources}
    for line, name in source_of.items():
        if line in aside:
            lost_of[name][aside[line]] += 1
    used_of, out_of = _by_source(kept, _itself), _by_source(excluded, lambda x: x[0])
    rows_of = _by_source(records.rows, _itself)
    aside_of = _by_source(records.set_aside, _itself)
    lines = [
        _line(name, n_rows[name], lost_of[name], _named(aside_of[name], rows_of[name]),
              used_of[name], out_of[name])
        for name in sources
    ]  # fmt: skip
    seen = _named(records.set_aside, records.rows)
    total = _line("all", len(source_of), Counter(aside.values()), seen, kept, excluded)
    return Funnel(
        total=total,
        sources=tuple(lines),
        n_built=n_built,
        n_fate_unknown=n_fate_unknown,
        engines_excluded=sum(seen_lives.values()) - sum(used.values()),
        engines_aside=max(seen_engines(records) - sum(seen_lives.values()), 0),
        n_listed=len({normalise_id(s) for s in records.serials}),
    )


def _row_sources(records: Records, audit: Audit) -> dict[tuple[str, str, int], str]:
    """Return, for every row read, the source that it counts under."""
    told: dict[tuple[str, str, int], str] = {}
    for x in records.rows:
        for line in x.lines:
            told.setdefault(line, x.source)
    for s in audit.set_aside:
        told.setdefault((s.file, s.sheet, s.row), s.source)
    return {
        (r.file, r.sheet, n): told.get((r.file, r.sheet, n)) or r.source or NO_SOURCE
        for r in records.readings
        for n in r.lines
    }


def _by_source(
    told: Iterable[T], life: Callable[[T], LifeRow | SetAside]
) -> defaultdict[str, list[T]]:
    """Return what is told under each source, in its order."""
    out: defaultdict[str, list[T]] = defaultdict(list)
    for x in told:
        out[life(x).source or NO_SOURCE].append(x)
    return out


def _itself(row: S) -> S:
    return row


def _named(aside: Iterable[SetAside], lives: Iterable[LifeRow]) -> int:
    """Return how many engines some rows name, those set aside included."""
    ids = {normalise_id(s.engine) for s in aside if s.engine}
    equal = 0
    for x in lives:
        if x.count == 1:
            ids.add(x.engine_id)
        else:
            equal += x.count
    return len(ids - {""}) + equal


def _line(
    shown: str,
    rows: int,
    lost: Counter[str],
    engines: int,
    used: Sequence[LifeRow],
    out: Sequence[tuple[LifeRow, str]],
) -> FunnelLine:
    n_out = sum(x.count for x, _ in out)
    n_used = sum(x.count for x in used)
    why: Counter[str] = Counter()
    for x, reason in out:
        why[reason] += x.count
    return FunnelLine(
        source=shown,
        rows_read=rows,
        rows_set_aside=sum(lost.values()),
        rows_used=rows - sum(lost.values()),
        lives=n_used + n_out,
        lives_excluded=n_out,
        lives_used=n_used,
        engines=engines,
        engines_used=count_engines(used),
        row_losses=dict(lost),
        life_losses=dict(why),
    )


def count_engines(lives: Sequence[LifeRow]) -> int:
    """Return how many engines lived these lives; a row for n equal engines counts n."""
    return sum(_engine_keys(lives).values())


def _engine_keys(lives: Sequence[LifeRow]) -> dict[Hashable, int]:
    """Return the engines that lived these lives, each with how many equal ones it stands for."""
    # a modification parts one row into two lives of the same engines
    return {
        x.engine_id if x.count == 1 else (x.origin.file, x.origin.sheet, x.rows): x.count
        for x in lives
    }
