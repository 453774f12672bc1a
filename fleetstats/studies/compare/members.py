"""Engines that left the records, by member, with their last words; engines that joined, and why."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Sequence

from fleetstats.core.units import text_hours
from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import id_order
from fleetstats.vocabulary.wording import count, listed

WHY = {
    "new-engine": "went into service since",
    "new-source": "comes with the return of a member that sent none before",
    "joined": "is followed since then only",
    "told-late": "was in service before and stood in no return, so ask why",
    "undated": "has no date that says since when, so ask why",
}
"""Why an engine may be new to the records."""


@value
class GoneEngine(Value):
    """An engine of the earlier records that the later ones do not hold, and its last words.

    `last_date` is a date as text, blank where none is told; `whole_return` whether no engine of its
    member is left.
    """

    engine: str
    source: str
    hours: float
    ending: str
    cause: str
    last_date: str
    note: str
    whole_return: bool


@value
class NewEngine(Value):
    """An engine of the later records that the earlier ones did not hold, and why: a key of `WHY`.

    `since` is the date that says so, blank where none is told.
    """

    engine: str
    source: str
    entry_h: float
    hours: float
    why: str
    since: str


def find_gone(old: Iterable[LifeRow], new: Iterable[LifeRow]) -> tuple[GoneEngine, ...]:
    """Return engines whose member no longer lists them, by member and then by name."""
    later = list(new)
    held, sources = {r.engine_id for r in later}, {fold(r.source) for r in later}
    last: dict[str, LifeRow] = {}
    for r in old:
        if r.engine_id not in held and (
            r.engine_id not in last or _total(last[r.engine_id]) <= _total(r)
        ):
            last[r.engine_id] = r
    gone = [
        GoneEngine(
            engine=r.engine,
            source=r.source,
            hours=r.exit_h,
            ending=r.ending,
            cause=r.cause,
            last_date=str(r.last_date or ""),
            note=r.note,
            whole_return=fold(r.source) not in sources,
        )
        for r in last.values()
    ]
    return tuple(sorted(gone, key=lambda x: (fold(x.source), id_order(x.engine))))


def find_new(
    old: Iterable[LifeRow], new: Iterable[LifeRow], then: dt.date | None
) -> tuple[NewEngine, ...]:
    """Return engines new to the records since `then`, by why and then by name."""
    earlier = list(old)
    known, sources = {r.engine_id for r in earlier}, {fold(r.source) for r in earlier}
    first: dict[str, LifeRow] = {}
    for r in new:
        if r.engine_id not in known and (
            r.engine_id not in first or _total(r) < _total(first[r.engine_id])
        ):
            first[r.engine_id] = r
    out = []
    for r in first.values():
        why, since = _why(r, sources, then)
        out.append(
            NewEngine(
                engine=r.engine, source=r.source, entry_h=r.entry_h, hours=r.exit_h,
                why=why, since=str(since or ""),
            )
        )  # fmt: skip
    order = list(WHY)
    return tuple(sorted(out, key=lambda x: (order.index(x.why), id_order(x.engine))))


def say_gone(gone: Sequence[GoneEngine], n_before: Counter[str]) -> tuple[str, ...]:
    """Say for each member how many of its engines it no longer lists, and how they stood.

    Parameters
    ----------
    gone : sequence of GoneEngine
        From `find_gone`.
    n_before : Counter
        Engines of each member in the earlier records, members as they are compared.
    """
    out = []
    for source in dict.fromkeys(x.source for x in gone):
        mine = [x for x in gone if x.source == source]
        who = source or "a member that is not named"
        running = [_stood(x) for x in mine if x.ending == "running"]
        named = listed(running[:4]) + (f" and {len(running) - 4} more" if len(running) > 4 else "")
        last = f"; last heard of as running: {named}" if running else ""
        if mine[0].whole_return:
            said = f"No return of {who} is in the later records: {count(len(mine), 'engine')} gone"
        else:
            total = n_before[fold(source)]
            said = f"{who} no longer lists {len(mine):,} of {count(total, 'engine')}"
        out.append(f"{said}{last}.")
    return tuple(out)


def say_new(new: Sequence[NewEngine]) -> tuple[str, ...]:
    """Say why engines are new, each reason with how many."""
    out = []
    for why, text in WHY.items():
        mine = [x for x in new if x.why == why]
        if not mine:
            continue
        named = listed([x.engine for x in mine[:4]])
        more = f" and {len(mine) - 4} more" if len(mine) > 4 else ""
        members = sorted({x.source for x in mine if x.source})
        who = f" ({listed(members)})" if why == "new-source" and members else ""
        out.append(f"{count(len(mine), 'engine')} {_each(text, len(mine))}{who}: {named}{more}.")
    return tuple(out)


def engines_by_source(rows: Iterable[LifeRow]) -> Counter[str]:
    """Return how many engines each member tells of, members as they are compared."""
    return Counter(s for s, _ in {(fold(r.source), r.engine_id) for r in rows})


def _why(r: LifeRow, sources: set[str], then: dt.date | None) -> tuple[str, dt.date | None]:
    if then is not None and r.in_service is not None and r.in_service > then:
        return "new-engine", r.in_service
    if fold(r.source) not in sources:
        return "new-source", r.observed_from
    if then is not None and r.observed_from is not None and r.observed_from > then:
        return "joined", r.observed_from
    if r.in_service is not None or r.observed_from is not None:
        return "told-late", r.observed_from or r.in_service
    return "undated", None


def _stood(x: GoneEngine) -> str:
    on = f", {x.last_date}" if x.last_date else ""
    return f"{x.engine} ({text_hours(x.hours)}{on})"


def _total(r: LifeRow) -> float:
    return r.life_start_h + r.exit_h


_MANY = (("went ", "went "), ("comes ", "come "), ("is ", "are "), ("was ", "were "),
         ("has ", "have "))  # fmt: skip


def _each(text: str, n: int) -> str:
    """Return a reason for one engine or for several."""
    if n == 1:
        return text
    return next(many + text.removeprefix(one) for one, many in _MANY if text.startswith(one))
