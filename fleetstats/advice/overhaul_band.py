"""One overhaul band out of the five answers, by one rule.

The rule
--------
1. *Who speaks.* Reliability always speaks, with the B-life for the study's target. Risk speaks when
   the study states an accepted chance per check interval. Cost speaks when it has an answer. Each
   has a pessimistic edge, a best estimate and an optimistic edge in hours.
2. *Plan from* is the earliest pessimistic edge of those who speak; *expect at* the earliest best
   estimate; *not beyond without evidence on the single engine* the earliest optimistic edge. A
   missing optimistic edge is no limit. So no answer can move the band later than another allows,
   and the cheapest age can only bring it forward. A risk target that is not shown even from new is
   met by no overhaul at any age: it sets no hours, and the sentence of the band says so.
3. *Evidence.* None of the three goes beyond the evidence horizon (answer e). Where the horizon and
   not an answer sets the hours, the edge is marked as held by the evidence.
4. *Wear-out.* Where the records show it (the whole band of the shape above 1, from 5 failures on)
   the band is an answer. Where they do not, no age is expected: plan-from says how far the records
   carry the target, and not-beyond where they end; the state is ``evidence-limit``. Where the whole
   band of the shape lies below 1, a fixed age does not help: ``hours-do-not-tell``, no band.
5. *Rounding* to 50 h: plan-from and not-beyond down, expect-at to the nearest but never past
   not-beyond. A plan-from of 0 h (less than a thousandth of the hours that the evidence reaches),
   or no age at all with enough engines at risk, is ``not-enough-evidence``.

Each step is monotone, so a stricter target never moves the band later, as long as it is shown at
some age.
"""

from __future__ import annotations

import math

from fleetstats.advice.advice import (
    CostAnswer,
    Edge,
    Horizon,
    OverhaulBand,
    ReliabilityAnswer,
    RiskAnswer,
    WearOut,
)
from fleetstats.core.units import round_hours
from fleetstats.vocabulary.wording import stated

NIL = 1e-3
"""Share of the evidence below which a plan-from is 0: it says no more than that engines run."""

NONE = Edge(hours=None, unrounded_h=None, governed_by="")
NO_RISK = (
    " The risk target is not shown at any age, not even from new, so it sets no hours: these rest "
    "on the other targets alone."
)
REVIEW = "may be considered for review at"

_Sides = tuple[float | None, float | None, float | None]


def _shown_nowhere(risk: RiskAnswer, reliability: ReliabilityAnswer, least_h: float) -> bool:
    """Return whether the risk target is passed from new on while the life has a lower limit."""
    low = None if risk.chosen is None else risk.chosen.age.low
    life = None if reliability.life is None else reliability.life.low
    return low is not None and low <= least_h and life is not None and life > least_h


def _speakers(
    risk: RiskAnswer, reliability: ReliabilityAnswer, cost: CostAnswer, least_h: float
) -> dict[str, _Sides]:
    out: dict[str, _Sides] = {}
    if reliability.life is not None:
        life = reliability.life
        out["reliability"] = (life.low, life.estimate, life.high)
    silent = risk.state == "hours-do-not-tell" or _shown_nowhere(risk, reliability, least_h)
    if risk.chosen is not None and not silent:
        age = risk.chosen.age
        # a chance that stays within target at all ages searched limits nothing
        out["risk"] = (
            math.inf if age.low is None else age.low,
            math.inf if age.estimate is None else age.estimate,
            age.high,
        )
    if cost.state == "answered" and cost.optimum is not None:
        o = cost.optimum
        out["cost"] = (o.low, o.estimate, o.high)
    return out


def _earliest(speakers: dict[str, _Sides], side: int, *, missing: float) -> tuple[float, str]:
    named = [
        (missing if v[side] is None else float(v[side] or 0.0), name)
        for name, v in speakers.items()
    ]
    return min(named, key=lambda x: x[0], default=(missing, ""))


