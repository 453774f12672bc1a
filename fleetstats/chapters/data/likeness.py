"""Do the records mean the same? Who left because due, who because ill, and what each source tells.

An overhaul that was done because hours were due censors fairly; one that was done because the
engine looked bad does not. And a source that writes no finding at all may have none, or may not
write them: the reader has to ask before its lives are taken with the others.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from fleetstats.advice.results import Results
from fleetstats.core.units import text_percent
from fleetstats.document.blocks import METERS, say
from fleetstats.document.document import Block, Statement, Table
from fleetstats.document.table_of import col, table_of
from fleetstats.records.life import LifeRow
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.unknown import cause_known
from fleetstats.vocabulary.wording import count, listed

UNKNOWN_SHARE = 0.05
"""Share of ended lives without a known reason above which the sentence is a caution."""

LIVES_TO_EXPECT = 20
"""Lives of a source from which the lack of a kind of ending is worth a question."""

TOLD = {
    "failed": "failures in service",
    "found-at-check": "faults found at a check",
    "removed-finding": "removals on a finding",
    "lost": "engines lost to follow-up",
}
"""Kinds of ending that a source may simply not write down."""


def compose_likeness(results: Results) -> list[Block]:
    """Return who left why, and what each source tells; nothing of sources where there is one."""
    rows = results.built.rows
    out: list[Block] = []
    left = say_left(rows, results.settings)
    if left is not None:
        out.append(left)
    if len({r.source for r in rows}) > 1:
        out.append(source_table(results))
        out += [say(text, "missing") for text in unwritten(rows)]
    return out


def reason_of(row: LifeRow, settings: Settings) -> str:
    """Return why a life without a failure ended: due, ill, outside, lost, unknown; "" if neither.

    Running engines, failures and engines that go on after a modification give "".
    """
    if row.ending in (*FAILING_ENDINGS, "running", "modified"):
        return ""
    if row.ending == "planned-overhaul":
        return "due"
    if row.ending == "removed-finding":
        return "ill"
    if row.ending == "lost":
        return "lost"
    named = {fold(c) for c in settings.question.censoring_causes}
    return "outside" if cause_known(row.cause) and fold(row.cause) in named else "unknown"


def say_left(rows: Iterable[LifeRow], settings: Settings) -> Statement | None:
    """Return who left because due and who because ill; None when none left without failing."""
    n: dict[str, int] = defaultdict(int)
    clean = opened = 0
    for r in rows:
        why = reason_of(r, settings)
        if why:
            n[why] += r.count
        if why == "due" and r.found_at_teardown is not None:
            opened += r.count
            clean += 0 if r.found_at_teardown else r.count
    total = sum(n.values())
    if not total:
        return None
    words = (
        ("due", "for overhaul because hours or calendar were due"),
        ("ill", "because of a finding"),
        ("outside", "for a cause outside its own life (sold, struck, stored …)"),
        ("lost", "lost to follow-up"),
        ("unknown", "for a reason that the records do not give"),
    )
    parts = [f"{n[k]:,} {text}" for k, text in words if n[k]]
    text = f"Of {count(total, 'life', 'lives')} that ended without failing: {listed(parts)}."
    if n["due"]:
        unopened = n["due"] - opened
        text += (
            f" Of those called due {opened:,} were taken apart, {clean:,} of them clean; for "
            f"{unopened:,} no teardown is recorded, so that they were not ill rests on one word."
            if unopened
            else f" All of those called due were taken apart, {clean:,} of them clean."
        )
    odd = (n["unknown"] + n["lost"]) / total
    if odd > 0:
        text += f" The reason is unknown for {text_percent(odd)}."
    return say(text, "caution" if odd > UNKNOWN_SHARE else "fact")


def source_table(results: Results) -> Table:
    """Return what each source writes down, source by source."""
    rows = results.built.rows
    verdicts = results.built.verdicts
    by: dict[str, dict[str, float]] = {}
    meters: dict[str, set[str]] = defaultdict(set)
    for r, v in zip(rows, verdicts, strict=True):
        mine = by.setdefault(r.source, defaultdict(float))
        meters[r.source].add(METERS.get(r.meter, r.meter) or "not said")
        mine["lives"] += r.count
        mine[v.counts_as] += r.count
        if r.ending in FAILING_ENDINGS:
            mine["failures"] += r.count
            mine["confirmed"] += r.count if r.confirmed is not None else 0
            mine["caused"] += r.count if r.cause else 0
        mine["lost"] += r.count if r.ending == "lost" else 0

    def share(mine: dict[str, float], what: str) -> float | None:
        return mine[what] / mine["failures"] if mine["failures"] else None

    return table_of(
        sorted(by.items()),
        key="definitions-by-source",
        title="What each source writes down",
        columns=(
            col("source", "Source", lambda x: x[0] or "not said"),
            col("clock", "Clock", lambda x: listed(sorted(meters[x[0]]))),
            col("lives", "Lives", lambda x: x[1]["lives"], "count"),
            col("failure", "Failures in question", lambda x: x[1]["failure"], "count"),
            col("competing", "Of another cause", lambda x: x[1]["competing"], "count"),
            col("finding", "Left on a finding", lambda x: x[1]["finding"], "count"),
            col("lost", "Lost", lambda x: x[1]["lost"], "count"),
            col("caused", "Failures with a cause", lambda x: share(x[1], "caused"), "percent"),
            col(
                "confirmed", "Said whether confirmed", lambda x: share(x[1], "confirmed"), "percent"
            ),
        ),
        see="Sources may be taken together only if they count the same things on the same clock.",
    )


def unwritten(rows: Iterable[LifeRow]) -> list[str]:
    """Return a question for each source that tells of no ending of a kind that others tell of."""
    lives: dict[str, int] = defaultdict(int)
    told: dict[str, set[str]] = defaultdict(set)
    for r in rows:
        lives[r.source] += r.count
        told[r.ending].add(r.source)
    out = []
    for source in sorted(lives):
        if lives[source] < LIVES_TO_EXPECT:
            continue
        silent = [text for ending, text in TOLD.items() if told[ending] and source not in
                  told[ending]]  # fmt: skip
        if silent:
            out.append(
                f"{source or 'A source without a name'} tells of no {listed(silent, 'or')} in "
                f"{lives[source]:,} lives, where others do: were there none, or are they not "
                "written down?"
            )
    return out
