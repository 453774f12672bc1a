"""Decision: the five answers side by side, the overhaul band, the verdict, stop rule and review."""

from __future__ import annotations

import numpy as np

from fleetstats.advice.advice import CostAnswer, Edge, ReliabilityAnswer
from fleetstats.advice.results import Results
from fleetstats.chapters.analysis import risk_figure
from fleetstats.chapters.decision.ends import review_sentence, stop_sentence
from fleetstats.chapters.decision.figure import advice_figure
from fleetstats.chapters.decision.regret import REGRET, regret_table
from fleetstats.core.units import round_edge, text_hours
from fleetstats.document.blocks import axis_words, hour_marks, say
from fleetstats.document.caption_words import say_over_shapes
from fleetstats.document.document import Axis, Block, Column, Figure, Layer, Panel, Section, Table
from fleetstats.document.glossary import explain
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
    s = results.settings
    rows: list[tuple[str | float | int | None, ...]] = []
    shape = a.wear_out.shape
    rows.append(
        (
            "Is there wear-out? (shape)",
            "none" if shape is None else say_value(shape.low, ""),
            "none" if shape is None else say_value(shape.estimate, ""),
            "none" if shape is None else say_value(shape.high, ""),
            _state(a.wear_out.state),
        )
    )
    chosen = a.risk.chosen
    name = f"Chance within {a.risk.width_h:g} h"
    if chosen is not None:
        rows.append(
            (
                f"{name} passes {stated(chosen.target)} at",
                *_hours(chosen.age.low, chosen.age.estimate, chosen.age.high, chosen.extrapolated),
                _state(a.risk.state),
            )
        )
    else:
        rows.append((name, "–", "–", "–", _state(a.risk.state)))
    life = a.reliability.life
    name = f"Age that {100 * s.targets.reliability:g} % reach"
    if life is not None:
        cells = _hours(life.low, life.estimate, life.high, a.reliability.extrapolated)
        rows.append((name, *cells, _state(a.reliability.state)))
    else:
        rows.append((name, "–", "–", "–", _state(a.reliability.state)))
    cost = a.cost.optimum
    if cost is not None:
        far = a.cost.extrapolated
        rows.append(
            (
                "Cheapest age",
                *_hours(cost.low, cost.estimate, cost.high, (far, far, far)),
                _state(a.cost.state),
            )
        )
    else:
        rows.append(("Cheapest age", "–", "–", "–", _state(a.cost.state)))
    h = a.horizon
    rows.append(
        (
            "Evidence ends",
            "–",
            text_hours(h.supported_h),
            text_hours(h.oldest_h),
            f"{h.min_at_risk} at risk; oldest",
        )
    )
    b = a.overhaul_band
    rows.append(
        (
            "Overhaul band: plan from, expect at, not beyond",
            _edge(b.plan_from),
            _edge(b.expect_at),
            _edge(b.not_beyond),
            _state(b.state),
        )
    )
    return Table(
        key="answers",
        title="Five answers, one band",
        columns=(
            Column(key="answer", title="Answer"),
            Column(key="low", title="Pessimistic edge"),
            Column(key="estimate", title="Best estimate"),
            Column(key="high", title="Optimistic edge"),
            Column(key="state", title="State"),
        ),
        rows=tuple(rows),
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
}


def _state(word: str) -> str:
    return STATES.get(word, word.replace("-", " "))


def _hours(
    low: float | None, estimate: float | None, high: float | None, far: tuple[bool, bool, bool]
) -> tuple[str, str, str]:
    texts = []
    edges = ("low", "estimate", "high")
    for edge, v, beyond in zip(edges, (low, estimate, high), far, strict=True):
        text = "none" if v is None else text_hours(round_edge(v, edge))
        texts.append(text + (" (extrapolated)" if beyond and v is not None else ""))
    return texts[0], texts[1], texts[2]


def _edge(edge: Edge) -> str:
    if edge.hours is None:
        return "none"
    text = text_hours(edge.hours)
    by = f"{edge.governed_by}" if edge.governed_by else ""
    return f"{text} ({by})" if by else text


def _targets(results: Results) -> Table:
    a = results.advice.risk
    return Table(
        key="risk-targets",
        title="Ages for a choice of accepted chances",
        columns=(
            Column(key="target", title=f"Accepted chance within {a.width_h:g} h"),
            Column(key="low", title="Pessimistic edge"),
            Column(key="estimate", title="Best estimate"),
            Column(key="high", title="Optimistic edge"),
        ),
        rows=tuple(
            (stated(t.target), *_hours(t.age.low, t.age.estimate, t.age.high, t.extrapolated))
            for t in a.table
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
    end = results.advice.horizon.supported_h
    far = end if end > 0 else None
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
    if cost.optimum is not None and cost.optimum.estimate is not None:
        layers.append(
            Layer(
                kind="vline",
                role="optimum",
                label=f"cheapest, about {text_hours(round(cost.optimum.estimate / 50) * 50.0)}",
                x=np.array([cost.optimum.estimate]),
            )
        )
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
                layers=(*layers, *marks),
            ),
        ),
    )


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
