"""Recurrent events: mean number and cost per engine, trend, worst engines."""

from __future__ import annotations

import numpy as np

from fleetstats.chapters.recurrence.ahead import say_ahead
from fleetstats.chapters.recurrence.values import LIVES, KindLine, Recurrence
from fleetstats.core.units import text_hours, text_number
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
from fleetstats.document.table_of import col, table_of
from fleetstats.survival.recurrent.recurrent import MeanCumulative
from fleetstats.vocabulary.capitals import capital

_GROUPS = 6


def compose_recurrent(recurrence: Recurrence) -> Section:
    """Return the section on events that can come again."""
    blocks: list[Block] = [
        Statement(text=recurrence.sentence, tone="answer"),
        *(Statement(text=c.text, tone="caution") for c in recurrence.cautions),
        Explain(
            term="mean cumulative function",
            text="The mean number of events (or money) per engine from new to an age, counted over "
            "the engines that were watched there. It needs no life law, and it can pass 1.",
        ),
        _figure(recurrence),
        _table(recurrence),
        *_ahead(recurrence),
        *_pace(recurrence),
        _worst(recurrence),
    ]
    return Section(key="recurrent", title="Events that can come again", blocks=tuple(blocks))


def _curve(curve: MeanCumulative, role: str, label: str, *, band: bool = True) -> list[Layer]:
    x = np.concatenate([[0.0], curve.hours])
    start = curve.supported_to_h or None
    out = []
    if band:
        # An edge that does not exist (the mean is still zero) is drawn from the first event on.
        at = np.repeat(curve.hours, 2)[1:]
        low, high = np.repeat(curve.low, 2)[:-1], np.repeat(curve.high, 2)[:-1]
        out.append(
            Layer(
                kind="ribbon",
                role="band",
                label=f"{100 * curve.level:g} % limits, engine by engine",
                x=at,
                low=low,
                high=high,
                extrapolated_from=start,
            )
        )
    out.append(
        Layer(
            kind="step",
            role=role,
            label=label,
            x=x,
            y=np.concatenate([[0.0], curve.mean]),
            extrapolated_from=start,
        )
    )
    return out


def _figure(recurrence: Recurrence) -> Figure:
    top = recurrence.lines[0]
    hours = Axis(label="Hours", unit="h", low=0.0)
    panels = [
        Panel(
            x=hours,
            y=Axis(label="Events per engine", low=0.0),
            layers=tuple(_curve(top.count, "estimate", "events per engine")),
            title="All events",
        )
    ]
    if top.cost is not None:
        unit = recurrence.currency
        panels.append(
            Panel(
                x=hours,
                y=Axis(label="Cost per engine", unit=unit),
                layers=tuple(_curve(top.cost, "estimate", "cost per engine")),
                title="Cost",
            )
        )
    many = [b for b in recurrence.builds if b.count.n_events][:_GROUPS]
    if len(many) > 1:
        layers = [
            layer
            for i, b in enumerate(many)
            for layer in _curve(b.count, f"group-{i + 1}", b.build, band=False)
        ]
        panels.append(
            Panel(
                x=hours,
                y=Axis(label="Events per engine", low=0.0),
                layers=tuple(layers),
                title="By build",
            )
        )
    last = top.count
    reach = min(float(last.hours[-1]), last.supported_to_h or float(last.hours[-1]))
    end = f"{last.at(reach):.2g} per engine by {text_hours(reach)}"
    return Figure(
        key="mean-cumulative",
        title="Events per engine, added up with age",
        see=f"The curve reaches {end}; a bend upwards would mean that events crowd with age.",
        alt=f"Step curve of the mean number of events per engine with its band, reaching {end}.",
        panels=tuple(panels),
        columns=min(2, len(panels)),
    )


def _table(recurrence: Recurrence) -> Table:
    level = recurrence.lines[0].per_1000_h.level
    return table_of(
        recurrence.lines,
        key="recurrent-kinds",
        title="Events by kind",
        columns=(
            col("kind", "Kind", lambda x: x.kind),
            col("events", "Events", lambda x: x.n_events, "count"),
            col(
                "engines",
                f"{LIVES[recurrence.unit].capitalize()} with one",
                lambda x: x.n_engines,
                "count",
            ),
            col("rate", "Per 1,000 h", lambda x: x.per_1000_h.estimate, "number"),
            col("low", f"Low ({100 * level:g} %)", lambda x: x.per_1000_h.low, "number"),
            col("high", f"High ({100 * level:g} %)", lambda x: x.per_1000_h.high, "number"),
            col("direction", "With age", lambda x: _direction(x)),
        ),
        see="The limits take engines, not events, as what varies, so a few bad engines widen them.",
    )


