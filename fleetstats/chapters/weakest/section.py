"""The weakest points and what was not examined, to stand beside the answer."""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.weakest.values import Weakest, WeakPoint
from fleetstats.core.units import text_hours, text_percent
from fleetstats.document.blocks import facts, say
from fleetstats.document.document import Block, Section
from fleetstats.document.table_of import col, table_of
from fleetstats.vocabulary.wording import count, stated

MOST_MOVED = 10.0
"""Times the distance from which on no more is told: so far out the scale tells nothing more."""


def compose_weakest(results: Results) -> tuple[Section, ...]:
    """Return the two parts; nothing where the chapter was not worked out."""
    told = results.chapters.get("weakest")
    if not isinstance(told, Weakest):
        return ()
    blocks: list[Block] = [say(told.sentence)]
    if told.points:
        blocks.append(
            table_of(
                told.points,
                key="first-weakest",
                title="The weakest points of the answer",
                columns=(
                    col("point", "Point", lambda p: p.sentence),
                    col("figure", "Figure", figure_words),
                    col("limit", "Limit", limit_words),
                    col("moved", "Covers", moved_words),
                ),
                see=told.scale,
            )
        )
    out = [Section(key="beside-weakest", title="The weakest points", blocks=tuple(blocks))]
    if told.not_examined:
        lines = facts("first-not-examined", "What was not examined",
                      [(g.name, g.sentence) for g in told.not_examined])  # fmt: skip
        out.append(Section(key="beside-not-examined", title="What was not examined",
                           blocks=(lines,)))  # fmt: skip
    return tuple(out)


def figure_words(p: WeakPoint) -> str:
    """Say the figure of a point in its unit."""
    return _in_unit(p.figure, p)


def limit_words(p: WeakPoint) -> str:
    """Say the limit of a point in its unit."""
    if p.unit == "chance" and p.key != "public-rate":
        return stated(p.limit)
    return _in_unit(p.limit, p)


def moved_words(p: WeakPoint) -> str:
    """Say how much of the distance a point covers; one that leads away from it covers none."""
    if p.moved < 0.0:
        return "none: further off"
    if p.moved > MOST_MOVED:
        return f"over {100 * MOST_MOVED:,.0f} %"
    return f"{100 * p.moved:,.0f} %"


def _in_unit(x: float, p: WeakPoint) -> str:
    if p.unit == "chance":
        return text_percent(x)
    if p.unit == "hours":
        return text_hours(x)
    return count(round(x, 1), p.unit.removesuffix("s"))
