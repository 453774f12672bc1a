"""How many engines can be told apart by what leaves of them."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Hashable, Sequence

from fleetstats.records.life import LifeRow
from fleetstats.report.bundle.hiding.steps import same_hours
from fleetstats.study.origin import UNIQUE_BY, UniqueTold


def _dates(x: LifeRow) -> Hashable:
    days = (x.in_service, x.observed_from, x.last_reading, x.ended)
    return x.build, x.build_after, *(str(d or "") for d in days)


def _hours(x: LifeRow) -> Hashable:
    return same_hours(x.life_start_h), same_hours(x.entry_h), same_hours(x.exit_h)


SEEN: dict[str, Callable[[LifeRow], Hashable]] = {
    "build-and-dates": _dates,
    "hours": _hours,
    "both": lambda x: (_dates(x), _hours(x)),
}
"""What is seen of a life, for each way of telling engines apart."""


def count_unique(before: Sequence[LifeRow], after: Sequence[LifeRow]) -> tuple[UniqueTold, ...]:
    """Return how many engines are alone, in pairs, and in larger groups, before and after.

    Engines are alike where all their lives are; what happened to them is not looked at.
    """
    return tuple(
        UniqueTold(by=by, before=_groups(before, SEEN[by]), after=_groups(after, SEEN[by]))
        for by in UNIQUE_BY
    )


def _groups(lives: Sequence[LifeRow], seen: Callable[[LifeRow], Hashable]) -> tuple[int, int, int]:
    engines: dict[str, list[Hashable]] = defaultdict(list)
    for x in lives:
        engines[x.engine_id].append(seen(x))
    sizes = Counter(frozenset(Counter(told).items()) for told in engines.values()).values()
    alone, pairs = sum(n == 1 for n in sizes), 2 * sum(n == 2 for n in sizes)
    return alone, pairs, len(engines) - alone - pairs
