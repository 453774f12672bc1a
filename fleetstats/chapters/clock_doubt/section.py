"""What a stated doubt of the clocks does to the claim, as a section of the report."""

from __future__ import annotations

from fleetstats.advice.advice import VERDICTS
from fleetstats.chapters.clock_doubt.values import ClockDoubt
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
    tone = "caution" if told.cautions else "fact"
    return Section(
        key="clock-doubt",
        title="What doubt of the clocks does to the claim",
        blocks=(Statement(text=told.sentence, tone=tone), table),
    )
