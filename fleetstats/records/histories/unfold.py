"""The happenings of a row, in their order, to the events of a log that tell the same."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from fleetstats.records.histories.occasions import ENTRY, LEAVING, NOW, Occasion
from fleetstats.records.histories.order import METER, OddOrder, Rules
from fleetstats.records.log.log_state import READING_TOLERANCE_H
from fleetstats.records.rows.row import RowInHand
from fleetstats.tables.cells import text
from fleetstats.vocabulary.fields.histories import RENEWS_BY_WORD
from fleetstats.vocabulary.fields.history_heads import part_of
from fleetstats.vocabulary.fold import fold

BACK = "back in service"
"""What a repair is called of which nothing is said but that the engine came back."""

TOP = "top overhaul"

AS_EVENT = {"failed": "failed", "removed": "removed", "prop strike": "removed",
            "retired": "retired", "check": "check", METER: "meter-changed",
            NOW: "reading", "back": "returned"}  # fmt: skip
"""What happened, as an event of a log."""

CELLS = {"hours": "hours", "date": "date", "cause": "cause", "confirmed": "confirmed",
         "reading": "new_reading_hours"}  # fmt: skip
"""What a row tells of something that happened, as the columns of a log."""

WHY = ("cause", "confirmed")
"""What is told only of an end."""


@dataclass(slots=True)
class ToldEvent:
    """One event of a log made of a row: its cells, and our columns of the row that they are of."""

    cells: dict[str, Any]
    names: dict[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class Unfolding:
    """The walk through the happenings of one row; `out` holds the events.

    Parameters
    ----------
    row : RowInHand
        Receives what is odd.
    renews : mapping
        Words of repairs as `fold` has them, with what each renewed; blank where that is open.
    rules : Rules
        What hours do after a change of the meter.
    end, end_cause : str
        Kind of the event that the status now tells of, ``"reading"`` where the engine runs, and
        the cause that it implies.

    While it goes on, `left` is what took the engine out of service, `repairs` what was done since;
    `stands_h` is what the meter shows, `since_h` what it showed when the engine last came back.
    """

    row: RowInHand
    renews: Mapping[str, str]
    rules: Rules
    end: str = "reading"
    end_cause: str = ""
    out: list[ToldEvent] = field(default_factory=list)
    left: Occasion | None = None
    repairs: list[Occasion] = field(default_factory=list)
    stands_h: float = 0.0
    since_h: float = 0.0

    def walk(self, told: list[Occasion]) -> list[ToldEvent]:
        """Return the events of a row.

        Raises
        ------
        OddOrder
            If something is told that the engine cannot have met where it stands.
        """
        for i, o in enumerate(told):
            if self.left is not None and self.left.happening == "retired":
                raise OddOrder("history-order/place", o.column, what=o.label, h=o.hours or 0.0)
            self._take(o)
            self.stands_h = self.stands_h if o.hours is None else o.hours
            if o.happening == METER:
                self._changed(o, told[i + 1 :])
        if told[-1].happening != NOW and (self.left is None or self.repairs):
            self.row.add("history-now-missing", "hours_now", hard=False, h=self.stands_h)
        return self.out

    def tell(self, o: Occasion) -> None:
        """Add what happened as an event, whatever the engine met before."""
        self._event(AS_EVENT.get(o.happening, "unscheduled"), o)
        if o.happening == "prop strike":
            self.out[-1].cells["cause"] = "prop strike"

    def _take(self, o: Occasion) -> None:
        if o.happening == ENTRY:
            self.since_h = o.hours or 0.0
            self.out.append(ToldEvent(dict(o.cells), dict(o.names)))
        elif o.happening in LEAVING or o.happening == NOW:
            self._leave_or_stay(o)
        elif o.happening == "back":
            if self.left is None:
                raise OddOrder("history-order/back", o.column, what=BACK)
            self._return(o)
        elif o.happening == METER and self.left is not None and not self._ran_on(o):
            self._event("meter-changed", o)
        elif o.happening in ("check", METER):
            self._come_back()
            self._event(AS_EVENT[o.happening], o)
        elif self.left is not None:
            self.repairs.append(o)
        else:
            self._repair_in_service(o)

    def _leave_or_stay(self, o: Occasion) -> None:
        """Take the engine out of service, or read it; it must have come back before if it ran."""
        if self.left is not None and not self._ran_on(o):
            if o.happening == NOW:
                return  # it stands as it left
            if o.happening == "retired":
                self._event("retired", o)
                self.left = o
                return
        self._come_back()
        kind = self.end if o.happening == NOW else AS_EVENT[o.happening]
        ran_h = (o.hours or 0.0) - self.since_h
        if kind in ("failed", "removed") and o.hours is not None and ran_h <= READING_TOLERANCE_H:
            raise OddOrder("history-order/no-hours", o.column, what=o.label, h=o.hours,
                           other_h=self.since_h)  # fmt: skip
        self._event(kind, o)
        implied = "prop strike" if o.happening == "prop strike" else ""
        implied = self.end_cause if o.happening == NOW else implied
        if implied:
            self.out[-1].cells["cause"] = implied
        if kind != "reading":
            self.left, self.repairs = o, []

    def _ran_on(self, o: Occasion) -> bool:
        """Return whether hours were run since the engine left service."""
        return o.hours is not None and o.hours - self.stands_h > READING_TOLERANCE_H

    def _changed(self, o: Occasion, later: list[Occasion]) -> None:
        """Read the new meter from here on; ask whose hours follow where they do not fall."""
        if self.rules.after_change == "total" or o.hours is None:
            return
        after = next((x for x in later if x.hours is not None), None)
        if (
            after is not None
            and after.hours is not None
            and not self.rules.after_change
            and o.new_reading_h is None
            and after.hours >= o.hours - READING_TOLERANCE_H
        ):
            raise OddOrder("history-meter-open", after.column, h=o.hours, what=after.label,
                           later_h=after.hours)  # fmt: skip
        ran = o.hours - self.since_h > READING_TOLERANCE_H and self.left is None
        self.stands_h = o.new_reading_h or 0.0
        # hours run on the old meter stand before whatever the new one shows
        self.since_h = -1.0 if ran else self.stands_h

    def _come_back(self) -> None:
        """Bring an engine back of which something later is told, its return not written."""
        if self.left is None:
            return
        mended = next((r for r in reversed(self.repairs) if r.hours is not None), None)
        if mended is None:
            self.row.add("history-return-assumed", self.left.column, hard=False,
                         what=self.left.label, last_h=self.left.hours or 0.0)  # fmt: skip
        self._return(mended)

    def _return(self, came: Occasion | None) -> None:
        """Bring the engine back, with what its repair renewed; None where no return is told."""
        left = self.left
        assert left is not None
        done = self._done(left, came)
        whole = next((x for x in done if x[2] == "all"), None)
        for o, word, renewed in done:
            if renewed == "part" and whole is None:
                self._event("part-fitted", o if o is not left else None)
                self.out[-1].cells["component"] = part_of(fold(word))
                self.out[-1].cells.pop("hours", None)  # hours stand still in the shop
                self.out[-1].names.setdefault("component", o.column)
            elif fold(word) == TOP and whole is None:
                self._event("top-overhaul", o if o is not left else None)
                self.out[-1].cells.pop("hours", None)
        if whole is not None:
            self._event("overhauled", whole[0] if whole[0] in self.repairs else came)
            self.out[-1].names.setdefault("kind", left.column)
        self._event("returned", came)
        self.out[-1].names.setdefault("kind", left.column)
        told_h = None if came is None else came.hours
        self.since_h = self.stands_h if told_h is None else told_h
        if whole is not None and self.rules.restarts:
            self.since_h = 0.0
        self.left, self.repairs = None, []

    def _done(self, left: Occasion, came: Occasion | None) -> list[tuple[Occasion, str, str]]:
        """Return what was done while the engine was out: what tells it, its word, what it renewed.

        Repairs with columns of their own, and work told beside the failure or the return; where
        nothing is told, the word is that the engine came back.
        """
        out = [(r, *self._meaning(r)) for r in self.repairs]
        for o in (left, came):
            if o is not None and o not in self.repairs and o.cells.get("work") is not None:
                word = text(o.cells["work"])
                out.append((o, word, self._renewed(word, o.names["work"])))
        if not out:
            o = left if came is None else came
            out.append((o, BACK, self._renewed(BACK, o.column)))
        return out

    def _repair_in_service(self, o: Occasion) -> None:
        word, renewed = self._meaning(o)
        self.row.add("history-repair-unexplained", o.column, hard=False, what=word,
                     h=o.hours or 0.0)  # fmt: skip
        if renewed == "all":
            self._event("overhauled", o)
            self._event("returned", o)
            self.since_h = 0.0 if self.rules.restarts else (o.hours or self.since_h)
        elif renewed == "part":
            self._event("part-fitted", o)
            self.out[-1].cells["component"] = part_of(fold(word))
        else:
            self._event("top-overhaul" if fold(word) == TOP else "unscheduled", o)

    def _meaning(self, o: Occasion) -> tuple[str, str]:
        """Return the word of a repair that has a column of its own, and what it renewed."""
        work = o.cells.get("work")
        word = o.happening if work is None else text(work)
        return word, self._renewed(word, o.column if work is None else o.names["work"])

    def _renewed(self, word: str, column: str) -> str:
        """Return what a repair renewed; where that is open the row says so and is not used."""
        renewed = self.renews.get(fold(word)) or RENEWS_BY_WORD.get(fold(word), "")
        if not renewed:
            self.row.add("history-repair-open", column, word=word[:80])
            # the word to be answered for may be the head of the column, not its cell
            self.row.findings[-1] = replace(self.row.findings[-1], value=word[:80])
        return renewed

    def _event(self, kind: str, o: Occasion | None) -> None:
        """Add an event with what is told of an occasion; None tells nothing of it."""
        names = {} if o is None else o.names
        told = {} if o is None else o.cells
        kept = [t for t in CELLS if t not in WHY or kind in ("failed", "removed")]
        cells = {CELLS[t]: told[t] for t in kept if told.get(t) is not None}
        shown = {CELLS[t]: names[t] for t in kept if t in names}
        if o is not None:
            shown["kind"] = o.column
        if kind == "meter-changed" and self.rules.after_change == "total":
            cells["new_reading_hours"] = cells.get("hours")
        self.out.append(ToldEvent({"kind": kind, **cells}, shown))
