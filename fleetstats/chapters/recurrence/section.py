"""Recurrent events: mean number and cost per engine, trend, worst engines."""

from __future__ import annotations

import numpy as np

from fleetstats.chapters.recurrence.ahead import say_ahead
from fleetstats.chapters.recurrence.compute import LIVES, KindLine, Recurrence
from fleetstats.core.units import text_hours, text_number
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
    end = f"{last.at(reach)[0, 0]:.2g} per engine by {text_hours(reach)}"
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
    return Table(
        key="recurrent-kinds",
        title="Events by kind",
        columns=(
            Column(key="kind", title="Kind"),
            Column(key="events", title="Events", kind="count"),
            Column(
                key="engines", title=f"{LIVES[recurrence.unit].capitalize()} with one", kind="count"
            ),
            Column(key="rate", title="Per 1,000 h", kind="number"),
            Column(key="low", title=f"Low ({100 * level:g} %)", kind="number"),
            Column(key="high", title=f"High ({100 * level:g} %)", kind="number"),
            Column(key="direction", title="With age"),
        ),
        rows=tuple(
            (
                line.kind,
                line.n_events,
                line.n_engines,
                line.per_1000_h.estimate,
                line.per_1000_h.low,
                line.per_1000_h.high,
                _direction(line),
            )
            for line in recurrence.lines
        ),
        see="The limits take engines, not events, as what varies, so a few bad engines widen them.",
    )


def _ahead(recurrence: Recurrence) -> tuple[Block, ...]:
    if not recurrence.ahead:
        return ()
    first = recurrence.ahead[0]
    priced = first.cost is not None
    table = Table(
        key="recurrent-ahead",
        title=f"Events to expect within {first.months:g} months",
        columns=(
            Column(key="kind", title="Kind"),
            Column(key="expected", title="Expected", kind="number"),
            Column(key="low", title=f"At least ({100 * first.level:g} %)", kind="count"),
            Column(key="high", title=f"At most ({100 * first.level:g} %)", kind="count"),
            *((Column(key="cost", title="Expected cost", kind="money"),) if priced else ()),
        ),
        rows=tuple(
            (a.kind, a.expected, a.low, a.high, *((a.cost,) if priced else ()))
            for a in recurrence.ahead
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
    told = [x for x in recurrence.lines if x.law is not None and x.trend is not None]
    if not told:
        return (
            Statement(
                text="Nothing is said of the pace of events: it needs 5 of a kind or more, on "
                "engines that were watched on past them.",
                tone="missing",
            ),
        )
    level = told[0].law.level if told[0].law else 0.9
    table = Table(
        key="recurrent-pace",
        title="Do events come faster or slower with age?",
        columns=(
            Column(key="kind", title="Kind"),
            Column(key="shape", title="Power-law shape", kind="number"),
            Column(key="low", title=f"Low ({100 * level:g} %)", kind="number"),
            Column(key="high", title=f"High ({100 * level:g} %)", kind="number"),
            Column(key="limits", title="Limits"),
            Column(key="fit", title="Fit p", kind="number"),
            Column(key="laplace", title="Laplace p", kind="number"),
            Column(key="robust", title="Robust p", kind="number"),
            Column(key="handbook", title="Handbook p", kind="number"),
        ),
        rows=tuple(
            (
                x.kind,
                x.law.shape if x.law.shape_within is None else x.law.shape_within,
                x.law.shape_low,
                x.law.shape_high,
                "exact" if x.law.exact else "profile likelihood",
                x.law.fit_p_value,
                x.trend.laplace_p,
                x.trend.robust_p,
                x.trend.handbook_p,
            )
            for x in told
            if x.law is not None and x.trend is not None
        ),
        see="A shape above 1 means that events crowd as engines age, below 1 that they thin out; "
        "small p-values speak against a steady pace (last three) or against the law (Fit p).",
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
                f"all would have a shape of {text_number(x.law.shape)}, outside the limits; the "
                "shape above sets each engine's events against its own hours.",
                tone="assumption",
            )
            for x in told
            if x.law is not None and x.law.paces_differ
        ),
    )


def _worst(recurrence: Recurrence) -> Table:
    priced = recurrence.lines[0].cost is not None
    money = (Column(key="cost", title="Cost", kind="money"),) if priced else ()
    first = recurrence.worst[0] if recurrence.worst else ("", 0, 0.0, 0.0)
    if first[1] == 1:
        first = ("", 1, 0.0, 0.0)  # one event each: no engine had most
    return Table(
        key="recurrent-worst",
        title="Engines with most events",
        columns=(
            Column(key="engine", title="Engine"),
            Column(key="events", title="Events", kind="count"),
            *money,
            Column(key="watched", title="Hours watched", kind="hours"),
        ),
        rows=tuple(
            (name, n, *((cost,) if priced else ()), hours)
            for name, n, cost, hours in recurrence.worst
        ),
        see=f"{first[0]} had most: {first[1]} in {text_hours(first[3])}"
        f" ({text_number(1000.0 * first[1] / first[3])} per 1,000 h)."
        if first[3]
        else "",
        folded=True,
    )
