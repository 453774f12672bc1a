"""Returns merged: one engine told by several senders becomes one, with a trace of each step.

Engines are matched by their id in the form in which ids are compared. Reports that fit together
are merged; those that do not are conflicts, listed side by side with a proposal that the study
file accepts or overrules. Two failures of engines whose ids differ by one slip are shown as a
pair and left as they are.
"""

from __future__ import annotations

from bisect import insort
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from fleetstats.core.gate import an, gate
from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.merging.alike import reach_h
from fleetstats.records.merging.matching import (
    Strand,
    find_strand,
    in_time,
    lay_in_order,
    sender,
)
from fleetstats.records.merging.merge_lives import (
    OPEN,
    Disagreement,
    Joined,
    join_lives,
    span,
)
from fleetstats.records.merging.merge_score import Score, Scorer, hours_alike
from fleetstats.records.near_ids import near_pairs
from fleetstats.records.rules import Ruling, judge_ending
from fleetstats.records.set_aside import SetAside
from fleetstats.records.treated import pool_finding
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.finding import Finding, Origin
from fleetstats.vocabulary.findings.reasons import say_aside
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id

MOST_NEIGHBOURS = 200
"""Events at nearly the same hours that are compared with each other."""

SAME_AS = "same as"
"""How a decision names the engine that a misspelt id belongs to: these words, then its id."""


@value
class Pair(Value):
    """Two reports that may tell of one event: where, how alike, and what was made of them."""

    engine: str
    other_engine: str
    first: str
    second: str
    score: Score
    one_event: bool

    @property
    def bits(self) -> float:
        """Return the agreement score in bits."""
        return self.score.total


@value
class Conflict(Value):
    """Two reports that cannot both be right.

    `decided` is ``"proposed"``, ``"separate"``, a row, or empty where the study has not decided.
    """

    engine: str
    first: str
    second: str
    points: tuple[Disagreement, ...]
    decided: str = ""
    reason: str = ""


@value
class MergeStep(Value):
    """One report merged into another: what came from where.

    `merged` is empty where a life was only laid end to end with the one beside it.
    """

    engine: str
    kept: str
    merged: str
    taken: tuple[str, ...]


@value
class Merged(Value):
    """Lives after merging.

    Parameters
    ----------
    rows : tuple of LifeRow
        The lives, in the order of the files.
    pairs : tuple of Pair
        Reports that are or may be one event, most alike first.
    conflicts : tuple of Conflict
        Reports that disagree, with what was decided.
    trace : tuple of MergeStep
        Each merging.
    findings : tuple of Finding
    set_aside : tuple of SetAside
        Lines of reports that were merged into another, or set aside in a conflict.
    n_events_before, n_events_after : int
        Failures of any kind before and after.
    """

    rows: tuple[LifeRow, ...]
    pairs: tuple[Pair, ...]
    conflicts: tuple[Conflict, ...]
    trace: tuple[MergeStep, ...]
    findings: tuple[Finding, ...]
    set_aside: tuple[SetAside, ...]
    n_events_before: int
    n_events_after: int

    _not_in_dict = ("rows",)


@gate(settings=an(Settings, "Give the settings of a study, as fs.read_study(folder).settings."))
def merge_returns(rows: Sequence[LifeRow], settings: Settings) -> Merged:
    """Merge what several returns tell of the same engine.

    Only lives from different files or sources are merged; what one return says twice is left to
    the audit, as are rows that stand for several engines.

    Parameters
    ----------
    rows : sequence of LifeRow
        Lives on the standard clock.
    settings : Settings
        `merge` sets what is alike and holds the decisions; ``[treat] merge-conflict`` says what
        is done about conflicts not decided: ``"stop"`` (as it stands), ``"accept"`` for every
        proposal, ``"set-aside"`` for both reports; but a failure in question stands whichever.

    Returns
    -------
    Merged

    Examples
    --------
    >>> import fleetstats as fs
    >>> study = fs.read_study("datasets/tow-clubs")
    >>> merged = fs.merge_returns(fs.read_records(study).rows, study.settings)
    >>> merged.n_events_before, merged.n_events_after
    (35, 35)
    """
    return _Merger(rows, settings).run()


