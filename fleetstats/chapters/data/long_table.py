"""Data and audit of a table read by chunks.

Rows by their reason, findings by kind, and what was not looked for.
"""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.data.sampled import SAMPLED, SampledChapters
from fleetstats.chapters.data.section import kinds_table, no_rows
from fleetstats.core.value import Value, value
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section, Table
from fleetstats.document.population_words import state_population
from fleetstats.document.table_of import col, table_of
from fleetstats.spells.bulk.bulk import Bulk
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.findings import FINDINGS, meaning_of
from fleetstats.vocabulary.wording import count

CHAPTERS_LEFT_OUT: dict[str, tuple[str, ...]] = {
    "events that come again, which a log tells": ("recurrence",),
    "what no return told, and signs for a second look": ("unreported", "integrity"),
    "whether the verdict turns when one engine is left out": (),
    "whom to ask for more evidence": ("calls",),
    "other routes and the libraries' own fits": ("routes",),
    "fleets made up on this one's design": ("stress",),
    "the cautions that rest on any of these": (),
}  # fmt: skip
"""In words = keys of the chapters that a table read by chunks does not have."""

REASONS = {
    "population": "it tells lives apart by what is said of each, and no row is kept.",
    "integrity": "it looks at each life beside its neighbours in the file, and no row is kept.",
    "unreported": "it sets what every source tells of an engine side by side, and no row is kept.",
    "routes": "the libraries that it asks take rows of single lives.",
    "calls": "it ranks every engine by its own last reading, and no row is kept.",
}
"""Why a chapter with a section of its own is not made of a table read by chunks."""

LEFT_OUT = tuple(CHAPTERS_LEFT_OUT)
"""What a table read by chunks does not have, in words."""

OF_SOME = (
    "Whether engines are old in years or stand idle is told of the lives looked at one by one."
)
"""Said where single lives are looked at, and not all of them."""

NOT_OF_SOME = (
    "Not looked at, since not every life is: whether lives told again under other ids, lives of "
    "far more hours a year than all others, or failures far below all others move the bound."
)
"""What is not told there, and is where every life is looked at."""

NOT_CUT = (
    "Where sources, builds and causes are compared, failures that no life counts need not cut a "
    "life of their own engine short: a bound of one of them that counts such failures may be "
    "kinder than that of the rows read whole."
)
"""Said where such failures cut lives, and those lives are compared in coarser steps."""


@value
class Pairing(Value):
    """How many rows the answers rest on, and the step in hours to which ages were rounded, if any.

    Rounding moves no age by more than half the step, and an interval's ends by a step at most.
    `compared_to_h` is the step to which they were rounded where sources, builds and causes are
    compared and for what lies ahead, if any.
    """

    n_rows: int
    rounded_to_h: float | None
    compared_to_h: float | None = None


def say_left_out(key: str, title: str) -> Section | None:
    """Return the section that says in its place why a chapter is left out.

    None where it has no section of its own.
    """
    reason = REASONS.get(key)
    if reason is None:
        return None
    said = say(f"Left out, since the table was read by chunks: {reason}", "missing")
    return Section(key=key, title=title, blocks=(said,))


def compose_bulk(results: Results) -> Section:
    """Return the account of rows, the findings by kind, and what is left out.

    Raises
    ------
    TypeError
        If the results are not of a table read by chunks.
    """
    bulk = results.chapters.get("bulk")
    if not isinstance(bulk, Bulk):
        raise TypeError("These results are not of a table read by chunks.")
    n_findings = sum(bulk.counts.values())
    blocks: list[Block] = [
        say(
            f"{bulk.n_read:,} rows read = {bulk.n_used:,} used + {bulk.n_set_aside:,} set aside"
            + (f"; {no_rows(bulk.n_blank)}." if bulk.n_blank else ".")
        ),
        say(
            f"{results.how_read.sentence} Equal lives were put together, "
            f"{count(len(bulk.spells), 'row')} for {bulk.spells.weight.sum():,.0f} lives of "
            f"{count(bulk.engines, 'engine')}, and "
            f"entries paired with ends in order, {count(len(results.spells), 'row')}. Counts at "
            "risk and likelihoods ask only when lives entered and how they ended, so this "
            "changes no answer."
        ),
    ]
    blocks += state_population(results.built.funnel, results.built.asserted)
    if bulk.reasons:
        blocks.append(_reasons(bulk))
    if n_findings:
        action = {f.code: f.action for f in bulk.findings}
        counts = {(FINDINGS[k].severity, k, action.get(k, "")): n for k, n in bulk.counts.items()}
        blocks += [kinds_table(counts), _first(bulk.findings, n_findings)]
    pairing = results.chapters.get("pairing")
    step = pairing.rounded_to_h if isinstance(pairing, Pairing) else None
    if step is not None:
        blocks.append(
            say(
                f"The table's hours carry more digits than meters show. For the answers they were "
                f"rounded to {step:g} h, and below {1000 * step:g} h to four digits.",
                "assumption",
            )
        )
    coarse = pairing.compared_to_h if isinstance(pairing, Pairing) else None
    if coarse is not None:
        blocks.append(
            say(
                "Where sources, builds and causes are compared, and for what lies ahead, hours "
                f"were rounded to {coarse:g} h, so that no age moved by more than "
                f"{0.5 * coarse:g} h; a life shorter than a step counts as {coarse:g} h. The "
                "answer is not touched by it.",
                "assumption",
            )
        )
    if coarse is not None and any(x.life is not None for x in bulk.left_out):
        blocks.append(say(NOT_CUT, "missing"))
    sampled = results.chapters.get(SAMPLED)
    if isinstance(sampled, SampledChapters):
        blocks += [say(x, "assumption") for x in sampled.sentences]
        blocks += [say(OF_SOME, "assumption"), say(NOT_OF_SOME, "missing")]
    looked = "; ".join(bulk.not_looked_for)
    blocks += [
        say(f"Not looked for in a table read by chunks: {looked}.", "missing"),
        say(f"Not computed for a table read by chunks: {'; '.join(LEFT_OUT)}.", "missing"),
    ]
    return Section(key="data", title="Data and audit", blocks=tuple(blocks))


def _reasons(bulk: Bulk) -> Table:
    return table_of(
        bulk.reasons.items(),
        key="set-aside",
        title="Rows set aside",
        columns=(
            col("reason", "Reason", lambda x: x[0]),
            col("meaning", "In words", lambda x: meaning_of(x[0])),
            col("n", "Rows", lambda x: x[1], "count"),
        ),
        see="No row is dropped without being counted here.",
    )


def _first(findings: tuple[Finding, ...], n: int) -> Table:
    return table_of(
        findings,
        key="findings",
        title="The first findings of each kind",
        columns=(
            col("code", "Kind", lambda f: f.code),
            col("row", "Row", lambda f: f.row, "count"),
            col("column", "Column", lambda f: f.column),
            col("value", "Value", lambda f: f.value),
            col("message", "What is odd", lambda f: f.message),
            col("advice", "What to do", lambda f: f.advice),
        ),
        see=f"{len(findings):,} of {n:,} findings.",
        folded=True,
    )
