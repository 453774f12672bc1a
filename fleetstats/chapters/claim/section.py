"""Chapter: what may be claimed at the claimed hours, and what may not be said."""

from __future__ import annotations

from collections.abc import Callable

from fleetstats.advice.advice import say_word
from fleetstats.advice.doubts.words import say_assumed, say_prior_weight
from fleetstats.advice.results import Results
from fleetstats.chapters.claim.brochure import Brochure, write_brochure
from fleetstats.chapters.claim.values import Claim, ClaimRow, ClaimSubset
from fleetstats.chapters.claim.words import nothing_quoted
from fleetstats.document.blocks import axis_words, facts
from fleetstats.document.caption_words import say_claim_shapes, say_fan, say_groups
from fleetstats.document.document import (
    Axis,
    Block,
    Explain,
    Figure,
    Layer,
    Panel,
    Section,
    Statement,
    Table,
)
from fleetstats.document.glossary import explain
from fleetstats.document.layers import evidence_ends, mark_at
from fleetstats.document.table_of import ColumnOf, col, table_of
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.wording import at_most, count, stated


def compose_claim(results: Results) -> Section | None:
    """Return the chapter; None when the study claims no interval."""
    claim = results.chapters.get("claim")
    if not isinstance(claim, Claim):
        return None
    past = nothing_quoted(claim)
    tone = "extrapolation" if past else "answer"
    may = "May be said" if past else "May be quoted"
    blocks: list[Block] = [
        Statement(text=f"{may}: {claim.may_quote}", tone=tone),
        Statement(text=f"May not be quoted: {claim.may_not_quote}", tone="caution"),
        _for_print(write_brochure(claim, results.settings)),
        _figure(claim, axis_words(results)),
        _shapes(claim),
    ]
    blocks += _beside(claim)
    if claim.first is not None:
        blocks += [Statement(text=claim.first.sentence), _patterns(claim)]
    if claim.subsets:
        blocks.append(_subsets(claim))
    blocks += [
        Explain(
            term="worth in whole lives",
            text=(
                "An engine seen from 400 to 900 h tests part of a life. The parts are added up, "
                "each by the share of wear that falls in it at the assumed shape, and read as so "
                "many engines run from new to the claimed hours."
            ),
        ),
        Explain(
            term="one-sided upper bound",
            text=(
                "If the true chance were above the bound, records as good as these would turn up "
                f"in at most {100 * (1 - claim.confidence):.3g} of 100 such fleets."
            ),
        ),
    ]
    return Section(
        key="claim", title=f"What may be claimed at {claim.hours:,.0f} h", blocks=tuple(blocks)
    )


def _for_print(brochure: Brochure) -> Block:
    return facts(
        "for-print",
        "For a brochure",
        [
            ("May be printed", brochure.may or "Nothing about these hours."),
            ("Only with" if brochure.may else "Why", brochure.footnote),
            ("May not be printed", brochure.may_not),
        ],
        see="The sentence is short; its footnote belongs to it.",
    )


def _figure(claim: Claim, clock: str) -> Figure:
    accepted = 1.0 - claim.target
    return Figure(
        key="claim-bound",
        title="How many may fail by each age, at most",
        see=(say_fan(claim.curve_hours, claim.curve_best, claim.curve_worst, claim.supported_h)),
        alt=(
            f"Upper bound of the failure chance against hours for shapes {claim.rows[0].shape:g} "
            f"to {claim.rows[-1].shape:g}; at {claim.hours:,.0f} h the least favourable is "
            f"{at_most(claim.worst.failure_high, accepted)}, beside an accepted {stated(accepted)}."
        ),
        panels=(
            Panel(
                x=Axis(label=clock, unit="h", low=0.0),
                y=Axis(label="upper bound of the chance of failure", unit="%", low=0.0),
                layers=(
                    Layer(
                        kind="ribbon",
                        role="band",
                        label="range over shapes",
                        x=claim.curve_hours,
                        low=100.0 * claim.curve_best,
                        high=100.0 * claim.curve_worst,
                        extrapolated_from=claim.supported_h,
                    ),
                    Layer(
                        kind="line",
                        role="estimate",
                        label="least favourable shape",
                        x=claim.curve_hours,
                        y=100.0 * claim.curve_worst,
                        extrapolated_from=claim.supported_h,
                    ),
                    evidence_ends(claim.supported_h),
                    mark_at("claim", f"claimed {claim.hours:,.0f} h", claim.hours),
                    Layer(
                        kind="hline",
                        role="target",
                        label=f"accepted {stated(accepted)}",
                        y=claim.curve_worst[:1] * 0.0 + 100.0 * accepted,
                    ),
                ),
            ),
        ),
    )


def _shapes(claim: Claim) -> Table:
    accepted = (1.0 - claim.target,)

    def bound(key: str, title: str, cell: Callable[[ClaimRow], float | None]) -> ColumnOf[ClaimRow]:
        return col(key, title, cell, "percent", edge="high", beside=accepted)

    return table_of(
        claim.rows,
        key="claim-by-shape",
        title=f"The claim at {claim.hours:,.0f} h for each assumed shape",
        columns=(
            col("shape", "Weibull shape", lambda r: r.shape, "number"),
            col("equivalents", "worth in whole lives", lambda r: r.equivalents, "count"),
            bound("failure_high", "fail by then, at most", lambda r: r.failure_high),
            col(
                "shown_to_h",
                f"{stated(claim.target)} reach",
                lambda r: r.shown_to_h,
                "hours",
                beside=(claim.hours,),
            ),
            bound("if_1_hidden", "at most, if 1 is hidden", lambda r: r.failure_if_hidden[0]),
            bound("if_2_hidden", "if 2 are hidden", lambda r: r.failure_if_hidden[1]),
            bound("if_3_hidden", "if 3 are hidden", lambda r: r.failure_if_hidden[2]),
            col(
                "hidden_to_break",
                "hidden failures that break it",
                lambda r: r.hidden_to_break,
                "count",
            ),
            col(
                "reporting_share",
                "share that must be reported",
                lambda r: r.reporting_share if r.reporting_share <= 1.0 else None,
                "percent",
                edge="high",
                help="Blank: not shown even if all failures are reported.",
            ),
            col(
                "note", "note", lambda r: "least favourable of these" if r.least_favourable else ""
            ),
        ),
        see=(
            f"{say_claim_shapes([r.failure_high for r in claim.rows], accepted[0])} Each bound is "
            f"one-sided at {100 * claim.confidence:g} %."
            + (f" {capital(claim.left_out)}, and no row counts them." if claim.n_left_out else "")
        ),
    )