class _Merger:
    """The state of one merging."""

    def __init__(self, rows: Sequence[LifeRow], settings: Settings) -> None:
        self.settings = settings
        self.merge = settings.merge
        self.decisions = {normalise_id(d["engine"]): d for d in self.merge.decisions}
        self.used: set[str] = set()
        self.rows = [self._rename(r) for r in rows]
        self.ended = [r for r in self.rows if r.ending not in OPEN and r.count == 1]
        self.scorer = Scorer(self.ended, self.merge)
        self.pairs: list[Pair] = []
        self.conflicts: list[Conflict] = []
        self.trace: list[MergeStep] = []
        self.findings: list[Finding] = []
        self.set_aside: list[SetAside] = []

    def run(self) -> Merged:
        by_engine: dict[str, list[LifeRow]] = {}
        for r in self.rows:
            by_engine.setdefault(r.engine_id if r.count == 1 else f"#{id(r)}", []).append(r)
        out: list[LifeRow] = []
        for engine, group in by_engine.items():
            alone = len(group) == 1 or not self.merge.returns
            out += group if alone else self._engine(engine, group)
        self._near_pairs()
        self._unused()
        order = {(r.origin.file, r.origin.sheet): i for i, r in enumerate(reversed(self.rows))}
        out.sort(key=lambda r: -order.get((r.origin.file, r.origin.sheet), 0))
        self.pairs.sort(key=lambda p: -p.bits)
        return Merged(
            rows=tuple(out),
            pairs=tuple(self.pairs),
            conflicts=tuple(self.conflicts),
            trace=tuple(self.trace),
            findings=tuple(self.findings),
            set_aside=tuple(self.set_aside),
            n_events_before=sum(r.count for r in self.rows if r.ending in FAILING_ENDINGS),
            n_events_after=sum(r.count for r in out if r.ending in FAILING_ENDINGS),
        )

    def _rename(self, row: LifeRow) -> LifeRow:
        d = self.decisions.get(row.engine_id)
        told = [] if d is None else d["take"].split(maxsplit=2)
        if len(told) == 3 and fold(" ".join(told[:2])) == SAME_AS:
            self.used.add(row.engine_id)
            return replace(row, engine=told[2].strip())
        return row

    def _engine(self, engine: str, group: list[LifeRow]) -> list[LifeRow]:
        if len(group) < 2 or len({sender(r) for r in group}) < 2:
            return group
        decision = self.decisions.get(engine)
        if decision is not None and decision["take"] == "separate":
            self.used.add(engine)
            return self._separate(group, decision["reason"])
        out: list[Strand] = []
        queue = sorted((Strand(row=r, reports=(r,)) for r in group), key=in_time)
        while queue:
            new = queue.pop(0)
            at = find_strand(out, new, self.merge, queue)
            if at is None:
                out.append(new)
                continue
            stands, again = self._two(engine, out[at], new)
            out[at : at + 1] = stands
            # what is left of a life, or two become one, may be what yet another report tells
            for strand in again:
                insort(queue, strand, key=in_time)
        laid = lay_in_order(out)
        self.trace += [
            MergeStep(engine=s.row.engine, kept=str(s.row.origin), merged="", taken=(step,))
            for s, step in laid
            if step
        ]
        return [s.row for s, _ in laid]

    def _separate(self, group: list[LifeRow], reason: str) -> list[LifeRow]:
        first, second = group[0], next(r for r in group if sender(r) != sender(group[0]))
        self.conflicts.append(
            Conflict(
                engine=first.engine,
                first=str(first.origin),
                second=str(second.origin),
                points=(
                    Disagreement(
                        field="engine",
                        first=first.engine,
                        second=second.engine,
                        proposed="one engine",
                    ),
                ),
                decided="separate",
                reason=reason,
            )
        )
        return [replace(r, engine=f"{r.engine} ({r.source or r.origin.file})") for r in group]

    def _two(self, engine: str, strand: Strand, new: Strand) -> tuple[list[Strand], list[Strand]]:
        """Return what stands of two lives that share hours, and what to look at again."""
        a, b, both = strand.row, new.row, (*strand.reports, *new.reports)
        joined = join_lives(a, b, self.merge, self._rule)
        if a.ending not in OPEN and b.ending not in OPEN and hours_alike(a, b, self.merge):
            score = self.scorer.score(a, b, near_id=False)
            self._pair(a, b, score, one_event=joined.same_event)
        if not joined.points:
            return self._take(joined, strand, new)
        decision = self.decisions.get(engine)
        take = "" if decision is None else decision["take"]
        reason = "" if decision is None else decision["reason"]
        if decision is not None:
            self.used.add(engine)
        named = next((r for r in (a, b) if str(r.origin) == take), None)
        if take and named is None and take != "proposed":
            self._find("merge-decision-unknown", b, name=a.engine, take=take)
            take = ""
        self.conflicts.append(
            Conflict(
                engine=a.engine,
                first=str(a.origin),
                second=str(b.origin),
                points=joined.points,
                decided=take,
                reason=reason,
            )
        )
        if named is not None:
            other = b if named is a else a
            self._aside(other, "merge-decided", other=named.origin)
            return [], [Strand(row=named, reports=both)]
        if not take and self._undecided(a, b, joined).action == "set-aside":
            failing = [r for r in (a, b) if self._rule(r).counts_as == "failure"]
            if len(failing) < 2:
                for r in (a, b):
                    if r not in failing:
                        self._aside(r, "merge-conflict")
                return [], [Strand(row=r, reports=both) for r in failing]
        return self._take(joined, strand, new)

    def _rule(self, row: LifeRow) -> Ruling:
        return judge_ending(row, self.settings)

    def _undecided(self, a: LifeRow, b: LifeRow, joined: Joined) -> Finding:
        told = "; ".join(
            f"{p.field}: {p.first} in {a.origin}, {p.second} in {b.origin} (proposed: {p.proposed})"
            for p in joined.points
        )
        return self._find("merge-conflict", b, name=a.engine, told=told)

    def _take(
        self, joined: Joined, strand: Strand, new: Strand
    ) -> tuple[list[Strand], list[Strand]]:
        if joined.gone is None:
            # both ends stand, each with those who told of it
            first, later = (
                replace(new if r.origin == new.row.origin else strand, row=r) for r in joined.rows
            )
            return [first], [later]
        kept = joined.rows[0]
        self._aside(joined.gone, "merged", other=kept.origin)
        self.trace.append(
            MergeStep(
                engine=kept.engine,
                kept=str(kept.origin),
                merged=str(joined.gone.origin),
                taken=joined.steps,
            )
        )
        return [], [Strand(row=kept, reports=(*strand.reports, *new.reports))]

    def _pair(self, a: LifeRow, b: LifeRow, score: Score, *, one_event: bool) -> None:
        self.pairs.append(
            Pair(
                engine=a.engine,
                other_engine=b.engine,
                first=str(a.origin),
                second=str(b.origin),
                score=score,
                one_event=one_event,
            )
        )

    def _near_pairs(self) -> None:
        """Show events of engines whose ids differ by one slip, at hours and dates alike."""
        ended = sorted(self.ended, key=lambda r: span(r)[1])
        hours = np.array([span(r)[1] for r in ended])
        reach = reach_h(hours, self.merge)
        ids = [r.engine_id for r in ended]
        for i, j in sorted(near_pairs(ids, hours, reach, MOST_NEIGHBOURS)):
            a, b = ended[i], ended[j]
            score = self.scorer.score(a, b, near_id=True)
            if score.total >= self.merge.score_least:
                self._pair(a, b, score, one_event=False)

    def _unused(self) -> None:
        for engine, d in self.decisions.items():
            if engine in self.used:
                continue
            row = next((r for r in self.rows if r.engine_id == engine), None)
            origin = Origin(file="") if row is None else row.origin
            self.findings.append(
                pool_finding(
                    "merge-decision-unused",
                    origin,
                    self.settings,
                    engine=d["engine"],
                    column="engine",
                )
            )

    def _find(self, key: str, row: LifeRow, **fields: Any) -> Finding:
        f = pool_finding(
            key, row.origin, self.settings, engine=row.engine, column="engine",
            value=row.engine, **fields,
        )  # fmt: skip
        self.findings.append(f)
        return f

    def _aside(self, row: LifeRow, reason: str, **fields: Any) -> None:
        self.set_aside += [
            SetAside(
                file=file,
                sheet=sheet,
                row=n,
                reason=reason,
                message=say_aside(reason, **fields),
                into=str(fields.get("other", "")),
                engine=row.engine,
                source=row.source,
            )
            for file, sheet, n in row.lines
        ]
