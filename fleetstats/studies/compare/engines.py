"""Engine by engine: what became of each between two studies, and what was told otherwise.

Records only grow: hours rise, failures stay failures. Where the later study takes back what the
earlier one held, the change is no news of the fleet but of the records, and a reader must see it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from fleetstats.core.value import Value, value
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.study.pool_settings import MergeKeys
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import id_order, normalise_id
from fleetstats.vocabulary.wording import count, listed

KINDS = {
    "failure-gone": "its failure is no longer in the records",
    "hours-back": "its hours went back",
    "other-return": "its hours are told by another return now, which reads a little less",
    "gone": "no longer in the records",
    "failed": "failed since",
    "ended": "ended otherwise since",
    "new": "new to the records",
}
"""What may have become of an engine, what was told otherwise first."""

TAKEN_BACK = ("failure-gone", "hours-back")
"""Kinds that no running of engines explains."""

ENDINGS = {
    Event.CENSORED: "running or left",
    Event.FAILED: "failed",
    Event.COMPETING: "failed from another cause",
    Event.FINDING: "removed on a finding",
}
SLACK_H = 0.05
"""Hours that two records of one reading may differ by rounding."""


@value
class EngineChange(Value):
    """One engine of two studies; hours are those of its last life, None where it is absent."""

    unit: str
    kind: str
    before_h: float | None
    after_h: float | None
    ended_before: str
    ended_after: str


def spelt_alike(old: Spells, new: Spells) -> Spells:
    """Return the old lives with each engine named as in the new ones, however it was spelt.

    Parameters
    ----------
    old, new : Spells
        Lives of two studies; ids are compared as everywhere (`records.life.normalise_id`).
    """
    names = {normalise_id(str(u)): str(u) for u in np.unique(new.unit)}
    units, place = np.unique(old.unit, return_inverse=True)
    named = np.array([names.get(normalise_id(str(u)), str(u)) for u in units], dtype=np.str_)
    return old.replace(unit=named[place.ravel()]) if len(units) else old


def engine_changes(
    old: Spells, new: Spells, *, hours_alike: float | None = None
) -> tuple[EngineChange, ...]:
    """Return the engines that changed by more than running on, by kind and then by name.

    Parameters
    ----------
    old, new : Spells
        Lives of the earlier and the later study; engines are matched by id.
    hours_alike : float, optional
        Share of the hours by which two returns may differ on one reading, ``[merge] hours_alike``:
        where another return tells of an engine now, so much less is no going back.
    """
    alike = MergeKeys().hours_alike if hours_alike is None else hours_alike
    before, after = _last(spelt_alike(old, new)), _last(new)
    out = []
    for unit in sorted({*before, *after}, key=id_order):
        was, now = before.get(unit), after.get(unit)
        kind = _kind(was, now, alike)
        if not kind:
            continue
        out.append(
            EngineChange(
                unit=unit,
                kind=kind,
                before_h=None if was is None else was.hours,
                after_h=None if now is None else now.hours,
                ended_before="" if was is None else ENDINGS[Event(was.event)],
                ended_after="" if now is None else ENDINGS[Event(now.event)],
            )
        )
    order = list(KINDS)
    return tuple(sorted(out, key=lambda c: order.index(c.kind)))


def caution_rewritten(changes: Sequence[EngineChange]) -> tuple[Caution, ...]:
    """Return the caution that the later records take back what the earlier ones held."""
    taken = [c for c in changes if c.kind in TAKEN_BACK]
    gone = [c for c in changes if c.kind == "gone" and c.ended_before == ENDINGS[Event.FAILED]]
    out = []
    if taken or gone:
        named = [c.unit for c in (*taken, *gone)]
        more = f" and {len(named) - 5} more" if len(named) > 5 else ""
        out.append(
            caution(
                "records-rewritten",
                value=f"{count(len(named), 'engine')}: {listed(named[:5])}{more}",
                limit="0 engines",
            )
        )
    return tuple(out)


class _Last(NamedTuple):
    """Greatest hours of an engine, the event there, its failures in all, who tells of it."""

    hours: float
    event: int
    failures: int
    source: str


def _last(spells: Spells) -> dict[str, _Last]:
    """Return for each unit how its records end."""
    failures: dict[str, int] = {}
    for unit in spells.unit[spells.event == Event.FAILED]:
        failures[str(unit)] = failures.get(str(unit), 0) + 1
    out: dict[str, _Last] = {}
    for i in np.argsort(spells.exit_upper, kind="stable"):
        unit = str(spells.unit[i])
        out[unit] = _Last(
            hours=float(spells.exit_upper[i]),
            event=int(spells.event[i]),
            failures=failures.get(unit, 0),
            source=fold(str(spells.source[i])),
        )
    return out


def _kind(was: _Last | None, now: _Last | None, alike: float) -> str:
    if was is None:
        return "new"
    if now is None:
        return "gone"
    if now.failures < was.failures:
        return "failure-gone"
    back_h = was.hours - now.hours
    if back_h > SLACK_H:
        other = now.source != was.source
        return "other-return" if other and back_h <= alike * was.hours else "hours-back"
    if now.failures > was.failures:
        return "failed"
    return "ended" if now.event != was.event else ""