def _beside(claim: Claim) -> list[Block]:
    out: list[Block] = []
    accepted = 1.0 - claim.target
    if claim.prior_weight is not None:
        out.append(Statement(text=say_prior_weight(claim.prior_weight, accepted), tone="caution"))
    if claim.failure_high_as_read is not None:
        said = say_assumed(claim.exposure_h, claim.assumed_h, claim.failure_high_as_read, accepted)
        out.append(Statement(text=said, tone="caution"))
    if claim.prior.low is not None:
        most = at_most(1 - claim.prior.low, accepted)
        out.append(
            Statement(
                text=(
                    f"Under the stated prior on the shape alone, at most {most} "
                    f"fail by {claim.hours:,.0f} h, with the same confidence."
                ),
                tone="assumption",
            )
        )
        out.append(explain("prior"))
    whole = (
        ("engine that counts as followed from new", "engines that count as followed from new")
        if claim.counts_engines
        else (
            "life that counts as followed from its start",
            "lives that count as followed from their start",
        )
    )
    if claim.no_shape is None:
        out.append(
            Statement(
                text=(
                    f"Without any assumption on the shape nothing can be said: no {whole[0]} has "
                    f"passed {claim.hours:,.0f} h or failed before."
                ),
                tone="missing",
            )
        )
    else:
        n, high = claim.no_shape
        out.append(
            Statement(
                text=(
                    "Without any assumption on the shape only the "
                    f"{count(n, whole[0], whole[1])} that passed {claim.hours:,.0f} h or failed "
                    f"before it {'counts' if n == 1 else 'count'}: at most "
                    f"{at_most(high, accepted)} fail by then."
                )
            )
        )
    return out


def _patterns(claim: Claim) -> Table:
    if claim.first is None:
        raise ValueError("No first failures to show.")
    return table_of(
        claim.first.patterns,
        key="first-failures",
        title="Early faults, chance or wear-out? What the ages of the failures say",
        columns=(
            col("pattern", "kind of failure", lambda p: p.name),
            col("shape", "shape", lambda p: p.shape, "number"),
            col("so_early", "chance of ages so early", lambda p: p.chance_so_early, "percent"),
            col("so_late", "chance of ages so late", lambda p: p.chance_so_late, "percent"),
            col("support", "likelihood beside chance failures", lambda p: p.support, "number"),
        ),
        see=(
            "A small chance speaks against that kind of failure; if none is below 5 %, the ages do "
            "not tell them apart."
        ),
    )


def _with_left_out(claim: Claim, accepted: tuple[float, ...]) -> tuple[ColumnOf[ClaimSubset], ...]:
    """Return the column of bounds that count failures left out; none where none is."""
    if not claim.n_left_out:
        return ()
    return (
        col(
            "failure_high_with_left_out",
            "at most, with failures left out",
            lambda s: s.failure_high_with_left_out,
            "percent",
            edge="high",
            beside=accepted,
            help="Those of no known group count for each.",
        ),
    )


def _subsets(claim: Claim) -> Table:
    alike = claim.counts_engines
    accepted = (1.0 - claim.target,)
    return table_of(
        claim.subsets,
        key="claim-by-group",
        title="The same claim for each group by itself",
        columns=(
            col("group", "grouped by", lambda s: s.group),
            col("name", "group", lambda s: s.name),
            col("engines", "engines", lambda s: s.n_engines, "count"),
            *(() if alike else (col("lives", "lives", lambda s: s.n_lives, "count"),)),
            col("failed", "failed", lambda s: s.n_failed, "count"),
            col("exposure_h", "hours seen", lambda s: s.exposure_h, "hours"),
            col(
                "reached",
                f"{'' if alike else 'lives '}at {claim.hours:,.0f} h",
                lambda s: s.n_reached,
                "count",
            ),
            col(
                "failure_low",
                "fail by then, at least",
                lambda s: s.failure_low,
                "percent",
                edge="low",
                beside=accepted,
            ),
            col(
                "failure_high",
                "at most",
                lambda s: s.failure_high,
                "percent",
                edge="high",
                beside=accepted,
            ),
            *_with_left_out(claim, accepted),
            col(
                "shown_to_h",
                f"{stated(claim.target)} reach",
                lambda s: s.shown_to_h,
                "hours",
                beside=(claim.hours,),
            ),
            col("supported_h", "evidence ends", lambda s: s.supported_h, "hours"),
            col(
                "state",
                "claim",
                lambda s: say_word(s.state, extrapolated=s.extrapolated, provisos=claim.provisos),
            ),
        ),
        see=(
            "Each group is judged as the whole fleet is, from its own lives. "
            + say_groups(
                [s.failure_high for s in claim.subsets],
                claim.failure_high,
                sum(s.state != "supported" for s in claim.subsets),
            )
        ),
    )
