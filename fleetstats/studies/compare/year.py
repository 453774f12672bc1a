"""What a comparison tells of the year between: last year graded, who left, who joined."""

from __future__ import annotations

import dataclasses

from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section
from fleetstats.document.table_of import col, table_of
from fleetstats.spells.build import Built
from fleetstats.studies.compare.attribution import Walk
from fleetstats.studies.compare.grade import grade_last_year
from fleetstats.studies.compare.grade_words import say_grade
from fleetstats.studies.compare.members import (
    WHY,
    engines_by_source,
    find_gone,
    find_new,
    say_gone,
    say_new,
)
from fleetstats.studies.main_results import fit_or_reason
from fleetstats.study.study import Study
from fleetstats.vocabulary.endings import ENDINGS

NO_GRADE = (
    "The earlier forecast cannot be graded: it needs both dates, engines that ran then, and the "
    "use of each."
)


def with_year(walk: Walk, old: Study, was: Built, new: Study, now: Built) -> Walk:
    """Return a walk with last year's grade, the engines that left and those that joined.

    Parameters
    ----------
    walk : Walk
        From the earlier study's advice to the later one's.
    old, new : Study
        The two studies.
    was, now : Built
        Their lives with the rows behind them.
    """
    then, until = old.settings.study.analysis_date, new.settings.study.analysis_date
    fit, _ = fit_or_reason(was.spells)
    gone, joined = find_gone(was.rows, now.rows), find_new(was.rows, now.rows, then)
    return dataclasses.replace(
        walk,
        last_year=grade_last_year(old, was, fit, now, until, walk.steps[0].figure),
        gone=gone,
        gone_said=say_gone(gone, engines_by_source(was.rows)),
        joined=joined,
        joined_said=say_new(joined),
    )


def year_lines(walk: Walk) -> tuple[str, ...]:
    """Return what a prompt tells of the year between."""
    graded = (NO_GRADE,) if walk.last_year is None else say_grade(walk.last_year)
    return (*graded, *walk.gone_said, *walk.joined_said)


def compose_year(walk: Walk) -> tuple[Section, ...]:
    """Return the sections on last year's grade, on engines that left and on those that joined."""
    sections = (
        Section(key="last-year", title="What became of last year's forecast", blocks=_grade(walk)),
        Section(key="engines-gone", title="Engines that are gone, by member", blocks=_gone(walk)),
        Section(key="engines-new", title="Engines that are new, and why", blocks=_joined(walk)),
    )
    return tuple(s for s in sections if s.blocks)


def _grade(walk: Walk) -> tuple[Block, ...]:
    if walk.last_year is None:
        return (say(NO_GRADE, "missing"),)
    first, *more = say_grade(walk.last_year)
    blocks: list[Block] = [say(first, "answer"), *(say(x) for x in more)]
    if any(c.redefines for c in walk.settings):
        blocks.append(
            say(
                "The later study counts by other definitions, so that what came is not quite what "
                "was forecast.",
                "caution",
            )
        )
    if walk.last_year.failures:
        blocks.append(
            table_of(
                walk.last_year.failures,
                key="new-failures",
                title="Failures since",
                columns=(
                    col("engine", "Engine", lambda f: f.engine),
                    col("day", "Date", lambda f: f.day),
                    col("hours", "Hours", lambda f: f.hours, "hours"),
                    col("cause", "Cause", lambda f: f.cause),
                    col("ran_then", "Forecast covered it", lambda f: _yes(f.ran_then)),
                    col("late", "Told late", lambda f: _yes(f.late)),
                    col("stop", "Stop rule counts it", lambda f: _yes(f.counts_for_stop)),
                ),
                see="“Told late”: it had come by the date of the earlier records.",
                folded=len(walk.last_year.failures) > 30,
            )
        )
    return tuple(blocks)


def _gone(walk: Walk) -> tuple[Block, ...]:
    if not walk.gone:
        return ()
    return (
        *(say(x) for x in walk.gone_said),
        table_of(
            walk.gone,
            key="engines-gone",
            title="Their last words",
            columns=(
                col("source", "Member", lambda x: x.source),
                col("engine", "Engine", lambda x: x.engine),
                col("last_date", "Last heard of", lambda x: x.last_date),
                col("hours", "Hours then", lambda x: x.hours, "hours"),
                col("ending", "As", lambda x: ENDINGS.get(x.ending, x.ending)),
                col("cause", "Cause", lambda x: x.cause),
                col("note", "Note", lambda x: x.note),
            ),
            see="Ask each member what became of them: an engine that failed and is no longer "
            "listed makes the rest look better than they are.",
            folded=len(walk.gone) > 30,
        ),
    )


def _joined(walk: Walk) -> tuple[Block, ...]:
    if not walk.joined:
        return ()
    return (
        *(say(x) for x in walk.joined_said),
        table_of(
            walk.joined,
            key="engines-new",
            title="Engines new to the records",
            columns=(
                col("engine", "Engine", lambda x: x.engine),
                col("source", "Member", lambda x: x.source),
                col("entry_h", "Followed from", lambda x: x.entry_h, "hours"),
                col("hours", "Hours now", lambda x: x.hours, "hours"),
                col("why", "Why new", lambda x: WHY[x.why]),
                col("since", "Since", lambda x: x.since),
            ),
            folded=len(walk.joined) > 30,
        ),
    )


def _yes(flag: bool) -> str:
    return "yes" if flag else "no"
