"""Section on lives after overhaul beside first lives."""

from __future__ import annotations

from fleetstats.chapters.later_lives.values import LaterLives
from fleetstats.core.units import text_hours
from fleetstats.document.blocks import say
from fleetstats.document.caption_words import say_carried
from fleetstats.document.document import Block, Section
from fleetstats.document.table_of import col, table_of


def compose_later_lives(later: LaterLives) -> Section:
    """Return the ratio of lives, and what a renewal in part would mean."""
    alike = later.ratio.verdict == "inside"
    blocks: list[Block] = [say(later.sentence, "fact" if alike else "caution")]
    if later.carried:
        best = max(c.log_likelihood for c in later.carried)
        blocks.append(
            table_of(
                later.carried,
                key="carried-age",
                title="If overhaul renews only in part",
                columns=(
                    col(
                        "share", "Share of earlier hours kept as age", lambda c: c.share, "percent"
                    ),
                    col("shape", "Shape", lambda c: c.shape, "number"),
                    col(
                        "life_h",
                        f"Reached by {100 * later.target:g} % of new engines",
                        lambda c: c.life_h,
                        "hours",
                    ),
                    col(
                        "fit",
                        "Log likelihood below the best",
                        lambda c: best - c.log_likelihood,
                        "number",
                    ),
                ),
                see=(
                    say_carried([best - c.log_likelihood for c in later.carried])
                    + (
                        f" Hours beyond {text_hours(later.horizon_h)}, where the evidence ends, "
                        "are extrapolation."
                        if any(c.life_h > later.horizon_h for c in later.carried)
                        else ""
                    )
                ),
            )
        )
    return Section(key="later-lives", title="After overhaul, as good as new?", blocks=tuple(blocks))
