"""What one row can show of its own hours: order, entry, overhaul, last hours known good."""

from __future__ import annotations

import datetime as dt
from typing import Any

from fleetstats.records.rows.row import RowInHand
from fleetstats.tables.cells import is_blank
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.limits import LEAST_READ_H


def check_from_new(row: RowInHand, told: dict[str, Any], file_from: dt.date | None) -> None:
    """Look for an engine older than its records whose entry hours are empty."""
    since = told["observed_from_date"] or file_from
    new = told["in_service_date"]
    if since is None or new is None or not is_blank(row.cell("entry_hours")):
        return
    if new < since and told["exit_hours"]:
        row.add("entry-missing", "entry_hours", new=new, since=since)


def find_overhaul(row: RowInHand, hours: dict[str, float | None], basis: str) -> tuple[float, int]:
    """Return the hours since new at which the life begins, and its number."""
    at = hours["overhauled_at_hours"]
    since, end = hours["since_overhaul_hours"], hours["exit_hours"]
    if at is None and since is not None and end is not None:
        at = end - since
    if at is None:
        return 0.0, 0
    column = "overhauled_at_hours" if hours["overhauled_at_hours"] else "since_overhaul_hours"
    if end is not None and not 0.0 <= at <= end:
        row.add("hours-impossible/overhaul", column, at=at, end=end)
        return 0.0, 0
    if at == 0.0:
        return 0.0, 0
    entry = hours["entry_hours"] or 0.0
    if basis == "since-overhaul":
        if entry < at:
            row.add("life-before-overhaul", column, entry=entry, at=at)
        return at, 1
    if entry < at:
        row.add("overhaul-within-life", column, entry=entry, at=at)
    return 0.0, 1


def check_order(
    row: RowInHand, entry_h: float, exit_h: float, ending: str, *, may_be_none: bool = False
) -> None:
    """Look at the order of a life's ends; `may_be_none`: by their doubt it may have run no hour."""
    if may_be_none:
        exit_h = entry_h
    if exit_h < entry_h:
        row.add("exit-before-entry", "exit_hours", exit_h=exit_h, entry_h=entry_h)
    elif exit_h == entry_h and ending in FAILING_ENDINGS:
        row.add("failure-without-exposure", "entry_hours", exit_h=exit_h)
    elif exit_h == entry_h:
        row.add("no-exposure", "exit_hours", exit_h=exit_h)
    elif exit_h - entry_h < LEAST_READ_H:
        key = "hours-below-meter/failed" if ending in FAILING_ENDINGS else "hours-below-meter"
        row.add(key, "exit_hours", length=exit_h - entry_h)


def find_last_good(
    row: RowInHand,
    hours: dict[str, float | None],
    shift: float,
    entry_h: float,
    exit_h: float,
    ending: str,
) -> float | None:
    """Return the last hours known good on the life's own clock, within the life."""
    good = hours["last_good_hours"]
    if good is None:
        if ending == "found-at-check":
            row.add("last-good-missing", "last_good_hours", entry_h=entry_h, exit_h=exit_h)
        return None
    good -= shift
    if good > exit_h:
        row.add("last-good-after-exit", "last_good_hours", good=good, exit_h=exit_h)
    elif good < entry_h and ending != "running":
        row.add("last-good-before-entry", "last_good_hours", good=good, entry_h=entry_h)
        return entry_h
    return max(good, entry_h)


def find_modification(
    row: RowInHand, at: float | None, shift: float, entry_h: float, exit_h: float
) -> float | None:
    """Return the hours of a modification on the life's own clock, where it lies within the life."""
    if at is None:
        return None
    at -= shift
    if not row.text("modified_to"):
        row.add("modification-unclear", "modified_to", at=at)
        return None
    if not entry_h <= at < exit_h:
        row.add("modification-outside", "modified_at_hours", at=at, entry_h=entry_h, exit_h=exit_h)
        return entry_h if at < entry_h else None
    return at
