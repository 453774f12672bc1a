"""Chapter: do removals look like hidden failures?"""

from __future__ import annotations

from collections.abc import Callable

from fleetstats.chapters.removals.values import EXPECTED, RemovalKind, Removals
from fleetstats.chapters.removals.words import aged_kinds, early_words
from fleetstats.document.document import Block, Explain, Section, Statement, Table
from fleetstats.document.glossary import explain
from fleetstats.document.table_of import ColumnOf, col, table_of
from fleetstats.vocabulary.limits import BEFORE_CLAIM, HONEST_P
from fleetstats.vocabulary.wording import stated


def compose_removals(r: Removals) -> Section:
    """Return the section on removals."""
    aged = aged_kinds(r)
    blocks: list[Block] = [
        Statement(text=r.sentence, tone="caution" if aged else "fact"),
        Explain(
            term="random removal",
            text="A prop strike, a sale or an accident should befall an engine at any age alike. "
            "Where such removals come with age, as wear-out does, some may be failures under "
            "another name.",
        ),
        _kinds(r),
    ]
    blocks += [Statement(text=c.text, tone="caution") for c in r.cautions]
    blocks += [Statement(text=t, tone="fact") for t in _by_expectation(r)]
    if any(k.source is not None for k in r.kinds):
        blocks.append(_sources(r))
    blocks.append(explain("p-value"))
    return Section(
        key="removals", title="Do removals look like hidden failures?", blocks=tuple(blocks)
    )


def _by_expectation(r: Removals) -> list[str]:
    """Say why some kinds are not tested by their ages."""
    out = []
    planned = next((k for k in r.kinds if k.expect == "planned"), None)
    if planned is not None:
        text = (
            "Planned overhauls are expected to be aged, so their ages are not tested; what is "
            "compared is whether one source has more of them than the others at equal ages."
        )
        if r.claimed_h is not None:
            text += (
                f" {early_words(planned)} came before {stated(BEFORE_CLAIM)} of the claimed hours."
            )
        out.append(text)
    if any(k.expect == "other-failure" for k in r.kinds):
        out.append(
            "Failures from other causes wear out in their own way, so their ages are not tested; "
            "what they would change if they were in question stands in the table."
        )
    if any(k.expect == "lost" for k in r.kinds):
        out.append(
            "Engines lost to follow-up often leave the list on one day, whatever their hours; "
            "whether older ones do so more is asked by date, source by source."
        )
    return out


def _kinds(r: Removals) -> Table:
    level = f"{100 * r.level:g} %"
    limits = (r.accepted_failure,)
    columns: list[ColumnOf[RemovalKind]] = [
        col("kind", "Removal", lambda k: _name(k)),
        col("expected", "Ages expected", lambda k: EXPECTED[k.expect]),
        col("n", "Lives", lambda k: k.n, "count"),
        col("median", "Median age", lambda k: k.median_h, "hours"),
        col("shape", "Shape", _shape("shape"), "number", beside=(1.0,)),
        col("shape-low", f"Low ({level})", _shape("low"), "number",
            beside=(1.0,)),
        col("shape-high", f"High ({level})", _shape("high"), "number",
            beside=(1.0,)),
        col("p", "Chance of ages so late", lambda k: k.p_held, "number", beside=(HONEST_P,),
            help="If they came at any age alike; held over all tests of this chapter."),
        col("hours-all", "Hours shown if all failed", lambda k: k.hours_all, "hours"),
    ]  # fmt: skip
    if r.claimed_h is not None:
        columns += [
            col("failure-all", "Failure by the claim, if all failed", lambda k: k.failure_high_all,
                "percent", edge="high", beside=limits),
            col("to-turn", "Failures that turn the claim", lambda k: k.to_turn, "count",
                help="Least number of them that, failed at their own hours, leave a supported "
                "claim no longer supported; empty where none do, or it is not supported."),
        ]  # fmt: skip
    as_is = f"As recorded: {r.hours:,.0f} h shown for {stated(r.target)}"
    return table_of(
        r.kinds,
        key="removals",
        title="Ends that were not counted as the failure in question",
        columns=columns,
        see=f"A shape above 1 says that the removal comes with age. {as_is}.",
    )


def _shape(part: str) -> Callable[[RemovalKind], float | None]:
    """Return what reads one figure of the shape; none where lives are too few for one."""
    return lambda k: None if k.ageing is None else getattr(k.ageing, part)


def _name(k: RemovalKind) -> str:
    return k.kind if k.expect != "other-failure" else f"{k.kind} (another cause)"


def _sources(r: Removals) -> Table:
    level = f"{100 * r.level:g} %"
    lines = [(k, k.source) for k in r.kinds if k.source is not None]
    return table_of(
        lines,
        key="removals-by-source",
        title="The source with most of each kind beside the others at equal ages",
        columns=(
            col("kind", "Removal", lambda x: x[0].kind),
            col("source", "Source", lambda x: x[1].source),
            col("n", "Its lives", lambda x: x[1].beside.n, "count"),
            col("expected", "Expected", lambda x: x[1].beside.expected, "number"),
            col("ratio-low", f"Ratio, low ({level})", lambda x: x[1].beside.low, "number",
                beside=(1.0,)),
            col("ratio-high", f"Ratio, high ({level})", lambda x: x[1].beside.high, "number",
                beside=(1.0,)),
            col("p", "Chance of so many", lambda x: x[1].p_held, "number", beside=(HONEST_P,),
                help="If all sources had one rate; held over all tests of this chapter."),
        ),
        see="Expected is at the rate of the other sources, age by age.",
    )  # fmt: skip
