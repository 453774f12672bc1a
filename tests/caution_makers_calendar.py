"""Makers of cautions on answers that count a part of the calendar only; see `caution_makers`."""

from __future__ import annotations

import datetime as dt

from caution_makers import MAKERS

from fleetstats.chapters.cautions.calendar import caution_since
from fleetstats.spells.since import SinceCut


def _cut(**found: float) -> SinceCut:
    none = {"n_over": 0, "failed_over": 0, "n_undated": 0, "undated_failed": 0, "n_open": 0}
    return SinceCut(day=dt.date(2024, 9, 1), **{"hours_before": 0.0, **none, **found})  # type: ignore[arg-type]


MAKERS["since-date"] = lambda over: caution_since(_cut(hours_before=1000.0 * over))
MAKERS["since-undated/lives"] = lambda over: caution_since(_cut(n_undated=int(over)))
MAKERS["since-undated/failures"] = lambda over: caution_since(_cut(undated_failed=int(over)))
MAKERS["since-open-days"] = lambda over: caution_since(_cut(n_open=int(over)))
