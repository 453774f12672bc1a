"""Where each row that hints at trouble was counted, and which failures no spell counts.

The ledger is made after the fact: it asks what became of a row, and changes nothing. So it holds
whatever maps, rules, merging or the audit did.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fleetstats.records.audit.finding import Audit
from fleetstats.records.clocks.clocks import stated_factors
from fleetstats.records.life import LifeRow, Line
from fleetstats.records.reading import Records
from fleetstats.records.rules import Ruling, internal_cause, judge_ending, judge_endings
from fleetstats.records.set_aside import SetAside
from fleetstats.records.trouble.hinted import Hinted
from fleetstats.records.trouble.scan import STAYED
from fleetstats.spells.days.since import OVER, UNDATED
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.splits import split_modified
from fleetstats.spells.trouble.values import Trouble, TroubleRow
from fleetstats.spells.trouble.words import HINTED
from fleetstats.study.settings import Settings
from fleetstats.study.study import Study
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id
from fleetstats.vocabulary.trouble import FAILURE
from fleetstats.vocabulary.unknown import cause_known

Judged = tuple[LifeRow, Ruling]
"""A life and what its ending counts as."""

Placed = tuple[TroubleRow, LeftOut | None]
"""A row of the ledger, and the failure in it that no spell counts, if there may be one."""

PLACE_OF = {
    "failure": "failure",
    "competing": "other",
    "finding": "finding",
    "excluded": "excluded",
    OVER: "over",
}
"""What an ending counts as, and the place of a row that tells of it."""

ENDINGS_OF_LOGS = ("failed", "removed", "overhauled", "retired", "lost", "teardown", "modified")
"""Events that tell of an end, and so belong to it."""

AS_ENDING = {e: e for e in (*FAILING_ENDINGS, "removed-finding")} | {"finding": "found-at-check"}
"""What a row set aside would have ended as, by its ending or the kind of its event; else failed."""

UNTOLD = "failure-or-not"
"""Reason of a row that does not say whether it tells of a failure."""

NO_HOURS = ("hours-missing", "log-hours-missing")
BAD_HOURS = (
    "hours-unreadable", "hours-impossible", "exit-before-entry", "log-hours-unreadable",
    "log-hours-impossible", "log-hours-backwards", "hours-backwards", "hours-exceed-calendar",
    "clock-without-factor",
)  # fmt: skip
"""Reasons of rows set aside whose hours are not known, or not to be believed."""


def ledger_of(
    study: Study, records: Records, audit: Audit, judged: Sequence[Judged] | None = None
) -> tuple[Trouble, tuple[LeftOut, ...]]:
    """Return the ledger of trouble, and the failures that no spell counts.

    Parameters
    ----------
    study : Study
        Its question says which failures are asked about.
    records, audit : Records, Audit
        What was read, and what became of every row; the audit may hold what stops a study.
    judged : sequence of (LifeRow, Ruling), optional
        The lives used, judged; worked out here where they are not at hand.
    """
    if judged is None:
        lives = [y for x in audit.used for y in split_modified(x)]
        judged = list(zip(lives, judge_endings(lives, study.settings), strict=True))
    clerk = Clerk(study.settings, records, audit, judged)
    placed = [clerk.place(h) for h in records.trouble]
    return Trouble(rows=tuple(r for r, _ in placed)), tuple(x for _, x in placed if x is not None)


def _lives_at(lines: set[Line], judged: Sequence[Judged]) -> dict[Line, list[Judged]]:
    """Return the lives that tell of lines, by line; a life of a log has many, of which few hint."""
    rows: dict[tuple[str, str], set[int]] = {}
    for file, sheet, n in lines:
        rows.setdefault((file, sheet), set()).add(n)
    out: dict[Line, list[Judged]] = {}
    for x, v in judged:
        at = x.origin
        own = x.rows if x.rows or x.elsewhere else (at.row or 0,)
        here = rows.get((at.file, at.sheet))
        if here is not None and not here.isdisjoint(own):
            for n in own:
                if n in here:
                    out.setdefault((at.file, at.sheet, n), []).append((x, v))
        for o in x.elsewhere:
            line = (o.file, o.sheet, o.row or 0)
            if line in lines:
                out.setdefault(line, []).append((x, v))
    return out


class Clerk:
    """What became of rows, looked up by where they stand."""

    def __init__(
        self, settings: Settings, records: Records, audit: Audit, judged: Sequence[Judged]
    ) -> None:
        self.settings = settings
        self.lives = _lives_at({(h.file, h.sheet, h.row) for h in records.trouble}, judged)
        self.aside = {(s.file, s.sheet, s.row): s for s in audit.set_aside}
        # of a row that tells of several lives a merge may take one
        self.in_part = {(s.file, s.sheet, s.row): s for s in records.set_aside}
        self.aside_at: dict[str, SetAside] = {}
        for s in audit.set_aside:
            self.note_aside(s)
        self.told_at = {str(h.origin) for h in records.trouble if h.failing}
        self.by_origin: dict[str, list[Judged]] = {}
        self.seen_h: dict[str, float] = {}
        self.no_rules = replace(settings, question=replace(settings.question, rules=()))
        for x, v in judged:
            self.by_origin.setdefault(str(x.origin), []).append((x, v))
            if x.ending in ("running", "lost", "modified") and x.count == 1:
                known = self.seen_h.get(x.engine_id, 0.0)
                self.seen_h[x.engine_id] = max(known, x.exit_h)
        self.oldest_h = max((x.exit_h for x in records.rows), default=0.0)
        self.factors = {m: f.factor for m, f in stated_factors(settings).items()}

    def note_aside(self, s: SetAside) -> None:
        """Remember a row set aside, so that one merged into it can be followed."""
        self.aside_at[str(Origin(file=s.file, row=s.row, sheet=s.sheet))] = s

    def place(self, h: Hinted) -> Placed:
        """Return where a row was counted, by what became of it."""
        key = (h.file, h.sheet, h.row)
        own = [p for p in self.lives.get(key, ()) if h.own(p[0])]
        if own:
            return self.in_life(h, own)
        return self.set_aside(h, self.aside.get(key) or self.in_part.get(key))

    # -- rows in lives ---------------------------------------------------------------------------

    def in_life(self, h: Hinted, own: Sequence[Judged]) -> Placed:
        """Return where a row of a life, or of several parts of one, was counted."""
        here = str(h.origin)
        life, v = next((p for p in own if str(p[0].origin) == here and p[1].counts_as in PLACE_OF),
                       own[-1])  # fmt: skip
        place, meaning = self.place_of(h, life, v), v.reason
        several = len(life.lines) > 1 or h.life_end_h is not None
        at_end = str(life.origin) == here and h.life_end_h is None
        ends = at_end or h.ending in ENDINGS_OF_LOGS
        led = h.ending == "finding" and life.ending in ("found-at-check", "removed-finding")
        if not ends and not led and several:
            stayed = h.ending in STAYED
            place = "finding" if stayed else "not-counted"
            meaning = f"{h.ending}; the engine {'stayed in service' if stayed else 'went on'}"
            return self._row(h, place, meaning), self._untold(h, place, life)
        hours = None if place == "not-counted" else life.exit_h
        row = self._row(h, place, f"{life.ending.replace('-', ' ')}: {meaning}", hours=hours)
        if place == "excluded" and self._asked(h, life):
            return row, self._left(h, self._exact(life), "is taken out by a rule")
        return row, self._untold(h, place, life)

    def place_of(self, h: Hinted, life: LifeRow, v: Ruling) -> str:
        """Return the place of a row that tells of the end of a life."""
        if v.counts_as not in ("censored", UNDATED):
            return PLACE_OF[v.counts_as]
        if v.rule:
            return "excluded"
        q = self.settings.question
        # a cause explains what a note says, not a column that tells of failures alone
        by_cause = not h.naming and fold(life.cause) in {fold(c) for c in q.censoring_causes}
        denied = life.confirmed is False or h.confirmed is False
        failing = life.ending in FAILING_ENDINGS or (denied and not h.naming)
        clean = life.found_at_teardown is False and life.confirmed is not True
        return "censored" if by_cause or failing or clean else "not-counted"

    def _untold(self, h: Hinted, place: str, life: LifeRow) -> LeftOut | None:
        """Return the failure that a row in a life may tell of beside the end of that life."""
        mapped = h.failing and life.ending not in (*FAILING_ENDINGS, "removed-finding")
        says = h.untold or mapped or h.grade == FAILURE
        if place != "not-counted" or not says or not self._asked(h, life):
            return None
        at = self._told(h)
        if at is not None and at <= life.exit_h:
            return self._left(h, (at, at), HINTED)
        if mapped:
            return self._left(h, self._exact(life), "is counted as another ending")
        return self._left(h, (0.0, life.exit_h), HINTED)

    # -- rows in no life -------------------------------------------------------------------------

    def set_aside(self, h: Hinted, s: SetAside | None) -> Placed:
        """Return where a row stands that is in no life."""
        reason = "" if s is None else s.reason
        meaning = (s.message or s.reason) if s is not None else "part of no life"
        exact = h.hours_h if reason not in (*NO_HOURS, *BAD_HOURS) and h.failing else None
        at = self._told(h) if h.told_h is not None else self._standard(h, exact)
        if s is not None and s.into:
            row = self._row(h, "merged", meaning, hours=at, into=s.into)
            if self._stands(h, s) or not self._may(h):
                return row, None
            return row, self._left(h, self._between(h, at, reason), "was dropped by a merge")
        row = self._row(h, "set-aside", meaning, hours=at)
        if not self._may(h, reason == UNTOLD) or reason == "example-row":
            return row, None
        why = (
            "has an ending that is not known" if h.unread
            else "has no hours" if reason in NO_HOURS or (h.hours_h is None and at is None)
            else "has hours that cannot be used" if reason in BAD_HOURS and at is None
            else "is set aside"
        )  # fmt: skip
        return row, self._left(h, self._between(h, at, reason), why)

    def _stands(self, h: Hinted, s: SetAside) -> bool:
        """Return whether the row that stands for one set aside tells of its failure too."""
        seen: set[str] = set()
        into = s.into
        while into not in self.by_origin and into not in seen and into in self.aside_at:
            seen.add(into)
            further = self.aside_at[into].into
            if not further:  # it is set aside itself, and is left out by its own words
                return into in self.told_at
            into = further
        kept = self.by_origin.get(into, [])
        if any(v.counts_as in ("failure", "excluded") for _, v in kept):
            return True
        told = any(v.counts_as != "censored" or x.ending in FAILING_ENDINGS for x, v in kept)
        same = {fold(x.cause) for x, _ in kept}
        return told and (not cause_known(h.cause) or fold(h.cause) in same)

    def _between(self, h: Hinted, at: float | None, reason: str) -> tuple[float, float]:
        """Return the hours between which a failure set aside can have happened."""
        if at is not None:
            return at, at
        low = self.seen_h.get(normalise_id(h.engine), 0.0) if h.failing else 0.0
        known = self._standard(h, h.hours_h) if reason not in BAD_HOURS else None
        if not h.failing and known is not None:
            return 0.0, known
        return low, max(self.oldest_h, low)

    # -- what both need --------------------------------------------------------------------------

    def _may(self, h: Hinted, untold: bool = False) -> bool:
        """Return whether a row in no life may tell of a failure in question."""
        return (h.grade == FAILURE or bool(h.untold) or untold) and self._asked(h, None)

    def _asked(self, h: Hinted, life: LifeRow | None) -> bool:
        """Return whether the failure, if it is one, would be one in question, rules aside."""
        q, part = self.settings.question, fold(self.settings.hours.component)
        if part and part not in (fold(h.cause), h.component):
            return False
        own = h.failing or internal_cause(h.cause, q)
        ending = AS_ENDING.get(h.ending, "failed")
        confirmed = h.confirmed if life is None else life.confirmed
        cause = (h.cause if life is None else life.cause or h.cause) if own else ""
        told = LifeRow(
            origin=h.origin, engine=h.engine, exit_h=1.0, ending=ending, cause=cause,
            confirmed=confirmed, source=h.source, build=h.build,
        )  # fmt: skip
        return judge_ending(told, self.no_rules).counts_as == "failure"

    def _told(self, h: Hinted) -> float | None:
        return self._standard(h, h.told_h)

    def _standard(self, h: Hinted, hours: float | None) -> float | None:
        """Return hours of the row's meter on the standard clock."""
        return None if hours is None else hours * self.factors.get(h.meter, 1.0)

    @staticmethod
    def _exact(life: LifeRow) -> tuple[float, float]:
        low = life.exit_h if life.exit_low_h is None else life.exit_low_h
        if life.ending == "found-at-check":
            low = max(life.last_good_h or life.entry_h, life.entry_h)
        return low, life.exit_h

    @staticmethod
    def _row(
        h: Hinted, place: str, meaning: str, *, hours: float | None = None, into: str = ""
    ) -> TroubleRow:
        return TroubleRow(
            file=h.file, row=h.row, sheet=h.sheet, engine=h.engine, source=h.source,
            columns=h.columns, words=h.words, meaning=meaning, place=place, into=into,
            hours=hours, count=h.count,
        )  # fmt: skip

    @staticmethod
    def _left(h: Hinted, between: tuple[float, float], reason: str) -> LeftOut:
        return LeftOut(
            file=h.file, row=h.row, low_h=between[0], high_h=between[1], reason=reason,
            engine=h.engine, source=h.source, build=h.build, cause=h.cause, count=h.count,
        )  # fmt: skip
