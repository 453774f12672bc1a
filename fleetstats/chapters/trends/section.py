"""Trends: small multiples per engine, worst first, and the tables behind them."""

from __future__ import annotations

import numpy as np

from fleetstats.chapters.trends.values import STATES, CylinderTrend, Trends
from fleetstats.core.units import text_percent
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
from fleetstats.records.condition.checks import GRADES

SHOWN = 9
"""Engines drawn; the table holds them all."""

GROUPS = 6
"""Cylinders told apart in one picture."""


def compose_trends(t: Trends) -> Section:
    """Return the section on leak-down trends, metal on the plug and oil use."""
    tones = ["answer", *["fact"] * (len(t.sentences) - 1)]
    blocks: list[Block] = [
        Statement(text=s, tone=tone) for s, tone in zip(t.sentences, tones, strict=False)
    ]
    if t.cylinders:
        blocks += [
            Explain(
                term="leak-down reading",
                text="The pressure that a cylinder holds when air is fed to it through a small "
                "orifice. What it loses leaks past rings, valves or head.",
            ),
            _figure(t),
            _cylinders(t),
            Statement(
                text="Each cylinder's trend leans on the fleet's: with few readings it stays near "
                "the fleet's mean, with many it follows its own. A share common to all cylinders "
                "of one check is taken out, odd readings lose weight, a repair starts a cylinder "
                "anew, and a retest replaces the reading it repeats.",
                tone="assumption",
            ),
        ]
    if t.plugs:
        blocks.append(_plugs(t))
    if t.oils:
        blocks.append(_oils(t))
    blocks += [Statement(text=c.text, tone="caution") for c in t.cautions]
    return Section(key="trends", title="What the checks show over time", blocks=tuple(blocks))


def _engines(t: Trends) -> list[str]:
    """Engines in the order of their worst cylinder."""
    return list(dict.fromkeys(c.engine for c in t.cylinders))


def _figure(t: Trends) -> Figure:
    engines = _engines(t)[:SHOWN]
    low = min((float(c.reading.min()) for c in t.cylinders if c.engine in engines), default=0.0)
    low = min(low, min(c.limit for c in t.cylinders)) - 3.0
    panels = []
    for engine in engines:
        mine = [c for c in t.cylinders if c.engine == engine]
        mine.sort(key=lambda c: (len(c.cylinder), c.cylinder))
        limit = Layer(kind="hline", role="target", label="limit", y=np.array([mine[0].limit]))
        panels.append(
            Panel(
                x=Axis(label="Hours", unit="h"),
                y=Axis(label="Reading", unit=t.unit, low=low, high=t.supply),
                layers=(*(x for i, c in enumerate(mine[:GROUPS]) for x in _layers(c, i)), limit),
                title=engine,
            )
        )
    shown = len(engines)
    total = len(_engines(t))
    return Figure(
        key="trends-engines",
        title="Leak-down per engine, worst first",
        see=f"{shown} of {total} engines, worst first; one colour and mark for each cylinder, its "
        "line the level without tester and noise, drawn to the next check. Points before a repair "
        "stand alone.",
        alt="Small pictures, one per engine: leak-down readings of each cylinder against hours "
        "with their trend lines and the limit.",
        panels=tuple(panels),
        columns=3,
        height=2.4,
    )


def _layers(c: CylinderTrend, i: int) -> list[Layer]:
    role, name = f"group-{i + 1}", f"cylinder {c.cylinder}"
    x = np.concatenate([c.earlier_h, c.hours])
    y = np.concatenate([c.earlier, c.reading])
    out = [Layer(kind="points", role=role, label=name, x=x, y=y)]
    if len(c.line_h):
        out.append(
            Layer(
                kind="line",
                role=role,
                x=c.line_h,
                y=c.line,
                extrapolated_from=c.last_h,
            )
        )
    return out


def _cylinders(t: Trends) -> Table:
    rows = []
    for c in t.cylinders:
        fall, to = c.fall_per_100_h, c.to_limit_h
        rows.append(
            (
                c.engine,
                c.cylinder,
                c.last_h,
                c.last,
                c.limit,
                c.limit_from,
                c.n_checks,
                fall.estimate if fall else None,
                fall.low if fall else None,
                fall.high if fall else None,
                c.chance_below,
                to.low if to else None,
                to.high if to else None,
                "; ".join(c.signs) or STATES.get(c.state, ""),
            )
        )
    return Table(
        key="trends-cylinders",
        title="Each cylinder, worst first",
        columns=(
            Column(key="engine", title="Engine"),
            Column(key="cylinder", title="Cylinder"),
            Column(key="hours", title="Last check", kind="hours"),
            Column(key="reading", title=f"Reading, {t.unit}", kind="number"),
            Column(key="limit", title="Limit", kind="number"),
            Column(key="limit_from", title="Limit from"),
            Column(key="checks", title="Checks", kind="count"),
            Column(key="fall", title="Fall per 100 h", kind="number"),
            Column(key="fall_low", title="Low", kind="number"),
            Column(key="fall_high", title="High", kind="number"),
            Column(key="chance", title="Chance below limit at next check", kind="percent"),
            Column(key="limit_in_low", title="Level at limit after, low", kind="hours"),
            Column(key="limit_in_high", title="high", kind="hours"),
            Column(key="signs", title="Signs"),
        ),
        rows=tuple(rows),
        see="The chance of reading below the limit at the next check counts; hours to the limit "
        "are a band, not a date, and empty where it is not reached within 2,000 h.",
        folded=True,
    )


def _plugs(t: Trends) -> Table:
    return Table(
        key="trends-plugs",
        title="Metal on the plug",
        columns=(
            Column(key="engine", title="Engine"),
            Column(key="hours", title="Hours", kind="hours"),
            Column(key="grade", title="Metal"),
            Column(key="jump", title="Grades up", kind="count"),
            Column(key="sign", title="Why it is named"),
        ),
        rows=tuple((p.engine, p.hours_h, GRADES[p.grade], p.jump, p.sign) for p in t.plugs),
        see="Slivers, chips, or a rise of two grades from one check to the next are findings "
        "(trade practice); else an engine is named where so much metal is rare "
        f"(under {text_percent(0.02)}) for the hours since its oil change.",
    )


def _oils(t: Trends) -> Table:
    return Table(
        key="trends-oil",
        title="Oil use",
        columns=(
            Column(key="engine", title="Engine"),
            Column(key="hours", title="Hours", kind="hours"),
            Column(key="last", title="Last", kind="number"),
            Column(key="usual", title="Usual", kind="number"),
            Column(key="rise", title="Rise per 100 h", kind="number"),
            Column(key="sign", title="Why it is named"),
        ),
        rows=tuple(
            (
                o.engine,
                o.hours_h,
                o.last,
                o.usual,
                o.rise_per_100_h.estimate if o.rise_per_100_h else None,
                o.sign,
            )
            for o in t.oils
        ),
        see="Named where the rise is greater than the fleet's beyond the band, or the last reading "
        "is odd beside the engine's own; in the unit of the records.",
    )
