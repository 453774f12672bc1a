"""What an event takes of hours and a date told in words: the edge that betters no answer.

A reading counts to its lower edge, and observation begins at the upper one; an end keeps both, as a
failure's hours lie between them. Events that tie one clock to another need one number.
"""

from __future__ import annotations

import math
from typing import Any

from fleetstats.records.rows.row import RowInHand
from fleetstats.tables.doubt import FigureDoubt
from fleetstats.tables.doubt_days import DayDoubt
from fleetstats.vocabulary.findings.cells import say_cell

LOWER = ("reading", "check", "unscheduled", "top-overhaul", "lost", "teardown")
"""Kinds of event whose hours, told in words, count to their lower edge."""

UPPER = ("installed", "returned", "finding", "failed", "removed", "overhauled", "modified",
         "retired")  # fmt: skip
"""Kinds of event that stand at the upper edge, with the lower one beside it."""


def settle_hours(row: RowInHand, told: dict[str, Any]) -> None:
    """Put a number in the place of hours told in words, with its doubt beside it."""
    words = told.get("hours")
    if not isinstance(words, FigureDoubt):
        return
    low, high, kind = words.low, words.high, told.get("kind")
    told["hours"] = high if kind in UPPER and math.isfinite(high) else low
    told["doubt_h"] = (told["hours"] - low, high - told["hours"])
    opens = kind in ("installed", "returned", "modified", "overhauled") and math.isinf(high)
    if kind not in (*LOWER, *UPPER) or opens:
        said = say_cell("clock-in-words", shown=row.text("hours")[:40])
        row.add("log-hours-unreadable", "hours", trouble=said.sentence, hint=said.cure)


def settle_day(told: dict[str, Any]) -> None:
    """Put the middle day in the place of a date told as a span."""
    words = told.get("date")
    if isinstance(words, DayDoubt):
        told["date"] = words.middle
        told["days"] = (words.low, words.high) if words.low < words.high else None
