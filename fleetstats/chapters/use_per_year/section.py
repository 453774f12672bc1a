"""Use per year: a sentence on little and much use, and the clock of each cause."""

from __future__ import annotations

from fleetstats.chapters.use_per_year.values import CauseClock, UsePerYear
from fleetstats.chapters.use_per_year.words import WORDS, say_clocks, say_times
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section
from fleetstats.document.table_of import col, table_of


def compose_use(use: UsePerYear) -> Section:
    """Return the section on use per year and on which clock each cause follows."""
    blocks: list[Block] = [say(use.sentence)]
    if use.clocks:
        tone = "caution" if use.cautions else "fact"
        blocks += [say(said, tone) for said in [say_clocks(use.clocks)] if said]
        blocks.append(
            table_of(
                use.clocks,
                key="which-clock",
                title="Hours, years, or both, by cause",
                columns=(
                    col("cause", "Cause", lambda c: c.cause or "all together"),
                    col("failed", "Failed", lambda c: c.n_failed, "count"),
                    col("word", "Described better by", _word),
                    col("times", "These records are", _times),
                    col("share", "Share of years that fits", _share),
                    col("shape_hours", "Shape by hours",
                        lambda c: c.clock.shape_hours if c.clock else None, "number"),
                    col("shape_years", "Shape by years",
                        lambda c: c.clock.shape_years if c.clock else None, "number"),
                ),
                see="On the scale between them 0 is hours alone and 1 years alone. A clock is "
                "named only where the other is at least twenty times less likely, more where "
                "several causes are compared.",
            )
        )  # fmt: skip
    return Section(key="use-per-year", title="Flown little or much", blocks=tuple(blocks))


def _word(c: CauseClock) -> str:
    return "too few failed" if c.clock is None else WORDS[c.clock.word]


def _times(c: CauseClock) -> str:
    return "" if c.clock is None else say_times(c.clock)


def _share(c: CauseClock) -> str:
    return "" if c.clock is None else f"{c.clock.low:.2f} to {c.clock.high:.2f}"
