"""The answer since a date beside that from all years, where the rate has changed."""

from __future__ import annotations

from fleetstats.advice.advice import say_word
from fleetstats.advice.results import Results
from fleetstats.chapters.change import Changed
from fleetstats.chapters.claim import Claim
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of
from fleetstats.vocabulary.capitals import capital

_Line = tuple[str, float, float, float, str]
"""For which years, failures, hours, at most how many fail by then, the verdict."""


def compose_since(results: Results) -> tuple[Section, ...]:
    """Return the answer since a rise beside all years; nothing where none is shown."""
    changed, claim = results.chapters.get("change"), results.chapters.get("claim")
    if not isinstance(changed, Changed) or changed.leads is None or not changed.leads.rose:
        return ()
    blocks: list[Block] = [say(changed.sentence, "caution")]
    since = changed.since
    if since is not None and isinstance(claim, Claim):
        s = results.spells
        lines: list[_Line] = [
            ("all years", s.n_failed, s.exposure_h, claim.failure_high,
             say_word(claim.state, extrapolated=claim.extrapolated, provisos=claim.provisos)),
            (f"since {since.day}", since.n_failed, since.exposure_h,
             since.failure_high, say_word(since.state, extrapolated=False)),
        ]  # fmt: skip
        blocks.append(
            table_of(
                lines,
                key="first-since",
                title=f"All years, and since the change alone, at {claim.hours:,.0f} h",
                columns=(
                    col("years", "From", lambda x: x[0]),
                    col("failed", "Failed", lambda x: x[1], "count"),
                    col("hours", "Hours at risk", lambda x: x[2], "hours"),
                    col("failure_high", "Fail by then, at most", lambda x: x[3], "percent",
                        edge="high", beside=(1.0 - claim.target,)),
                    col("state", "Claim", lambda x: x[4]),
                ),
                see="A life begun now meets the rate since the change, not that of all years. "
                + capital(point("change", otherwise="more is not worked out here")) + ".",
            )
        )  # fmt: skip
    return (Section(key="beside-since", title="All years, and since the change",
                    blocks=tuple(blocks)),)  # fmt: skip
