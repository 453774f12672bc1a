"""The order in which the things of one row happened, by their numbers, dates and hours.

Failures stand in the order of their numbers, between the entry and the last reading. Whatever else
is told is put where its date and hours fit; hours fall only where the meter was changed. Where two
places fit that do not mean the same, nothing is guessed.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fleetstats.records.histories.occasions import (
    ENTRY,
    LEAVING,
    NOW,
    RANKS,
    REPAIR_RANK,
    Occasion,
)
from fleetstats.records.log.log_state import READING_TOLERANCE_H, SHOP_RUN_H

METER = "meter changed"
AFTER_LEAVING = (REPAIR_RANK, RANKS["back"])
"""Ranks of what is done while an engine is out of service, at the hours at which it left."""

MOST_METERS = 4
"""Changes of the meter whose places are looked for in one row."""


class OddOrder(Exception):
    """What is odd about the order of a row: the finding, and its fields."""

    def __init__(self, key: str, column: str, **fields: Any) -> None:
        super().__init__(key)
        self.key, self.column, self.fields = key, column, fields


@dataclass(frozen=True, slots=True)
class Rules:
    """What hours do in a file: after a change of the meter, and after an overhaul.

    `after_change` is "new-meter", "total" or blank where the study does not say; `restarts` says
    that the hours of the file are since overhaul.
    """

    after_change: str = ""
    restarts: bool = False


def in_order_told(occasions: Sequence[Occasion], rules: Rules) -> list[Occasion]:
    """Return the happenings of a row in their order, the entry first.

    Raises
    ------
    OddOrder
        If they cannot have happened so, or in two ways that differ.
    """
    spine = sorted(
        (o for o in occasions if o.happening in (ENTRY, "failed", NOW)),
        key=lambda o: (o.happening != ENTRY, o.happening == NOW, o.number),
    )
    meters = sorted((o for o in occasions if o.happening == METER), key=lambda o: o.number)
    others = [o for o in occasions if o not in spine and o not in meters]
    out = _with_meters(spine, meters, rules)
    _tell_fall(out, rules)
    for o in sorted(others, key=lambda o: (o.rank, o.number)):
        out = _put(out, o, rules)
    return out


def _floor_after(o: Occasion, rules: Rules) -> float | None:
    """Return the least hours that can follow an occasion; None where its hours are not known."""
    if o.hours is None:
        return None
    if o.happening == METER and rules.after_change != "total":
        return o.new_reading_h or 0.0
    return 0.0 if rules.restarts and o.happening in ("back", "overhauled", "repair") else o.hours


def _fall(seq: Sequence[Occasion], rules: Rules) -> tuple[str, Occasion, Occasion] | None:
    """Return what falls in a sequence, ``"hours"`` or ``"dates"``, and between which two."""
    floor, held, dated = -math.inf, seq[0] if seq else None, None
    for o in seq:
        if o.date is not None:
            if dated is not None and dated.date is not None and o.date < dated.date:
                return "dates", dated, o
            dated = o
        if o.hours is None or held is None:
            continue
        if o.hours < floor - READING_TOLERANCE_H:
            return "hours", held, o
        after = _floor_after(o, rules)
        floor, held = o.hours if after is None else after, o
    return None


def _tell_fall(seq: Sequence[Occasion], rules: Rules) -> None:
    fall = _fall(seq, rules)
    if fall is None:
        return
    what, before, o = fall
    if what == "dates":
        raise OddOrder("history-order/dates", o.names.get("date", o.column), what=o.label,
                       day=o.date, other=before.label, other_day=before.date)  # fmt: skip
    raise OddOrder("history-order/hours", o.column, what=o.label, h=o.hours,
                   other=before.label, other_h=before.hours)  # fmt: skip


def _with_meters(spine: list[Occasion], meters: Sequence[Occasion], rules: Rules) -> list[Occasion]:
    """Return the failures with the changes of the meter where they fit."""
    if not meters:
        return spine
    if len(meters) > MOST_METERS:
        o = meters[MOST_METERS]
        raise OddOrder("history-order/place", o.column, what=o.label, h=o.hours or 0.0)
    fits = []
    places_told = range(1, _end(spine) + 1)
    for places in itertools.combinations_with_replacement(places_told, len(meters)):
        seq = list(spine)
        for place, o in sorted(zip(places, meters, strict=True), key=lambda x: -x[0]):
            # later ones first, so that places stay; of two at one place the first comes first
            seq.insert(place, o)
        seq = _first_meter_first(seq, meters)
        if _fall(seq, rules) is None and not _before_same_hours(seq):
            fits.append(seq)
    if len(fits) == 1 or (fits and rules.after_change == "total"):
        return fits[-1]
    if not fits:
        _tell_fall(spine, rules)
        o = meters[0]
        raise OddOrder("history-order/place", o.column, what=o.label, h=o.hours or 0.0)
    raise _meter_unplaced(meters[0], spine, rules)


def _first_meter_first(seq: list[Occasion], meters: Sequence[Occasion]) -> list[Occasion]:
    turn = iter(meters)
    return [next(turn) if o.happening == METER else o for o in seq]


def _before_same_hours(seq: Sequence[Occasion]) -> bool:
    """Return whether a meter is changed just before something at the hours of the old one.

    That is the same as just after it.
    """
    return any(
        a.happening == METER
        and b.happening not in (METER, NOW)
        and (b.hours is None or abs(b.hours - (a.hours or 0.0)) <= READING_TOLERANCE_H)
        for a, b in itertools.pairwise(seq)
    )


def _meter_unplaced(o: Occasion, spine: Sequence[Occasion], rules: Rules) -> OddOrder:
    h = o.hours or 0.0
    above = next((x for x in spine if x.hours is not None and x.hours > h), None)
    if above is not None and not rules.after_change and o.new_reading_h is None:
        return meter_open(o, above)
    return OddOrder("history-meter-place", o.column, what=o.label, h=h)


def meter_open(o: Occasion, later: Occasion) -> OddOrder:
    """Return the finding on hours of which it is open whether they are the new meter's."""
    return OddOrder("history-meter-open", later.column, h=o.hours or 0.0, what=later.label,
                    later_h=later.hours or 0.0)  # fmt: skip


