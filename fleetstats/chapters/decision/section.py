"""Decision: the five answers side by side, the overhaul band, the verdict, stop rule and review."""

from __future__ import annotations

import numpy as np

from fleetstats.advice.advice import CostAnswer, Edge, ReliabilityAnswer
from fleetstats.advice.results import Results
from fleetstats.bands.interval import Interval
from fleetstats.chapters.analysis import risk_figure
from fleetstats.chapters.decision.figure import advice_figure
from fleetstats.chapters.decision.regret import REGRET, regret_table
from fleetstats.chapters.decision.stop_rules import review_sentence, stop_sentence
from fleetstats.core.units import round_edge, text_hours
from fleetstats.document.blocks import axis_words, hour_marks, say
from fleetstats.document.caption_words import say_over_shapes
from fleetstats.document.document import Axis, Block, Figure, Layer, Panel, Section, Table
from fleetstats.document.glossary import explain
from fleetstats.document.layers import mark_at
from fleetstats.document.references import point
from fleetstats.document.table_of import col, table_of
from fleetstats.document.words import say_confidence, say_value
from fleetstats.vocabulary.wording import stated


def compose_decision(results: Results) -> Section:
    """Return advice in place of a fixed interval, with what would end it."""
    a = results.advice
    blocks: list[Block] = [say(a.overhaul_band.sentence, "answer")]
    figure = advice_figure(results)
    if figure is not None:
        blocks.append(figure)
    blocks += [_five(results), say(a.wear_out.sentence)]
    if a.wear_out.settle:
        blocks.append(say(a.wear_out.settle, "missing"))
    blocks += [say(a.risk.sentence), risk_figure(results)]
    if a.risk.table:
        blocks.append(_targets(results))
    blocks.append(say(a.reliability.sentence))
    if a.reliability.over_shapes:
        blocks.append(_over_shapes(results))
    blocks.append(say(a.cost.sentence))
    cost = cost_figure(results, a.cost)
    if cost is not None:
        blocks += [explain("cost-optimum"), cost]
    regret = regret_table(results)
    if regret is not None:
        blocks += [REGRET, regret]
    blocks.append(say(a.horizon.sentence, "extrapolation"))
    if a.verdict is not None:
        v = a.verdict
        blocks.append(say(v.sentence, "answer"))
    blocks += _ends(results)
    return Section(key="decision", title="Decision: advice on overhaul", blocks=tuple(blocks))


def _five(results: Results) -> Table:
    a = results.advice
    shape, chosen, life, cost = a.wear_out.shape, a.risk.chosen, a.reliability.life, a.cost.optimum
    edges = (None, None, None) if shape is None else (shape.low, shape.estimate, shape.high)
    within = f"Chance within {a.risk.width_h:g} h"
    dashes, b, h = ("–", "–", "–"), a.overhaul_band, a.horizon
    far = (a.cost.extrapolated, a.cost.extrapolated, a.cost.extrapolated)
    rows = [
        (
            "Is there wear-out? (shape)",
            tuple("none" if v is None else say_value(v, "") for v in edges),
            _state(a.wear_out.state),
        ),
        (
            within if chosen is None else f"{within} passes {stated(chosen.target)} at",
            dashes if chosen is None else _hours(chosen.age, chosen.extrapolated),
            _state(a.risk.state),
        ),
        (
            f"Age that {100 * results.settings.targets.reliability:g} % reach",
            dashes if life is None else _hours(life, a.reliability.extrapolated),
            _state(a.reliability.state),
        ),
        ("Cheapest age", dashes if cost is None else _hours(cost, far), _state(a.cost.state)),
        (
            "Evidence ends",
            ("–", text_hours(h.supported_h), text_hours(h.oldest_h)),
            f"{h.min_at_risk} at risk; oldest",
        ),
        (
            "Overhaul band: plan from, expect at, not beyond",
            (_edge(b.plan_from), _edge(b.expect_at), _edge(b.not_beyond)),
            _state(b.state),
        ),
    ]
    return table_of(
        rows,
        key="answers",
        title="Five answers, one band",
        columns=(
            col("answer", "Answer", lambda x: x[0]),
            col("low", "Pessimistic edge", lambda x: x[1][0]),
            col("estimate", "Best estimate", lambda x: x[1][1]),
            col("high", "Optimistic edge", lambda x: x[1][2]),
            col("state", "State", lambda x: x[2]),
        ),
        see=f"Each edge is {say_confidence(a.level)}. The band takes the earliest of those that "
        "speak, and never goes beyond the evidence.",
    )


STATES = {
    "wear-out": "wear-out is shown",
    "not-shown": "wear-out is not shown",
    "no-wear-out": "the risk falls with hours",
    "no-target": "no accepted chance is stated",
    "no-cost-ratio": "no cost ratio is stated",
    "too-few-failures": "refused: too few failures",
    "shape-reaches-one": "refused: the shape's band reaches 1",
    "no-finite-optimum": "no finite optimum",
    "evidence-limit": "held by the evidence",
    "target-not-shown": "risk target shown at no age",
}


def _state(word: str) -> str:
    return STATES.get(word, word.replace("-", " "))


