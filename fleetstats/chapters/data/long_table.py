"""Data and audit of a table read by chunks.

Rows by their reason, findings by kind, and what was not looked for.
"""

from __future__ import annotations

from collections.abc import Callable

from fleetstats.advice.results import Results
from fleetstats.chapters.data.section import kinds_table, no_rows
from fleetstats.core.value import Value, value
from fleetstats.document.blocks import say
from fleetstats.document.document import Block, Section, Table
from fleetstats.document.table_of import col, table_of
from fleetstats.records.condition.condition import CONDITION_SHAPES
from fleetstats.spells.bulk.bulk import Bulk
from fleetstats.study.study import Study
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.findings import FINDINGS, meaning_of
from fleetstats.vocabulary.wording import count

CHAPTERS_LEFT_OUT: dict[str, tuple[str, ...]] = {
    "checks, readings and bench runs beside the lives that they belong to, and the interval of "
    "checks": (
        "condition", "compliance", "check-interval", "trends", "bench",
    ),
    "covariates of each life": ("effects",),
    "hours beside years, both ends of the clocks, earlier cut-off dates, later lives and events "
    "that come again": (
        "calendar", "clock-range", "looking-back", "later-lives", "recurrence", "calendar-plane",
        "use-per-year", "backtest",
    ),
    "what changed over the calendar, so that what lies ahead rests on all years alike, and answers "
    "since a date": ("change", "since", "stop-chance"),
    "whether the verdict turns when one engine is left out": (),
    "whether removals look as failures left out would, what no return told, signs for a second "
    "look, and whether lives were followed from their start": (
        "removals", "unreported", "integrity",
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

_NEEDS_DATES = "it needs each life with its dates, and of a long table no row is kept."
_NEEDS_PAIRS = "it needs to know which end belongs to which entry, and the two were paired anew."
_NEEDS_ROUNDS = "it works the answers out again many times over all lives."

REASONS = {
    "population": "it tells lives apart by what is said of each, and no row is kept.",
    "check-interval": "it cuts each life at its own checks, and of a long table no row is kept.",
    "condition": "it puts checks beside the lives that they belong to, and no row is kept.",
    "trends": "it follows single engines from check to check.",
    "bench": "it puts bench runs beside the lives that they belong to, and no row is kept.",
    "effects": "it needs the covariates of each life, and of a long table no row is kept.",
    "calendar": _NEEDS_DATES,
    "calendar-plane": _NEEDS_DATES,
    "use-per-year": _NEEDS_DATES,
    "looking-back": _NEEDS_DATES,
    "change": _NEEDS_DATES,
    "later-lives": "it follows each engine from one life to the next, and no row is kept.",
    "clock-range": "it converts each life's hours anew, and of a long table no row is kept.",
    "clock-doubt": "it moves each life's hours by its own doubt, and no row is kept.",
    "integrity": "it looks at each life beside its neighbours in the file, and no row is kept.",
    "unreported": "it looks for engines of which nothing was told, by date, and no row is kept.",
    "removals": _NEEDS_PAIRS,
    "curve-fit": _NEEDS_PAIRS,
    "routes": "the libraries that it asks take rows of single lives.",
    "sensitivity": _NEEDS_ROUNDS,
    "hidden": _NEEDS_ROUNDS,
    "plan": _NEEDS_ROUNDS,
    "calls": _NEEDS_ROUNDS,
    "checks": "the programme of checks rests on the chapters of checks, which are left out.",
}
"""Why a chapter with a section of its own is not made of a table read by chunks."""

LEFT_OUT = tuple(CHAPTERS_LEFT_OUT)
"""What a table read by chunks does not have, in words."""


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


ASKS: dict[str, Callable[[Study], bool]] = {
    **dict.fromkeys(
        ("condition", "compliance", "trends", "bench", "checks"),
        lambda study: bool(study.of_shape(*CONDITION_SHAPES)),
    ),
    "effects": lambda study: bool(study.settings.groups.covariates),
    "clock-range": lambda study: bool(study.settings.hours.factors),
    "clock-doubt": lambda study: bool(study.settings.hours.factors),
}
"""Whether a study has what a chapter is about, where not every study has."""


def say_left_out(key: str, title: str, study: Study) -> Section | None:
    """Return the section that says in its place why a chapter is left out.

    None where the study has nothing that it would be about, or it has no section of its own.
    """
    reason, asked = REASONS.get(key), ASKS.get(key)
    if reason is None or (asked is not None and not asked(study)):
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
