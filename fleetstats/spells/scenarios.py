"""Fleets as they would be if one hidden fact were so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.spells import Event, Spells
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.unknown import cause_known


def scale_hours(spells: Spells, factor: float) -> Spells:
    """Return the spells with all hours times `factor`: what was read as 100 h was 100 · factor."""
    left_out = tuple(
        replace(x, low_h=factor * x.low_h, high_h=factor * x.high_h) for x in spells.left_out
    )
    return spells.with_left_out(left_out).replace(
        entry=factor * spells.entry,
        exit_lower=factor * spells.exit_lower,
        exit_upper=factor * spells.exit_upper,
        assumed_h=factor * spells.assumed_h,
    )


def fail_at_end(spells: Spells, which: Array) -> Spells:
    """Return the spells with those of `which` (n,) bool failed at their last hours seen."""
    return spells.replace(event=np.where(which, int(Event.FAILED), spells.event))


def count_only(spells: Spells, which: Array) -> Spells:
    """Return the spells with those of `which` (n,) bool as the failures and no others.

    A failure known to lie in an interval that is not among them ends in its middle, running.
    """
    middle = np.where(which, spells.exit_upper, 0.5 * (spells.exit_lower + spells.exit_upper))
    return spells.replace(
        exit_lower=np.where(which, spells.exit_lower, middle),
        exit_upper=middle,
        event=np.where(which, int(Event.FAILED), int(Event.CENSORED)),
    )


def censor(spells: Spells, which: Array) -> Spells:
    """Return the spells with those of `which` (n,) bool censored where they were last known good.

    A spell that was under observation for no hours before its failure's interval is left out.
    """
    stop = np.where(which, spells.exit_lower, spells.exit_upper)
    out = (stop > spells.entry) | ~which
    part = spells.select(out)
    w = which[out]
    return part.replace(
        exit_lower=np.where(w, part.exit_lower, part.exit_lower),
        exit_upper=np.where(w, part.exit_lower, part.exit_upper),
        event=np.where(w, int(Event.CENSORED), part.event),
    )


def ignore_entry(spells: Spells) -> Spells:
    """Return the spells as if all were followed from new: a mistake, to show what it costs."""
    return spells.replace(entry=np.zeros(len(spells)))


def followed_from_new(spells: Spells) -> Spells:
    """Return the spells that were followed from new."""
    return spells.select(spells.entry == 0)


def lost_rows(rows: Sequence[LifeRow]) -> Array:
    """Return (n,) bool: lost to follow-up."""
    return np.array([row.ending == "lost" for row in rows], dtype=bool)


def doubtful_rows(rows: Sequence[LifeRow]) -> Array:
    """Return (n,) bool: events whose standing the records leave open.

    A failure or a removal on a finding is doubtful when its cause is not known, or when other
    rows say whether the fault was confirmed and this one does not.
    """
    asked = any(row.confirmed is not None for row in rows)
    out = []
    for row in rows:
        is_event = row.ending in (*FAILING_ENDINGS, "removed-finding")
        unknown = not cause_known(row.cause)
        out.append(is_event and (unknown or (asked and row.confirmed is None)))
    return np.array(out, dtype=bool)
