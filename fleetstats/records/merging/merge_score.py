"""How likely two reports are one event: agreement weights, added up in bits.

Fellegi & Sunter (1969, from memory): a field that agrees adds log2(m/u), one that differs adds
log2((1−m)/(1−u)), a blank adds nothing; m is how often the field agrees in two reports of one
event, u how often it agrees by chance. The u are counted in the records at hand.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Hashable, Sequence

import numpy as np

from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.merging.alike import alike_h
from fleetstats.study.pool_settings import MergeKeys
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.unknown import cause_known

M = {"id": 0.95, "hours": 0.9, "date": 0.9, "cause": 0.8, "build": 0.95}
"""How often a field agrees in two reports of one event (common practice, no source)."""

ONE_SLIP = 0.04
"""Share of second reports whose id has one slip of the pen (common practice, no source)."""

MOST_COUNTED = 1500
"""Events compared with each other to count agreement by chance."""


@value
class Score(Value):
    """Agreement of two reports: the weight of each field in bits, and their sum."""

    weights: dict[str, float]

    @property
    def total(self) -> float:
        """Return the sum of the weights, in bits."""
        return sum(self.weights.values())


class Scorer:
    """Scores pairs of reports against the chance agreement in one set of records."""

    def __init__(self, events: Sequence[LifeRow], merge: MergeKeys) -> None:
        self.merge = merge
        step = max(1, len(events) // MOST_COUNTED)
        some = list(events[::step])
        n = max(len({e.engine_id for e in events}), 2)
        self.u = {
            "id": 1.0 / n,
            "hours": _near([e.exit_h for e in some], lambda h: merge.hours_alike * h),
            "date": _near(
                [float(e.ended.toordinal()) for e in some if e.ended is not None],
                lambda _: float(merge.days_alike),
            ),
            "cause": _same([fold(e.cause) for e in some if cause_known(e.cause)]),
            "build": _same([fold(e.build) for e in some if e.build]),
        }

    def score(self, a: LifeRow, b: LifeRow, *, near_id: bool = False) -> Score:
        """Return the agreement of two reports; `near_id` when their ids differ by one slip."""
        w: dict[str, float] = {}
        if near_id:
            w["id"] = math.log2(ONE_SLIP / min(self.u["id"], 0.5))
        else:
            w["id"] = self._weight("id", a.engine_id == b.engine_id)
        w["hours"] = self._weight("hours", hours_alike(a, b, self.merge))
        if a.ended is not None and b.ended is not None:
            apart = abs((a.ended - b.ended).days)
            w["date"] = self._weight("date", apart <= self.merge.days_alike)
        if cause_known(a.cause) and cause_known(b.cause):
            w["cause"] = self._weight("cause", fold(a.cause) == fold(b.cause))
        if a.build and b.build:
            w["build"] = self._weight("build", fold(a.build) == fold(b.build))
        return Score(weights=w)

    def _weight(self, name: str, agree: bool) -> float:
        m, u = M[name], self.u[name]
        return math.log2(m / u) if agree else math.log2((1.0 - m) / (1.0 - u))


def hours_alike(a: LifeRow, b: LifeRow, merge: MergeKeys) -> bool:
    """Return whether two lives end at hours since new that may be the same."""
    return alike_h(a.life_start_h + a.exit_h, b.life_start_h + b.exit_h, merge)


def _near(values: Sequence[float], reach: Callable[[float], float]) -> float:
    """Return the share of pairs of different events that lie within reach by chance."""
    x = np.sort(np.asarray(values, dtype=np.float64))
    n = len(x)
    if n < 2:
        return 0.05
    upto = np.searchsorted(x, x + np.array([reach(v) for v in x]), side="right")
    pairs = float((upto - np.arange(n) - 1).sum())
    return _bounded(2.0 * pairs / (n * (n - 1)), n)


def _same(values: Sequence[Hashable]) -> float:
    n = len(values)
    if n < 2:
        return 0.5
    return _bounded(sum((c / n) ** 2 for c in Counter(values).values()), n)


def _bounded(u: float, n: int) -> float:
    """Keep a chance away from 0 and 1, which no finite count can show."""
    return min(max(u, 1.0 / (n * n)), 0.95)
