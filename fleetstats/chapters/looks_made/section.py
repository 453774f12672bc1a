"""Earlier looks: verdicts, dates, and what was changed between."""

from __future__ import annotations

from fleetstats.advice.advice import VERDICT_WORDS
from fleetstats.advice.results import Results
from fleetstats.chapters.looks_made.values import LooksMade
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section
from fleetstats.document.table_of import col, table_of


def compose_looks(results: Results) -> Section | None:
    """Return the looks made before this one; None where none is written down."""
    made = results.chapters.get("looks-made")
    if not isinstance(made, LooksMade):
        return None
    blocks: list[Block] = [say(x) for x in made.sentences]
    if made.earlier:
        blocks.append(
            table_of(
                made.earlier,
                key="looks-made",
                title="Looks made before this one",
                columns=(
                    col("number", "Look", lambda x: x.number, "count"),
                    col("date", "Records to", lambda x: x.date),
                    col("verb", "Run", lambda x: x.verb),
                    col("hours", "Hours asked", lambda x: x.hours, "hours"),
                    col("reliability", "Should reach them", lambda x: x.reliability, "percent"),
                    col("failed", "Failures", lambda x: x.failed, "count"),
                    col("exposure_h", "Engine hours", lambda x: x.exposure_h, "count"),
                    col("failure_high", "Fail by then, at most", lambda x: x.failure_high,
                        "percent"),
                    col("verdict", "Verdict", lambda x: VERDICT_WORDS.get(x.verdict, "–")),
                    col("plan_from_h", "Plan from", lambda x: x.plan_from_h, "hours"),
                    col("changed", "Changed since the look before", lambda x: x.changed),
                    col("report", "Report", lambda x: x.report),
                ),
                see="Looks at the same records under other settings count as looks too.",
                folded=len(made.earlier) > 12,
            )
        )  # fmt: skip
    blocks += [say(x, "caution") for x in (*made.flaws, *made.odd)]
    return Section(key="looks-made", title="Earlier looks at this fleet", blocks=tuple(blocks))