def _hours(age: Interval, far: tuple[bool, bool, bool]) -> tuple[str, str, str]:
    def text(v: float | None, edge: str, beyond: bool) -> str:
        if v is None:
            return "none"
        return text_hours(round_edge(v, edge)) + (" (extrapolated)" if beyond else "")

    return (
        text(age.low, "low", far[0]),
        text(age.estimate, "estimate", far[1]),
        text(age.high, "high", far[2]),
    )


def _edge(edge: Edge) -> str:
    if edge.hours is None:
        return "none"
    text = text_hours(edge.hours)
    by = f"{edge.governed_by}" if edge.governed_by else ""
    return f"{text} ({by})" if by else text


def _targets(results: Results) -> Table:
    a = results.advice.risk
    return table_of(
        [(stated(t.target), *_hours(t.age, t.extrapolated)) for t in a.table],
        key="risk-targets",
        title="Ages for a choice of accepted chances",
        columns=(
            col("target", f"Accepted chance within {a.width_h:g} h", lambda x: x[0]),
            col("low", "Pessimistic edge", lambda x: x[1]),
            col("estimate", "Best estimate", lambda x: x[2]),
            col("high", "Optimistic edge", lambda x: x[3]),
        ),
        see=f"“none”: not passed at any age searched, up to {text_hours(a.searched_to_h)}. "
        "The figure to accept is the reader's to choose.",
    )


def _over_shapes(results: Results) -> Table:
    r = results.advice.reliability
    end = results.advice.horizon.supported_h

    return table_of(
        r.over_shapes,
        key="over-shapes",
        title=f"Age that {100 * r.target:g} % reach, for assumed shapes",
        columns=(
            col("shape", "Assumed shape", lambda x: x.shape, "number"),
            col(
                "low_h",
                f"At least ({say_confidence(results.advice.level)} lower)",
                lambda x: x.low_h,
                "hours",
            ),
            col(
                "mark", "Note", lambda x: "least favourable of these" if x.least_favourable else ""
            ),
        ),
        see=f"{say_over_shapes([x.low_h for x in r.over_shapes], end)}{_taken(r)}",
    )


def _taken(r: ReliabilityAnswer) -> str:
    """Say which edge the advice takes, where it is none of the rows."""
    life = r.life
    if (
        life is None
        or life.low is None
        or any(text_hours(x.low_h) == text_hours(life.low) for x in r.over_shapes)
    ):
        return ""
    how = f" ({life.note_low})" if life.note_low else ", by the band in use"
    return f" The advice takes {text_hours(life.low)}{how}."


def cost_figure(results: Results, cost: CostAnswer) -> Figure | None:
    """Return cost against overhaul age with its band, the optimum and the flat range."""
    if not len(cost.hours):
        return None
    money = cost.currency or "planned overhauls"
    last = float(cost.hours[-1])
    marks = [m for m in hour_marks(results, advice=False, last_h=last) if m.kind == "vline"]
    seen = cost.cost[cost.hours >= 0.15 * last]
    top = 2.2 * float(np.nanmin(seen)) if len(seen) else None
    return Figure(
        key="cost",
        title=f"Cost by overhaul age, at a cost ratio of {cost.ratio or 0.0:g}",
        see="The bottom of the curve is flat: ages within the shaded range cost nearly the same. "
        "Cheapest is not safest.",
        alt="Cost per 1,000 hours against overhaul age, high for early overhauls, flat in the "
        "middle.",
        panels=(
            Panel(
                x=Axis(label=axis_words(results), unit="h", low=0.0, high=last),
                y=Axis(label=f"Cost per 1,000 h ({money})", low=0.0, high=top),
                layers=(*_cost_layers(results, cost), *marks),
            ),
        ),
    )


def _cost_layers(results: Results, cost: CostAnswer) -> list[Layer]:
    """Return the curve with its band, the range of nearly the same cost, and the cheapest age."""
    far = results.advice.horizon.supported_h or None
    layers = [
        Layer(
            kind="ribbon",
            role="band",
            label=f"{100 * results.advice.level:g} % band",
            x=cost.hours,
            low=cost.cost_low,
            high=cost.cost_high,
            extrapolated_from=far,
        ),
        Layer(
            kind="line",
            role="estimate",
            label="cost",
            x=cost.hours,
            y=cost.cost,
            extrapolated_from=far,
        ),
    ]
    if cost.flat_low_h is not None and cost.flat_high_h is not None:
        layers.append(
            Layer(
                kind="zone",
                role="advice",
                label="within 5 % of the least",
                x=np.array([cost.flat_low_h]),
                x2=np.array([cost.flat_high_h]),
            )
        )
    if cost.optimum is not None and (cheapest := cost.optimum.estimate) is not None:
        about = text_hours(round(cheapest / 50) * 50.0)
        layers.append(mark_at("optimum", f"cheapest, about {about}", cheapest))
    return layers


def _ends(results: Results) -> list[Block]:
    """Return what compensates, when the advice ends, and when it is looked at again."""
    interval = results.settings.check.interval_h
    return [
        say(
            f"What compensates: the condition check each {interval:g} h. Whether it is frequent "
            "enough: " + point("check-interval", otherwise="these records do not say") + ".",
            "assumption",
        ),
        say(stop_sentence(results)),
        say(review_sentence(results)),
    ]
