"""Trends: small multiples per engine, worst first, and the tables behind them."""

from __future__ import annotations

import numpy as np

from fleetstats.chapters.trends.values import STATES, CylinderTrend, Trends
from fleetstats.core.units import text_percent
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
    return table_of(
        t.cylinders,
        key="trends-cylinders",
        title="Each cylinder, worst first",
        columns=(
            col("engine", "Engine", lambda c: c.engine),
            col("cylinder", "Cylinder", lambda c: c.cylinder),
            col("hours", "Last check", lambda c: c.last_h, "hours"),
            col("reading", f"Reading, {t.unit}", lambda c: c.last, "number"),
            col("limit", "Limit", lambda c: c.limit, "number"),
            col("limit_from", "Limit from", lambda c: c.limit_from),
            col("checks", "Checks", lambda c: c.n_checks, "count"),
            col(
                "fall",
                "Fall per 100 h",
                lambda c: c.fall_per_100_h and c.fall_per_100_h.estimate,
                "number",
            ),
            col("fall_low", "Low", lambda c: c.fall_per_100_h and c.fall_per_100_h.low, "number"),
            col(
                "fall_high", "High", lambda c: c.fall_per_100_h and c.fall_per_100_h.high, "number"
            ),
            col("chance", "Chance below limit at next check", lambda c: c.chance_below, "percent"),
            col(
                "limit_in_low",
                "Level at limit after, low",
                lambda c: c.to_limit_h and c.to_limit_h.low,
                "hours",
            ),
            col("limit_in_high", "high", lambda c: c.to_limit_h and c.to_limit_h.high, "hours"),
            col("signs", "Signs", lambda c: "; ".join(c.signs) or STATES.get(c.state, "")),
        ),
        see="The chance of reading below the limit at the next check counts; hours to the limit "
        "are a band, not a date, and empty where it is not reached within 2,000 h.",
        folded=True,
    )


def _plugs(t: Trends) -> Table:
    return table_of(
        t.plugs,
        key="trends-plugs",
        title="Metal on the plug",
        columns=(
            col("engine", "Engine", lambda p: p.engine),
            col("hours", "Hours", lambda p: p.hours_h, "hours"),
            col("grade", "Metal", lambda p: GRADES[p.grade]),
            col("jump", "Grades up", lambda p: p.jump, "count"),
            col("sign", "Why it is named", lambda p: p.sign),
        ),
        see=(
            "Slivers, chips, or a rise of two grades from one check to the next are findings "
            "(trade practice); else an engine is named where so much metal is rare "
            f"(under {text_percent(0.02)}) for the hours since its oil change."
        ),
    )


def _oils(t: Trends) -> Table:
    return table_of(
        t.oils,
        key="trends-oil",
        title="Oil use",
        columns=(
            col("engine", "Engine", lambda o: o.engine),
            col("hours", "Hours", lambda o: o.hours_h, "hours"),
            col("last", "Last", lambda o: o.last, "number"),
            col("usual", "Usual", lambda o: o.usual, "number"),
            col(
                "rise",
                "Rise per 100 h",
                lambda o: o.rise_per_100_h and o.rise_per_100_h.estimate,
                "number",
            ),
            col("sign", "Why it is named", lambda o: o.sign),
        ),
        see=(
            "Named where the rise is greater than the fleet's beyond the band, or the last reading "
            "is odd beside the engine's own; in the unit of the records."
        ),
    )
