"""One overhaul band out of the five answers, by one rule.

The rule
--------
1. *Who speaks.* Reliability always speaks, with the B-life for the study's target. Risk speaks when
   the study states an accepted chance per check interval. Cost speaks when it has an answer. Each
   has a pessimistic edge, a best estimate and an optimistic edge in hours.
2. *Plan from* is the earliest pessimistic edge of those who speak; *expect at* the earliest best
   estimate; *not beyond without evidence on the single engine* the earliest optimistic edge. A
   missing optimistic edge is no limit. So no answer can move the band later than another allows,
   and the cheapest age can only bring it forward. A risk target that is not shown even for the
   first step of rule 5 is met by no overhaul: there is no plan-from at all (``target-not-shown``),
   and the band says how far the records carry the other targets. It must not fall silent: one more
   failure, which takes a target from shown for some hours to shown at none, would move plan-from
   later. An edge of the risk that lies below that step sets no expect-at and no not-beyond.
3. *Evidence.* None of the three goes beyond the evidence horizon (answer e). Where the horizon and
   not an answer sets the hours, the edge is marked as held by the evidence.
4. *Wear-out.* Where the records show it (the whole band of the shape above 1, from 5 failures on)
   the band is an answer. Where they do not, no age is expected: plan-from says how far the records
   carry the target, and not-beyond where they end; the state is ``evidence-limit``. Where the whole
   band of the shape lies below 1, a fixed age does not help: ``hours-do-not-tell``, no band.
5. *Rounding* to 50 h: plan-from and not-beyond down, expect-at to the nearest but never past
   not-beyond. A plan-from of 0 h (less than a thousandth of the hours that the evidence reaches),
   or no age at all with enough engines at risk, is ``not-enough-evidence``.

Each step is monotone, so a stricter target, or a failure more, never moves plan-from later.
"""

from __future__ import annotations

import math
from dataclasses import replace

from fleetstats.advice.advice import (
    CostAnswer,
    Edge,
    Horizon,
    OverhaulBand,
    ReliabilityAnswer,
    RiskAnswer,
    WearOut,
)
from fleetstats.core.units import ADVICE_STEP_H, round_hours
from fleetstats.vocabulary.wording import stated

NIL = 1e-3
"""Share of the evidence below which a plan-from is 0: it says no more than that engines run."""

NONE = Edge(hours=None, unrounded_h=None, governed_by="")
REVIEW = "may be considered for review at"

_Sides = tuple[float | None, float | None, float | None]


def _not_shown(speakers: dict[str, _Sides]) -> bool:
    """Return whether risk speaks and its target is not shown even for the band's first step."""
    risk = speakers.get("risk")
    return risk is not None and (risk[0] or 0.0) < ADVICE_STEP_H


def _others(speakers: dict[str, _Sides]) -> dict[str, _Sides]:
    """Return the speakers with what a risk target shown at no age still says of the later edges."""
    _, middle, high = speakers["risk"]
    middle = None if middle is None or middle < ADVICE_STEP_H else middle
    high = None if high is None or high < ADVICE_STEP_H else high
    return speakers | {"risk": (math.inf, middle, high)}


def _speakers(
    risk: RiskAnswer, reliability: ReliabilityAnswer, cost: CostAnswer
) -> dict[str, _Sides]:
    out: dict[str, _Sides] = {}
    if reliability.life is not None:
        life = reliability.life
        out["reliability"] = (life.low, life.estimate, life.high)
    if risk.chosen is not None and risk.state == "hours-do-not-tell":
        # a chance that by its estimate falls is exceeded at no later age, but its bound must hold
        out["risk"] = (_or_never(risk.chosen.age.low), math.inf, None)
    elif risk.chosen is not None:
        age = risk.chosen.age
        out["risk"] = (_or_never(age.low), _or_never(age.estimate), age.high)
    if cost.state == "answered" and cost.optimum is not None:
        o = cost.optimum
        out["cost"] = (o.low, o.estimate, o.high)
    return out


def _or_never(age_h: float | None) -> float:
    """Return an age; a chance that stays within target at all ages searched limits nothing."""
    return math.inf if age_h is None else age_h


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
    speakers = _speakers(risk, reliability, cost)
    not_shown = _not_shown(speakers)
    speakers = _others(speakers) if not_shown else speakers
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
    shown = wear_out.state == "wear-out"
    plan, expect, last = _edges(speakers, low, by_low, horizon, shown=shown)
    if not_shown:
        return OverhaulBand(
            state="target-not-shown",
            sentence=_not_shown_sentence(plan, expect, last),
            plan_from=NONE,
            expect_at=expect,
            not_beyond=last,
            else_to_h=plan.hours,
        )
    return OverhaulBand(
        state="answered" if shown else "evidence-limit",
        sentence=_sentence(plan, expect, last, reliability, shown=shown),
        plan_from=plan,
        expect_at=expect,
        not_beyond=last,
    )


def _edges(
    speakers: dict[str, _Sides], low: float, by_low: str, horizon: Horizon, *, shown: bool
) -> tuple[Edge, Edge, Edge]:
    """Return plan-from, expect-at (where wear-out is shown) and not-beyond, in order."""
    plan = _edge(low, by_low, horizon, down=True)
    high, by_high = _earliest(speakers, 2, missing=math.inf)
    last = _edge(max(high, low), by_high, horizon, down=True)
    if not shown:
        return plan, NONE, last
    middle, by_middle = _earliest(speakers, 1, missing=math.inf)
    e = _edge(max(middle, low), by_middle, horizon, down=None)
    capped = min(e.hours or 0.0, last.hours or 0.0)
    return plan, replace(e, hours=max(capped, plan.hours or 0.0)), last


def _not_shown_sentence(plan: Edge, expect: Edge, last: Edge) -> str:
    lead = (
        "Wear-out is not shown, so no overhaul age is advised"
        if expect.hours is None
        else "No age to plan from is given"
    )
    when = "" if expect.hours is None else f", overhaul is to be expected at {expect.hours:,.0f} h"
    return (
        f"{lead}: the risk target is not shown even for the first {ADVICE_STEP_H:g} h, so that by "
        f"these records no overhaul meets it. The other targets are carried up to "
        f"{plan.hours:,.0f} h{when}, and past {last.hours:,.0f} h these records speak for no "
        "engine without evidence of its own."
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
