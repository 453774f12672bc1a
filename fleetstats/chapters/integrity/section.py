"""Chapter: signs in the records that ask for a second look."""

from __future__ import annotations

from fleetstats.chapters.integrity.values import SIGNS, Integrity
from fleetstats.chapters.integrity.words import effect_words, what_words
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of
from fleetstats.vocabulary.wording import count, listed


def compose_integrity(x: Integrity) -> Section:
    """Return the chapter from its value."""
    found = [s for s in x.signs if s.n_found]
    asked = "" if x.claimed_h is None else f" by {x.claimed_h:,.0f} h"
    blocks: list[Block] = [
        say(x.sentence, "caution" if x.cautions else "fact"),
        table_of(
            x.signs,
            key="integrity-signs",
            title="Signs that were looked for",
            columns=(
                col("sign", "Sign", lambda s: SIGNS[s.key]),
                col("looked", "Looked at", lambda s: count(
                    s.n_looked, s.unit, "lives" if s.unit == "life" else "")),
                col("n", "Found", lambda s: s.n_found, "count"),
                col("found", "What was found", lambda s: s.found or "nothing"),
                col("expected", "Expected", lambda s: s.expected),
                col("sources", "In", lambda s: listed(list(s.sources))),
            ),
            see="Rows set aside bear no sign here; the audit tells of them: "
            + point("data", otherwise="see the account of the rows") + ".",
        ),
    ]  # fmt: skip
    if found:
        blocks.append(
            table_of(
                found,
                key="integrity-effects",
                title="What those rows could do to the answer",
                columns=(
                    col("sign", "Sign", lambda s: SIGNS[s.key]),
                    col("left_out", f"Without them{asked}", lambda s: effect_words(x, s.left_out)),
                    col("failed", f"Running ones failed{asked}",
                        lambda s: effect_words(x, s.failed)),
                    col("what", "Besides", what_words),
                    col("places", "Where to look", lambda s: _places(s.places, len(s.places),
                                                                     s.n_found)),
                ),
                see=f"As recorded: {effect_words(x, x.as_recorded)}. Engines that drop off a list "
                "and sources that cannot be right: "
                + point("sources", "pooling", otherwise="not worked out here") + ".",
            )
        )  # fmt: skip
    return Section(
        key="integrity", title="Signs in the records that ask for a second look",
        blocks=tuple(blocks),
    )  # fmt: skip


def _places(places: tuple[str, ...], shown: int, n: int) -> str:
    if not places:
        return ""
    more = f" and {n - shown:,} more" if n > shown else ""
    return "; ".join(places) + more
