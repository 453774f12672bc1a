"""Makers of cautions on answers that count a part of the calendar only; see `caution_makers`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

import numpy as np
from caution_makers import MAKERS

from fleetstats.chapters.cautions.calendar import caution_since
from fleetstats.chapters.use_per_year.values import CauseClock
from fleetstats.chapters.use_per_year.words import caution_clock
from fleetstats.spells.days.since import SinceCut
from fleetstats.survival.clocks import which_clock
from fleetstats.survival.clocks.which_clock import WhichClock
from fleetstats.vocabulary.caution import Caution


def _cut(**found: float) -> SinceCut:
    none = {"n_over": 0, "failed_over": 0, "n_undated": 0, "undated_failed": 0, "n_open": 0}
    return SinceCut(day=dt.date(2024, 9, 1), **{"hours_before": 0.0, **none, **found})  # type: ignore[arg-type]


MAKERS["since-date"] = lambda over: caution_since(_cut(hours_before=1000.0 * over))
MAKERS["since-undated/lives"] = lambda over: caution_since(_cut(n_undated=int(over)))
MAKERS["since-undated/failures"] = lambda over: caution_since(_cut(undated_failed=int(over)))
MAKERS["since-open-days"] = lambda over: caution_since(_cut(n_open=int(over)))


def _clock(share: float, difference: float) -> WhichClock:
    return WhichClock(
        n_failed=20.0, shares=np.array([0.0, 1.0]), log_likelihood=np.zeros(2), best=share,
        low=share, high=share, difference=difference, limit=3.0, shape_hours=2.0, shape_years=2.0,
        word=which_clock._word(np.array([share, share]), difference, 3.0),
    )  # fmt: skip


def _told(share: float, difference: float) -> Iterable[Caution]:
    clock = _clock(share, difference)
    return caution_clock([CauseClock(cause="seals", n_failed=20.0, clock=clock)])


MAKERS["goes-by-years/years"] = lambda over: _told(1.0, -3.0 if over else -2.99)
MAKERS["goes-by-years/both"] = lambda over: _told(0.5 if over else 0.0, 1.0)
