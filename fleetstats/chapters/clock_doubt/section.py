"""What a stated doubt of the clocks does to the claim, as a section of the report."""

from __future__ import annotations

from fleetstats.advice.advice import VERDICTS
from fleetstats.chapters.clock_doubt.values import ClockDoubt
from fleetstats.chapters.clock_doubt.words import say_doubt, say_whose
from fleetstats.document.document import Section, Statement
from fleetstats.document.table_of import col, table_of


def compose_clock_doubt(told: ClockDoubt) -> Section:
    """Return the sentence, and the answers with and without the doubt."""
    lines = (
        ("every clock right", told.sure_failure_high, told.sure_life_low_h, told.sure_word),
        ("clocks in doubt as stated", told.failure_high, told.life_low_h, told.word),
    )
    table = table_of(
        lines,
        key="clock-doubt",
        title="The answers with and without the doubt of the clocks",
        columns=(
            col("clocks", "Clocks", lambda x: x[0]),
            col("failure_high", f"Fail by {told.hours:,.0f} h, at most", lambda x: x[1], "percent",
                edge="high", beside=(told.accepted,)),
            col("life_low", "Life, lower edge", lambda x: x[2], "hours"),
            col("verdict", "Verdict on the claim", lambda x: VERDICTS[x[3]]),
        ),
        see="Clocks are drawn from the doubt stated, and the bounds at all confidences mixed over "
        "them; an edge is never better than with every clock right. The edge holds over clocks "
        "like those stated: for clocks that are all off by more it holds less.",
    )  # fmt: skip
    whose = table_of(
        told.by_kind,
        key="clock-doubt-by-kind",
        title="Whose clocks are in doubt, and by how much",
        columns=(
            col("whose", "Clocks", lambda x: say_whose(x.whose)),
            col("doubt", "Doubt (log sd)", lambda x: say_doubt(x.low, x.high)),
            col("engines", "Engines", lambda x: x.engines, "count"),
        ),
        see="What is stated of a single engine goes before what is stated of its kind of meter, "
        "and that before the study's one doubt. The part that clocks have in common moves each in "
        "proportion to its own doubt; doubts that differ count as the one doubt of all that moves "
        "the answer as much, and never as more than the greatest.",
    )  # fmt: skip
    tone = "caution" if told.cautions else "fact"
    return Section(
        key="clock-doubt",
        title="What doubt of the clocks does to the claim",
        blocks=(
            Statement(text=told.sentence, tone=tone),
            table,
            *([whose] if told.by_kind else []),
        ),
    )