def _ahead(recurrence: Recurrence) -> tuple[Block, ...]:
    if not recurrence.ahead:
        return ()
    first = recurrence.ahead[0]
    priced = first.cost is not None
    table = table_of(
        recurrence.ahead,
        key="recurrent-ahead",
        title=f"Events to expect within {first.months:g} months",
        columns=(
            col("kind", "Kind", lambda a: a.kind),
            col("expected", "Expected", lambda a: a.expected, "number"),
            col("low", f"At least ({100 * first.level:g} %)", lambda a: a.low, "count"),
            col("high", f"At most ({100 * first.level:g} %)", lambda a: a.high, "count"),
            *((col("cost", "Expected cost", lambda a: a.cost, "money"),) if priced else ()),
        ),
        see="The limits hold the doubt about the rate, the difference between engines, and chance.",
    )
    return (Statement(text=say_ahead(first, recurrence.currency)), table)


def _direction(line: KindLine) -> str:
    if line.trend is None:
        return line.no_pace
    return {
        "faster": "come faster",
        "slower": "come slower",
        "steady": "no change shown",
    }[line.trend.direction]


def _pace(recurrence: Recurrence) -> tuple[Block, ...]:
    told = [
        (x, x.law, x.trend) for x in recurrence.lines if x.law is not None and x.trend is not None
    ]
    if not told:
        return (
            Statement(
                text="Nothing is said of the pace of events: it needs 5 of a kind or more, on "
                "engines that were watched on past them.",
                tone="missing",
            ),
        )
    level = told[0][1].level
    table = table_of(
        told,
        key="recurrent-pace",
        title="Do events come faster or slower with age?",
        columns=(
            col("kind", "Kind", lambda x: x[0].kind),
            col(
                "shape",
                "Power-law shape",
                lambda x: x[1].shape if x[1].shape_within is None else x[1].shape_within,
                "number",
            ),
            col("low", f"Low ({100 * level:g} %)", lambda x: x[1].shape_low, "number"),
            col("high", f"High ({100 * level:g} %)", lambda x: x[1].shape_high, "number"),
            col("limits", "Limits", lambda x: "exact" if x[1].exact else "profile likelihood"),
            col("fit", "Fit p", lambda x: x[1].fit_p_value, "number"),
            col("laplace", "Laplace p", lambda x: x[2].laplace_p, "number"),
            col("robust", "Robust p", lambda x: x[2].robust_p, "number"),
            col("handbook", "Handbook p", lambda x: x[2].handbook_p, "number"),
        ),
        see=(
            "A shape above 1 means that events crowd as engines age, below 1 that they thin out; "
            "small p-values speak against a steady pace (last three) or against the law (Fit p)."
        ),
        folded=True,
    )
    return (
        Explain(
            term="power-law process",
            text="A law for the pace of events on an engine that is repaired and flies on: the "
            "mean number grows as hours to the power of the shape. It is not a law of life.",
        ),
        table,
        *(
            Statement(
                text=f"{capital(x.kind)}: the engines differ in pace. One law for "
                f"all would have a shape of {text_number(law.shape)}, outside the limits; the "
                "shape above sets each engine's events against its own hours.",
                tone="assumption",
            )
            for x, law, _ in told
            if law.paces_differ
        ),
    )


def _worst(recurrence: Recurrence) -> Table:
    priced = recurrence.lines[0].cost is not None
    first = recurrence.worst[0] if recurrence.worst else ("", 0, 0.0, 0.0)
    if first[1] == 1:
        first = ("", 1, 0.0, 0.0)  # one event each: no engine had most
    return table_of(
        recurrence.worst,
        key="recurrent-worst",
        title="Engines with most events",
        columns=(
            col("engine", "Engine", lambda x: x[0]),
            col("events", "Events", lambda x: x[1], "count"),
            *((col("cost", "Cost", lambda x: x[2], "money"),) if priced else ()),
            col("watched", "Hours watched", lambda x: x[3], "hours"),
        ),
        see=f"{first[0]} had most: {first[1]} in {text_hours(first[3])}"
        f" ({text_number(1000.0 * first[1] / first[3])} per 1,000 h)."
        if first[3]
        else "",
        folded=True,
    )
