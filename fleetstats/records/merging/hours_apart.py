"""Readings of one engine that no flying can bring together: too many hours between their days."""

from __future__ import annotations

from fleetstats.records.life import LifeRow
from fleetstats.vocabulary.limits import APART_H, APART_SHARE


def cannot_both_be(a: LifeRow, b: LifeRow) -> bool:
    """Return whether two readings lie further apart than the days between them have hours.

    Readings of one day, or the more hours on the earlier day, leave no hours at all. Rounding and
    the slips of an honest clerk are allowed for. Without both dates it is never so.
    """
    x, y = a.life_start_h + a.exit_h, b.life_start_h + b.exit_h
    more, less = (a, b) if x >= y else (b, a)
    if more.last_date is None or less.last_date is None:
        return False
    days = max((more.last_date - less.last_date).days, 0)
    return abs(x - y) > 24.0 * days + max(APART_H, APART_SHARE * max(x, y))
