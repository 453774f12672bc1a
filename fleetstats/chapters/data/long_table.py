"""Data and audit of a table read by chunks.

Rows by their reason, findings by kind, and what was not looked for.
"""

from __future__ import annotations

from fleetstats.advice.results import Results
from fleetstats.chapters.data.section import kinds_table, no_rows
from fleetstats.core.value import Value, value
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section, Table
from fleetstats.document.table_of import col, table_of
from fleetstats.spells.bulk.bulk import Bulk
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.findings import FINDINGS, meaning_of
from fleetstats.vocabulary.wording import count

CHAPTERS_LEFT_OUT: dict[str, tuple[str, ...]] = {
    "each engine by itself (outlook, forecast, checks and their interval, trends, bench)": (
        "outlook", "forecast", "backtest", "condition", "compliance", "check-interval", "trends",
        "bench", "stop-chance",
    ),
    "sources, builds, covariates and causes beside each other": (
        "pooling", "between-sources", "effects", "causes",
    ),
    "hours beside years, both ends of the clocks, earlier cut-off dates, growth, later lives and "
    "events that come again": (
        "calendar", "clock-range", "looking-back", "growth", "later-lives", "recurrence",
        "calendar-plane", "use-per-year",
    ),
    "what changed over the calendar, and answers since a date": ("change", "since"),
    "whether the verdict turns when one engine is left out": (),
    "whether removals and sources look as failures left out would, what no return told, signs for "
    "a second look, and whether lives were followed from their start": (
        "removals", "sources", "unreported", "integrity",
    ),
    "what may be hidden, fact by fact; the plan for more evidence, and whom to ask for it; answers "
    "at other settings; other routes and the libraries' own fits": (
        "hidden", "plan", "calls", "tabulated", "routes",
    ),
    "whether the failures follow the fitted curve, and what a doubt of the clocks moves": (
        "curve-fit", "clock-doubt",
    ),
    "fleets made up on this one's design": ("stress",),
    "the cautions that rest on any of these": (),
}  # fmt: skip
"""In words = keys of the chapters that a table read by chunks does not have."""

LEFT_OUT = tuple(CHAPTERS_LEFT_OUT)
"""What a table read by chunks does not have, in words."""


@value
class Pairing(Value):
    """How many rows the answers rest on, and the step in hours to which ages were rounded, if any.

    Rounding moves no age by more than half the step, and an interval's ends by a step at most.
    """

    n_rows: int
    rounded_to_h: float | None


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
