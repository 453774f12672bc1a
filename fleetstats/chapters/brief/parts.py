"""The parts of the brief, each from the room that its words belong to."""

from __future__ import annotations

from collections.abc import Sequence

from fleetstats.advice.results import Results
from fleetstats.chapters.answer import what_is_seen, what_tells_more, which_first
from fleetstats.chapters.brief.cut import LONGEST, LONGEST_STEP, ROOM, clip, fit, fit_rows, say_more
from fleetstats.chapters.brief.words import who_asks
from fleetstats.chapters.decision import review_sentence, stop_sentence
from fleetstats.chapters.departures import departure_lines
from fleetstats.chapters.plan import Plan
from fleetstats.chapters.weakest import Weakest
from fleetstats.document.brief import BriefPart
from fleetstats.document.cells import column_head, drop_empty, is_number, show_cell
from fleetstats.document.document import Section, Statement, Table
from fleetstats.document.population_words import say_sum_of_built
from fleetstats.document.references import point
from fleetstats.vocabulary.cautions import CAUTIONS, FIRST, rank_of

ALL_CAUTIONS = "“Cautions that apply to this report”"
"""Where every caution stands, with its figure and limit."""

CARRIED = ("beside-weakest", "beside-not-examined")
"""Sections beside the answer whose words the brief takes from the same values."""


def behind_part(results: Results) -> BriefPart:
    """Return what stands behind the answer: who asks, engines, hours, failures, reach."""
    built = say_sum_of_built(results.built.funnel)
    rows = [("Asked by", who_asks(results))]
    rows += [("Seen", text) for _, text in what_is_seen(results)]
    if built:
        rows.append(("Engines", f"{built}."))
    rows.append(("Reach", results.advice.horizon.sentence))
    rows.append(("Hints", results.built.trouble.sentence))
    return BriefPart(
        key="behind",
        title="What stands behind it",
        rows=tuple((a, clip(b)) for a, b in rows if b),
    )


def weakest_part(results: Results) -> BriefPart | None:
    """Return the weakest points in numbers, worst first."""
    told = results.chapters.get("weakest")
    if not isinstance(told, Weakest):
        return None
    return BriefPart(
        key="weakest",
        title="The weakest points",
        lines=tuple(clip(p.sentence) for p in told.points) or (told.sentence,),
        listed=bool(told.points),
        tables=("first-weakest",) if told.points else (),
    )


def not_examined_part(results: Results) -> BriefPart | None:
    """Return what these records and settings left unexamined."""
    told = results.chapters.get("weakest")
    if not isinstance(told, Weakest) or not told.not_examined:
        return None
    unseen = [g.sentence for g in told.not_examined]
    lines, left = fit(unseen, ROOM["not-examined"], LONGEST_STEP)
    return BriefPart(
        key="not-examined",
        title="What was not examined",
        lines=lines,
        listed=True,
        more=say_more(left, "the table of this part"),
        tables=("first-not-examined",),
    )


def first_cautions_part(results: Results) -> BriefPart | None:
    """Return the cautions that may turn the answer, each with what to do about it."""
    told, cures = [], set()
    for c in results.advice.cautions:
        if rank_of(c.code) == FIRST:
            cure = CAUTIONS[c.code].cure
            told.append(c.text if cure in cures else f"{c.text} {cure}")
            cures.add(cure)
    return _caution_part("first-cautions", "Before this answer is used", told)


def cautions_part(results: Results) -> BriefPart | None:
    """Return the cautions that say under what conditions the answer holds."""
    told = [c for c in results.advice.cautions if rank_of(c.code) != FIRST]
    return _caution_part("cautions", "Further cautions", [c.text for c in told])


def _caution_part(key: str, title: str, told: Sequence[str]) -> BriefPart | None:
    if not told:
        return None
    lines, left = fit(list(dict.fromkeys(told)), ROOM[key])
    return BriefPart(
        key=key, title=title, lines=lines, listed=True, more=say_more(left, ALL_CAUTIONS)
    )


def departures_part(results: Results) -> BriefPart | None:
    """Return every departure from a default in a line, those that can turn the verdict first."""
    told = departure_lines(results)
    if not told:
        return None
    lines, left = fit(told, ROOM["departures"])
    where = point("departures", otherwise="the report")
    return BriefPart(
        key="departures",
        title="What was chosen other than by default",
        lines=lines,
        listed=True,
        more=say_more(left, where) or f"More: {where}",
    )


def group_part(section: Section) -> tuple[BriefPart, bool]:
    """Return a section that stands beside the answer as a part, and whether it is there whole."""
    lines = tuple(b.text for b in section.blocks if isinstance(b, Statement))
    tables = [b for b in section.blocks if isinstance(b, Table)]
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    numbers: tuple[bool, ...] = ()
    left = 0
    if tables:
        t = drop_empty(tables[0])
        head = tuple(column_head(c) for c in t.columns)
        numbers = tuple(is_number(c) for c in t.columns)
        shown = [
            tuple(show_cell(x, c) for x, c in zip(row, t.columns, strict=True)) for row in t.rows
        ]
        rows, left = fit_rows(shown)
    part = BriefPart(
        key=section.key,
        title=section.title,
        lines=tuple(clip(x, LONGEST) for x in lines),
        head=head,
        rows=rows,
        numbers=numbers,
        more=say_more(left, point("pooling", "change", "claim", otherwise="the report")),
        tables=tuple(t.key for t in tables),
    )
    return part, not left and len(tables) <= 1


def next_part(results: Results) -> BriefPart | None:
    """Return what to do next: which engines first, what the plan asks, what would tell more."""
    rows = [text for _, text in which_first(results)]
    plan, v = results.chapters.get("plan"), results.advice.verdict
    if isinstance(plan, Plan) and v is not None:
        if v.word == "supported":
            rows.append(plan.steps_sentence)
        elif v.word == "not-yet-shown" and not v.refused:
            rows.append(plan.sentence)
    if results.advice.wear_out.settle:
        rows += [text for _, text in what_tells_more(results)]
    lines, left = fit([x for x in rows if x], ROOM["next"], LONGEST_STEP)
    if not lines:
        return None
    where = point("plan", "decision", otherwise="the report")
    return BriefPart(
        key="next", title="What to do next", lines=lines, listed=True, more=say_more(left, where)
    )


def ends_part(results: Results) -> BriefPart:
    """Return stop rule and review date."""
    return BriefPart(
        key="ends",
        title="What ends it, and when it is looked at again",
        lines=(stop_sentence(results), review_sentence(results)),
    )
