"""Section: whom to ask for a fresh reading."""

from __future__ import annotations

from fleetstats.chapters.calls.values import CallList
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section
from fleetstats.document.table_of import col, table_of


def compose_calls(calls: CallList) -> Section:
    """Return what calls would show, and the first of them."""
    n = 0 if calls.together is None else calls.together.n
    accepted = (1.0 - calls.target,)
    blocks: list[Block] = [say(calls.sentence, "fact")]
    blocks.append(
        table_of(
            calls.calls[:n],
            key="calls",
            title="Calls that would move the bound most, made together",
            columns=(
                col("call", "call", lambda c: c.call, "count"),
                col("name", "engine", lambda c: c.name),
                col("source", "reported by", lambda c: c.source),
                col("unread_h", "hours not read", lambda c: c.unread_h, "hours"),
                col("chance_bad", "chance that it failed since", lambda c: c.chance_bad, "percent"),
                col(
                    "high_if_good",
                    "bound after this call and those before, without bad news",
                    lambda c: c.high_if_good,
                    "percent",
                    edge="high",
                    beside=accepted,
                ),
                col(
                    "bad_so_far",
                    "chance of bad news so far",
                    lambda c: c.chance_bad_so_far,
                    "percent",
                ),
            ),
            see="'fleetstats calls' prints the whole list with boxes for the answers.",
        )
    )
    blocks += [say(text, "assumption") for text in calls.assumptions]
    return Section(key="calls", title="Whom to ask for a fresh reading", blocks=tuple(blocks))
