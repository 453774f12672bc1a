"""The answers since some dates, as blocks of the part on sensitivity."""

from __future__ import annotations

from fleetstats.advice.advice import VERDICTS
from fleetstats.chapters.since.values import SinceRuns
from fleetstats.chapters.since.words import say_fewer
from fleetstats.document.blocks import say
from fleetstats.document.document import Block
from fleetstats.document.table_of import col, table_of
from fleetstats.document.words import say_range


def since_blocks(runs: SinceRuns) -> list[Block]:
    """Return the sentence and the table of conditions since a date."""
    whole = runs.answers[0]
    turned = any(a.verdict != whole.verdict for a in runs.answers)
    accepted = () if whole.accepted is None else (whole.accepted,)
    table = table_of(
        runs.answers,
        key="since",
        title="If only what happened after a date counted",
        columns=(
            col("run", "Counted", lambda a: a.run.name),
            col("lives", "Lives", lambda a: a.run.n_lives, "count"),
            col("failed", "Failures in question", lambda a: a.n_failed, "count"),
            col("exposure_h", "Hours at risk", lambda a: a.exposure_h, "hours"),
            col("supported_h", "Evidence to", lambda a: a.run.supported_h, "hours"),
            col("life", f"{whole.life.name}, band",
                lambda a: say_range(a.life, supported_to_h=a.run.supported_h)),
            *(
                (
                    col("failure_high", "Fail by the claim, at most", lambda a: a.failure_high,
                        "percent", edge="high", beside=accepted),
                    col("verdict", "Verdict on the claim", lambda a: VERDICTS[a.verdict]),
                )
                if whole.verdict
                else ()
            ),
        ),
        see="What came before a change says how engines were. With a date in study.since, or the "
        "option --since, every answer of the report counts only what came after it.",
    )  # fmt: skip
    said = [say(runs.sentence, "caution" if turned else "fact")]
    why = say_fewer(runs.answers)
    return [*said, *([say(why)] if why else []), table]
