"""Chapter: what may be claimed at the claimed hours, and what may not be said."""

from __future__ import annotations

from fleetstats.advice.advice import say_word
from fleetstats.advice.results import Results
from fleetstats.chapters.claim.compute import Claim
from fleetstats.chapters.claim.words import nothing_quoted
from fleetstats.document.blocks import axis_words
from fleetstats.document.caption_words import say_claim_shapes, say_fan, say_groups
from fleetstats.document.document import (
    Axis,
    Block,
    Column,
    Explain,
    Figure,
    Layer,
    Panel,
    Section,
    Statement,
    Table,
)
from fleetstats.document.glossary import explain
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
                    _vline(
                        "horizon", f"evidence ends {claim.supported_h:,.0f} h", claim.supported_h
                    ),
                    _vline("claim", f"claimed {claim.hours:,.0f} h", claim.hours),
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


def _vline(role: str, label: str, hours: float) -> Layer:
    import numpy as np

    return Layer(kind="vline", role=role, label=label, x=np.array([hours]))


def _shapes(claim: Claim) -> Table:
    accepted = (1.0 - claim.target,)
    rows = [
        (
            r.shape,
            r.equivalents,
            r.failure_high,
            r.shown_to_h,
            *r.failure_if_hidden,
            r.hidden_to_break,
            r.reporting_share if r.reporting_share <= 1.0 else None,
            "least favourable of these" if r.least_favourable else "",
        )
        for r in claim.rows
    ]
    return Table(
        key="claim-by-shape",
        title=f"The claim at {claim.hours:,.0f} h for each assumed shape",
        columns=(
            Column(key="shape", title="Weibull shape", kind="number"),
            Column(key="equivalents", title="worth in whole lives", kind="count"),
            Column(
                key="failure_high",
                title="fail by then, at most",
                kind="percent",
                edge="high",
                beside=accepted,
            ),
            Column(
                key="shown_to_h",
                title=f"{stated(claim.target)} reach",
                kind="hours",
                beside=(claim.hours,),
            ),
            Column(
                key="if_1_hidden",
                title="at most, if 1 is hidden",
                kind="percent",
                edge="high",
                beside=accepted,
            ),
            Column(
                key="if_2_hidden",
                title="if 2 are hidden",
                kind="percent",
                edge="high",
                beside=accepted,
            ),
            Column(
                key="if_3_hidden",
                title="if 3 are hidden",
                kind="percent",
                edge="high",
                beside=accepted,
            ),
            Column(key="hidden_to_break", title="hidden failures that break it", kind="count"),
            Column(
                key="reporting_share",
                title="share that must be reported",
                kind="percent",
                edge="high",
                help="Blank: not shown even if all failures are reported.",
            ),
            Column(key="note", title="note"),
        ),
        rows=tuple(rows),
        see=(
            f"{say_claim_shapes([r.failure_high for r in claim.rows], accepted[0])} Each bound is "
            f"one-sided at {100 * claim.confidence:g} %."
        ),
    )


def _beside(claim: Claim) -> list[Block]:
    out: list[Block] = []
    accepted = 1.0 - claim.target
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
        ("engine followed from new", "engines followed from new")
        if claim.counts_engines
        else ("life followed from its start", "lives followed from their start")
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
    return Table(
        key="first-failures",
        title="Early faults, chance or wear-out? What the ages of the failures say",
        columns=(
            Column(key="pattern", title="kind of failure"),
            Column(key="shape", title="shape", kind="number"),
            Column(key="so_early", title="chance of ages so early", kind="percent"),
            Column(key="so_late", title="chance of ages so late", kind="percent"),
            Column(key="support", title="likelihood beside chance failures", kind="number"),
        ),
        rows=tuple(
            (p.name, p.shape, p.chance_so_early, p.chance_so_late, p.support)
            for p in claim.first.patterns
        ),
        see=(
            "A small chance speaks against that kind of failure; if none is below 5 %, the ages do "
            "not tell them apart."
        ),
    )


def _subsets(claim: Claim) -> Table:
    alike = claim.counts_engines
    lives = () if alike else (Column(key="lives", title="lives", kind="count"),)
    return Table(
        key="claim-by-group",
        title="The same claim for each group by itself",
        columns=(
            Column(key="group", title="grouped by"),
            Column(key="name", title="group"),
            Column(key="engines", title="engines", kind="count"),
            *lives,
            Column(key="failed", title="failed", kind="count"),
            Column(key="exposure_h", title="hours seen", kind="hours"),
            Column(key="reached", title=f"{'' if alike else 'lives '}at {claim.hours:,.0f} h",
                   kind="count"),
            Column(key="failure_low", title="fail by then, at least", kind="percent", edge="low",
                   beside=(1.0 - claim.target,)),
            Column(key="failure_high", title="at most", kind="percent", edge="high",
                   beside=(1.0 - claim.target,)),
            Column(key="shown_to_h", title=f"{stated(claim.target)} reach", kind="hours",
                   beside=(claim.hours,)),
            Column(key="supported_h", title="evidence ends", kind="hours"),
            Column(key="state", title="claim"),
        ),
        rows=tuple(
            (
                s.group, s.name, s.n_engines, *(() if alike else (s.n_lives,)), s.n_failed,
                s.exposure_h, s.n_reached, s.failure_low, s.failure_high, s.shown_to_h,
                s.supported_h, say_word(s.state, extrapolated=s.extrapolated),
            )
            for s in claim.subsets
        ),
        see=(
            "Each group is judged as the whole fleet is, from its own lives. "
            + say_groups(
                [s.failure_high for s in claim.subsets],
                claim.failure_high,
                sum(s.state != "supported" for s in claim.subsets),
            )
        ),
    )  # fmt: skip
