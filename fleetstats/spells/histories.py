"""Histories: what happened to each engine while it was watched, events that recur included.

A life ends once; a cylinder change, a finding or an unscheduled visit can come again. A history
keeps the stretches of hours over which an engine was under observation and the events inside them.
A stretch is open at its start and closed at its end, ``(start_h, end_h]``, as spells are.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core import arguments
from fleetstats.core.errors import SpellError
from fleetstats.core.kept import kept
from fleetstats.core.value import Array, Floats, Texts, Value, value


@value
class Histories(Value):
    """Stretches under observation, and the recurrent events seen in them.

    Parameters
    ----------
    unit : (n,) str
        Engine watched over a stretch; an engine with gaps in its records has several.
    start_h, end_h : (n,) float
        Hours between which the engine was watched.
    source, build : (n,) str
        Labels of the stretch; empty when unknown.
    event_unit : (m,) str
        Engine to which an event happened.
    event_h : (m,) float
        Hours of the event, inside one of the engine's stretches.
    event_cost : (m,) float
        Cost in the study's money; 1 when only counts are wanted.
    event_kind : (m,) str
        What happened, such as ``"part-changed"``.

    Raises
    ------
    SpellError
        If hours are not finite or out of order, the stretches of one engine overlap, or an event
        lies outside all stretches of its engine. The message names the engine.

    Examples
    --------
    >>> import fleetstats as fs
    >>> seen = fs.Histories.of(
    ...     list("abc"), 0, [900, 800, 950], list("aabbc"), [100, 700, 300, 500, 90]
    ... )
    >>> seen.exposure_h
    2650.0
    """

    unit: Texts
    start_h: Floats
    end_h: Floats
    source: Texts
    build: Texts
    event_unit: Texts
    event_h: Floats
    event_cost: Floats
    event_kind: Texts

    def __post_init__(self) -> None:
        for names in (
            ("unit", "start_h", "end_h", "source", "build"),
            ("event_unit", "event_h", "event_cost", "event_kind"),
        ):
            lengths = {name: len(getattr(self, name)) for name in names}
            if len(set(lengths.values())) > 1:
                raise SpellError(f"Histories: columns differ in length: {lengths}.")
        self._check_stretches()
        self._check_events()

    def _check_stretches(self) -> None:
        bad = ~np.isfinite(self.start_h) | ~np.isfinite(self.end_h) | (self.start_h < 0)
        bad |= ~(self.end_h > self.start_h)
        if bad.any():
            i = int(np.argmax(bad))
            raise SpellError(
                f"History of '{self.unit[i]}': a stretch from {self.start_h[i]:g} to "
                f"{self.end_h[i]:g} h.",
                "Hours must be finite, 0 or more, and end later than they start.",
                index=i,
            )
        engine = self.engines[1]
        order = np.lexsort((self.start_h, engine))
        unit, start, end = engine[order], self.start_h[order], self.end_h[order]
        over = (unit[1:] == unit[:-1]) & (start[1:] < end[:-1])
        if over.any():
            i = int(np.argmax(over))
            name = self.unit[order[i]]
            raise SpellError(
                f"History of '{name}': the stretches {start[i]:g} to {end[i]:g} h and "
                f"{start[i + 1]:g} to {end[i + 1]:g} h overlap.",
                "Merge them, or give the second engine its own name.",
                index=int(order[i + 1]),
            )

    def _check_events(self) -> None:
        if not np.isfinite(self.event_cost).all():
            raise SpellError("Histories: a cost is not a finite number.")
        inside = self.stretch_of_event() >= 0
        if not inside.all():
            i = int(np.argmin(inside))
            raise SpellError(
                f"History of '{self.event_unit[i]}': '{self.event_kind[i]}' at "
                f"{self.event_h[i]:g} h lies outside the hours that were watched.",
                "An event counts only together with the exposure in which it could be seen.",
            )

    def stretch_of_event(self) -> Array:
        """Return (m,) index of the stretch that holds each event; -1 where none does."""
        _, engine, of_event = self.engines
        n, m = len(engine), len(of_event)
        # Events and stretches by engine and hours, an event before a stretch that begins there: the
        # stretch of an event, if it has one, is the last before it.
        hours = np.concatenate([self.start_h, self.event_h])
        both = np.concatenate([engine, of_event])
        order = np.lexsort((np.arange(n + m) < n, hours, both))
        last = np.maximum.accumulate(np.where(order < n, np.arange(n + m), -1))
        found = np.full(n + m, -1, dtype=np.int64)
        found[order] = np.where(last >= 0, order[last], -1)
        out = found[n:]
        inside = (out >= 0) & (of_event >= 0)
        inside &= (engine[out] == of_event) & (self.event_h <= self.end_h[out]) if n else False
        return np.where(inside, out, -1)

    @property
    def engines(self) -> tuple[Array, Array, Array]:
        """Return the engines' names, and which is that of each stretch and of each event.

        Names come in the order in which stretches name them; -1 for an event of no stretch's.
        """
        return kept(self, "engines by place", self._engines)

    def _engines(self) -> tuple[Array, Array, Array]:
        place: dict[str, int] = {}
        mine = [place.setdefault(u, len(place)) for u in self.unit.tolist()]
        of_event = [place.get(u, -1) for u in self.event_unit.tolist()]
        return (
            np.array(list(place), dtype=np.str_),
            np.array(mine, dtype=np.int64),
            np.array(of_event, dtype=np.int64),
        )

    @classmethod
    def of(
        cls,
        unit: ArrayLike,
        start_h: ArrayLike,
        end_h: ArrayLike,
        event_unit: ArrayLike,
        event_h: ArrayLike,
        *,
        event_cost: ArrayLike | None = None,
        event_kind: ArrayLike | None = None,
        source: ArrayLike | None = None,
        build: ArrayLike | None = None,
    ) -> Histories:
        """Build histories from plain arrays; costs default to 1 and labels to blank.

        One value stands for all stretches, or for all events.

        Raises
        ------
        ArgumentError
            If a column is not what it stands for, or lengths differ.
        SpellError
            If a stretch or an event cannot be.
        """
        n = max(np.size(v) for v in (unit, start_h, end_h))
        m = max(np.size(v) for v in (event_unit, event_h))

        def texts(values: ArrayLike | None, name: str, many: int, blank: str = "") -> Array:
            return arguments.texts_of(blank if values is None else values, name, n=many)

        return cls(
            unit=texts(unit, "unit", n),
            start_h=arguments.hours_of(start_h, "start_h", n=n),
            end_h=arguments.hours_of(end_h, "end_h", n=n),
            source=texts(source, "source", n),
            build=texts(build, "build", n),
            event_unit=texts(event_unit, "event_unit", m),
            event_h=arguments.hours_of(event_h, "event_h", n=m),
            event_cost=arguments.numbers(
                1.0 if event_cost is None else event_cost, "event_cost", n=m
            ),
            event_kind=texts(event_kind, "event_kind", m, "event"),
        )

    def __repr__(self) -> str:
        return (
            f"Histories: {len(self.engines[0])} engines over {len(self.unit)} stretches, "
            f"{self.exposure_h:,.0f} h, {len(self.event_h)} events"
        )

    @property
    def exposure_h(self) -> float:
        """Return hours under observation, all engines together."""
        return float((self.end_h - self.start_h).sum())

    def observed(self, hours: ArrayLike) -> Array:
        """Return (k,) counts of engines watched at each of `hours`: ``start < hours <= end``."""
        t = np.atleast_1d(np.asarray(hours, dtype=np.float64))
        start, end = np.sort(self.start_h), np.sort(self.end_h)
        begun = np.searchsorted(start, t, side="left")
        return np.asarray(begun - np.searchsorted(end, t, side="left"))

    def of_kind(self, *kinds: str) -> Histories:
        """Return the same stretches with only the events of the named kinds."""
        keep = np.isin(self.event_kind, kinds)
        return Histories(
            unit=self.unit,
            start_h=self.start_h,
            end_h=self.end_h,
            source=self.source,
            build=self.build,
            event_unit=self.event_unit[keep],
            event_h=self.event_h[keep],
            event_cost=self.event_cost[keep],
            event_kind=self.event_kind[keep],
        )

    def select(self, keep: ArrayLike) -> Histories:
        """Return the stretches where `keep` (n,) is true, with the events that lie in them."""
        k = np.asarray(keep, dtype=bool)
        where = self.stretch_of_event()
        inside = k[where] if len(where) else np.zeros(0, dtype=bool)
        return Histories(
            **{f: getattr(self, f)[k] for f in STRETCH_COLUMNS},
            **{f: getattr(self, f)[inside] for f in EVENT_COLUMNS},
        )


STRETCH_COLUMNS = ("unit", "start_h", "end_h", "source", "build")
"""Columns with one row per stretch under observation."""

EVENT_COLUMNS = ("event_unit", "event_h", "event_cost", "event_kind")
"""Columns with one row per event."""