def _put(seq: list[Occasion], o: Occasion, rules: Rules) -> list[Occasion]:
    """Return the sequence with one more occasion where it fits."""
    low, high = _bounds(seq, o)
    fits = [p for p in range(low, high + 1)
            if _fall([*seq[:p], o, *seq[p:]], rules) is None]  # fmt: skip
    if not fits:
        raise OddOrder("history-order/place", o.column, what=o.label, h=o.hours or 0.0)
    if o.rank in AFTER_LEAVING:
        fits = [p for p in fits if _at_leaving(seq, p, o)] or fits
    if rules.after_change != "total":
        # at the very hours of the change it came before it
        changed = {p: sum(x.happening == METER for x in seq[:p]) for p in fits}
        fits = [p for p in fits if _before_change(seq, p, o)] or fits
        if len({changed[p] for p in fits}) > 1:
            raise OddOrder("history-meter-place", o.column, what=o.label, h=o.hours or 0.0)
    at = fits[-1]
    for p in fits:
        if p == len(seq) or seq[p].rank > o.rank or p == fits[-1]:
            at = p
            break
    return [*seq[:at], o, *seq[at:]]


def _at_leaving(seq: Sequence[Occasion], p: int, o: Occasion) -> bool:
    """Return whether at a place the engine has just left service, at the hours of an occasion."""
    while p > 1 and seq[p - 1].rank == REPAIR_RANK:
        p -= 1
    left = seq[p - 1]
    if left.happening not in LEAVING or left.hours is None or o.hours is None:
        return False
    return abs(left.hours - o.hours) <= SHOP_RUN_H


def _bounds(seq: Sequence[Occasion], o: Occasion) -> tuple[int, int]:
    """Return between which places an occasion can stand.

    A second return follows the second failure, where only failures take the engine out.
    """
    numbers = {x.number: i for i, x in enumerate(seq) if x.happening == "failed"}
    other = any(x.happening in LEAVING and x.happening != "failed" for x in seq)
    end = len(seq) if o.happening == "retired" else _end(seq)
    if o.happening != "back" or other or o.number not in numbers:
        return 1, end
    later = [i for n, i in numbers.items() if n > o.number]
    return numbers[o.number] + 1, min(later, default=end)


def _end(seq: Sequence[Occasion]) -> int:
    """Return the last place of all: before the last reading, after which nothing is told."""
    return len(seq) - (seq[-1].happening == NOW)


def _before_change(seq: Sequence[Occasion], p: int, o: Occasion) -> bool:
    """Return whether at a place the next change of the meter is at the occasion's own hours."""
    later = next((x for x in seq[p:] if x.happening == METER), None)
    if later is None or later.hours is None or o.hours is None:
        return False
    return abs(later.hours - o.hours) <= READING_TOLERANCE_H