def _edge(hours: float, by: str, horizon: Horizon, *, down: bool | None) -> Edge:
    held = hours > horizon.supported_h
    kept = min(hours, horizon.supported_h)
    return Edge(
        hours=round_hours(kept, down=down),
        unrounded_h=hours if math.isfinite(hours) else None,
        governed_by="evidence horizon" if held else by,
        held_by_evidence=held,
    )


def advise_overhaul_band(
    wear_out: WearOut,
    risk: RiskAnswer,
    reliability: ReliabilityAnswer,
    cost: CostAnswer,
    horizon: Horizon,
) -> OverhaulBand:
    """Return plan-from, expect-at and not-beyond by the rule at the head of this file."""
    if wear_out.state == "no-wear-out":
        return OverhaulBand(
            state="hours-do-not-tell",
            sentence=(
                "No overhaul age is advised: the risk falls as hours grow, so hours do not tell "
                "when an engine needs overhaul."
            ),
            plan_from=NONE,
            expect_at=NONE,
            not_beyond=NONE,
        )
    least_h = NIL * horizon.supported_h
    speakers = _speakers(risk, reliability, cost, least_h)
    low, by_low = _earliest(speakers, 0, missing=0.0)
    if low <= NIL * horizon.supported_h or horizon.supported_h <= 0.0:
        why = (
            f"at no age were {horizon.enough} at risk at once"
            if horizon.supported_h <= 0.0
            else f"the {by_low or 'reliability'} target is not shown at any age"
        )
        return OverhaulBand(
            state="not-enough-evidence",
            sentence=f"Not enough evidence for an overhaul band: {why}.",
            plan_from=NONE,
            expect_at=NONE,
            not_beyond=NONE,
        )
    plan = _edge(low, by_low, horizon, down=True)
    high, by_high = _earliest(speakers, 2, missing=math.inf)
    last = _edge(max(high, low), by_high, horizon, down=True)
    shown = wear_out.state == "wear-out"
    expect = NONE
    if shown:
        middle, by_middle = _earliest(speakers, 1, missing=math.inf)
        e = _edge(max(middle, low), by_middle, horizon, down=None)
        capped = min(e.hours or 0.0, last.hours or 0.0)
        expect = Edge(
            hours=max(capped, plan.hours or 0.0),
            unrounded_h=e.unrounded_h,
            governed_by=e.governed_by,
            held_by_evidence=e.held_by_evidence,
        )
    return OverhaulBand(
        state="answered" if shown else "evidence-limit",
        sentence=_sentence(plan, expect, last, reliability, shown=shown)
        + (NO_RISK if _shown_nowhere(risk, reliability, least_h) else ""),
        plan_from=plan,
        expect_at=expect,
        not_beyond=last,
    )


def _sentence(
    plan: Edge, expect: Edge, last: Edge, reliability: ReliabilityAnswer, *, shown: bool
) -> str:
    if not shown:
        text = (
            f"Wear-out is not shown, so no overhaul age is advised; the records support the "
            f"study's targets ({stated(reliability.target)} reaching overhaul without the "
            f"failure) up to {plan.hours:,.0f} h"
        )
        if plan.held_by_evidence:
            return text + ", where the evidence ends: engines beyond need evidence of their own."
        return text + (
            f"; past {last.hours:,.0f} h they speak for no engine without evidence of its own."
        )
    if plan.hours == last.hours:
        text = (
            f"Overhaul {REVIEW} {last.hours:,.0f} h, where all edges of the band meet after "
            "rounding; past it these records speak for no engine without evidence of its own."
        )
    else:
        text = (
            f"Overhaul {REVIEW} {plan.hours:,.0f} to {last.hours:,.0f} h: planning is advisable "
            f"from {plan.hours:,.0f} h, overhaul is to be expected at {expect.hours:,.0f} h, and "
            f"past {last.hours:,.0f} h these records speak for no engine without evidence of its "
            "own."
        )
    held = [
        n
        for n, e in (("plan-from", plan), ("expect-at", expect), ("not-beyond", last))
        if e.held_by_evidence
    ]
    if held:
        text += (
            f" {' and '.join(held).capitalize()} {'are' if len(held) > 1 else 'is'} where the "
            "evidence ends, not where engines do."
        )
    return text
