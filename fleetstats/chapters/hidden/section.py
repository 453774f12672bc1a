"""Chapter: what is hidden, and how much of it the advice can bear."""

from __future__ import annotations

import numpy as np

from fleetstats.chapters.hidden.values import AXES, Hidden
from fleetstats.core.units import text_number, text_percent
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
from fleetstats.document.layers import evidence_ends, mark_at
from fleetstats.document.table_of import col, table_of
from fleetstats.vocabulary.wording import at_most, count, hours_down, hours_exact, stated


def hidden_section(hidden: Hidden) -> Section:
    """Return the chapter from its value alone."""
    blocks: list[Block] = [
        Statement(text=hidden.sentence, tone="answer" if hidden.state == "answered" else "missing")
    ]
    if hidden.base_rate is not None:
        tone = "caution" if hidden.base_rate.state == "far-fewer" else "fact"
        blocks += [Statement(text=hidden.base_rate.sentence, tone=tone), _base_rate(hidden)]
    if hidden.tornado:
        blocks.append(_tornado(hidden))
    if hidden.untold:
        blocks.append(Statement(text=hidden.untold, tone="fact"))
    blocks += [Statement(text=t, tone="fact") for t in _tipping(hidden)]
    if hidden.scenarios:
        blocks.append(_scenarios(hidden))
    if hidden.not_supposed:
        blocks.append(Statement(text=hidden.not_supposed, tone="missing"))
    blocks.append(
        Explain(
            term="tipping point",
            text=(
                "The least amount of something unknown that would turn the verdict. A claim that "
                "one hidden failure turns is weaker than one that needs ten."
            ),
        )
    )
    if hidden.findings is not None:
        blocks.append(
            Explain(
                term="outer band",
                text=(
                    "Engines removed because of a finding might have failed at once or never. The "
                    "band counts all of them as failed and none of them; the truth lies between, "
                    "whatever the reason for removal (Peterson 1976)."
                ),
            )
        )
    return Section(key="hidden", title="What the records may hide", blocks=tuple(blocks))


def _tornado(hidden: Hidden) -> Figure:
    bars = hidden.tornado
    y = np.arange(len(bars), dtype=float)
    layers = [
        Layer(
            kind="spans",
            role="band",
            label="hours if it were so",
            x=np.array([b.low_h for b in bars]),
            x2=np.array([b.high_h for b in bars]),
            y=y,
            names=tuple(f"{b.low_label} … {b.high_label}" for b in bars),
        ),
        mark_at("estimate", "as recorded", hidden.base_hours),
        evidence_ends(hidden.supported_h),
    ]
    if hidden.claimed_h is not None:
        layers.append(mark_at("claim", f"claimed {hidden.claimed_h:,.0f} h", hidden.claimed_h))
    worst = bars[0]
    return Figure(
        key="hidden-tornado",
        title=f"How far each doubt moves the hours that {stated(hidden.target)} reach",
        see=f"The longest bar on top is the doubt that matters most: {worst.title}.",
        alt=(
            "One horizontal bar for each doubt, from the least to the most hours shown, longest on "
            f"top; {worst.title} runs from {worst.low_h:,.0f} to {worst.high_h:,.0f} h beside "
            f"{hidden.base_hours:,.0f} h as recorded."
        ),
        panels=(
            Panel(
                x=Axis(label="hours shown for the target reliability", unit="h"),
                y=Axis(label="", scale="category", categories=tuple(b.title for b in bars)),
                layers=tuple(layers),
            ),
        ),
        height=1.2 + 0.42 * len(bars),
    )


def _tipping(h: Hidden) -> list[str]:
    out = []
    if h.shown and h.tipping is not None and h.claimed_h is not None:
        t = h.tipping
        early, spread, late = (
            "more than were tried" if k is None else f"{k:,}" for k in (t.early, t.spread, t.late)
        )
        text = (
            f"Unreported failures that would leave the claim at {h.claimed_h:,.0f} h no longer "
            f"shown: {early} if they came early, {spread} if spread over the hours, {late} if they "
            "came at the claimed hours"
        )
        out.append(text + ".")
    if h.reporting_share is not None:
        if h.reporting_share <= 1.0:
            out.append(
                f"At least {at_most(h.reporting_share, 1.0)} of all failures must be reported for "
                "the claim to be shown."
            )
        else:
            out.append("The claim is not shown even if every failure is reported.")
    if h.lost is not None:
        least = h.lost.to_turn
        lost = count(h.lost.n_lost, "engine") + (" is" if h.lost.n_lost == 1 else " are")
        out.append(
            f"{lost} lost to follow-up; "
            + (
                "even if all of them failed when last seen the verdict would stand."
                if least is None
                else "the claim is not shown as it is."
                if least == 0
                else f"if {least} of them failed when last seen, the claim is no longer shown."
            )
        )
    if h.findings is not None:
        f = h.findings
        text = f"{count(f.n_findings, 'life', 'lives')} ended by a removal on a finding."
        if not np.isnan(f.low):
            text += (
                f" Without any assumption about them the reliability at {f.at_h:,.0f} h lies "
                f"between {text_percent(f.low)} (all would have failed) and {text_percent(f.high)} "
                f"(none would have); {text_percent(f.middle)} if they were like the others."
            )
        if f.hazard_ratio is not None:
            text += (
                " The claim holds until they were "
                f"{text_number(f.hazard_ratio, digits=2)} times as likely to fail as the others."
            )
        out.append(text)
    return out


def _scenarios(h: Hidden) -> Table:
    return table_of(
        h.scenarios,
        key="hidden-scenarios",
        title="The advice if one hidden fact were so",
        columns=(
            col("axis", "doubt", lambda s: AXES[s.axis]),
            col("supposed", "supposed", lambda s: s.label),
            col("hours", f"{stated(h.target)} reach", lambda s: s.hours_low, "hours"),
            col("change_h", "change", lambda s: s.change_h, "hours"),
            col("failed", "failures counted", lambda s: s.n_failed, "count"),
            *(
                ()
                if h.claimed_h is None
                else (
                    col(
                        "failure_high",
                        f"fail by {h.claimed_h:,.0f} h, at most",
                        lambda s: None if s.reliability_low is None else 1.0 - s.reliability_low,
                        "percent",
                        edge="high",
                        beside=(h.accepted_failure,),
                    ),
                    col("shown", "claim", lambda s: "shown" if s.shown else "not shown"),
                )
            ),
        ),
        see=(
            f"Beside {hours_exact(h.base_hours)} from the records as they stand"
            + (
                ""
                if hours_exact(h.base_hours) == hours_down(h.base_hours)
                else f" (as advice, rounded down: {hours_down(h.base_hours)})"
            )
            + f"; hours beyond {h.supported_h:,.0f} h lie past the evidence."
        ),
    )


def _base_rate(h: Hidden) -> Table:
    b = h.base_rate
    if b is None:
        raise ValueError("No base rate to show.")
    return Table(
        key="base-rate",
        title="Public rate and this fleet, side by side",
        columns=(
            Column(key="whose", title="rate"),
            Column(key="definition", title="what counts"),
            Column(key="rate", title="per 10,000 h", kind="number"),
            Column(key="failures", title="failures in these hours", kind="number"),
            Column(key="source", title="source"),
        ),
        rows=(
            (
                "public",
                b.definition or "not stated",
                b.per_10000_h,
                b.expected,
                b.source or "not stated",
            ),
            (
                "this fleet",
                b.own_definition,
                10_000.0 * b.seen / b.exposure_h,
                b.seen,
                "these records",
            ),
        ),
        see="Two rates can be compared only where both columns of what counts say the same.",
    )
