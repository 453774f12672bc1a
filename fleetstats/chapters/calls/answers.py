"""The fleet as it stands once calls are answered."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fleetstats.chapters.calls.whom import Askable
from fleetstats.core.value import Array
from fleetstats.spells.event import Event
from fleetstats.spells.placings import POINT
from fleetstats.spells.spells import Spells
from fleetstats.spells.supposed.changed import note_change


def answered(spells: Spells, asked: Sequence[Askable], end_h: Array, failed: Array) -> Spells:
    """Return the spells with answers: each engine's hours, and whether it failed at them.

    A life that is known goes on to what was told; an engine without one brings its hours from new.
    A failure that was left out for want of hours is counted, and left out no more.

    Parameters
    ----------
    spells : Spells
        The fleet today.
    asked : sequence of Askable
        Engines asked about, each once.
    end_h : (n,) float
        Hours told, on the life's clock.
    failed : (n,) bool
        Whether the engine failed at them.
    """
    if not len(asked):
        return spells
    known = np.array([x.at is not None for x in asked], dtype=bool)
    at = np.array([x.at for x in asked if x.at is not None], dtype=np.int64)
    stop, lower = spells.exit_upper.copy(), spells.exit_lower.copy()
    event, assumed = spells.event.copy(), spells.assumed_h.copy()
    stop[at] = lower[at] = end_h[known]
    event[at] = np.where(failed[known], int(Event.FAILED), int(Event.CENSORED))
    assumed[at] = 0.0
    out = spells.replace(exit_upper=stop, exit_lower=lower, event=event, assumed_h=assumed)
    new = [x for x in asked if x.at is None]
    if not new:
        return note_change(out, spells, at, at)
    told = {id(x.left_out) for x in new}
    out = out.with_left_out(tuple(x for x in spells.left_out if id(x) not in told))
    more = Spells.of(
        0.0,
        end_h[~known],
        np.where(failed[~known], int(Event.FAILED), int(Event.CENSORED)),
        unit=np.array([x.engine for x in new]),
        source=np.array([x.source for x in new]),
        build=np.array([x.build for x in new]),
        cause=np.array([x.left_out.cause if x.left_out is not None else "" for x in new]),
    )
    further = len(spells) + np.arange(len(new))
    return note_change(out.join(more), spells, at, np.append(at, further))


def one_more_failure(spells: Spells, age_h: float) -> Spells:
    """Return the spells with one failure more at an age, which brings next to no hours."""
    out = spells.join(
        Spells.of((1.0 - POINT) * age_h, [age_h], [1], unit=np.array(["one more failure"]))
    )
    return note_change(out, spells, [], [len(spells)])
