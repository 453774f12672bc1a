"""Each engine: watch list with reasons, and those past the evidence set apart."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.chapters.ahead.outlook_curves import Chance
from fleetstats.chapters.ahead.outlook_values import EngineOutlook, Outlook
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
from fleetstats.document.layers import evidence_ends
from fleetstats.document.table_of import ColumnOf, col, table_of

TOP = 15
"""Engines of the watch list that are shown open; the folded table holds all."""


def compose_outlook(o: Outlook) -> Section:
    """Return the section on each engine's outlook."""
    blocks: list[Block] = [Statement(text=o.sentences[0], tone="answer")]
    for s in o.sentences[1:-1]:
        apart = "where the evidence ends" in s
        blocks.append(Statement(text=s, tone="extrapolation" if apart else "fact"))
    blocks.append(Statement(text=o.sentences[-1], tone="caution"))
    if o.ranked:
        blocks.append(_watch_list(o))
    blocks.append(
        Explain(
            term="remaining life",
            text="The further hours within which one in ten of engines of this age fails in the "
            "way in question. It says nothing certain of the one engine.",
        )
    )
    blocks += [_figure(o), _all(o)]
    if o.apart:
        blocks.append(_apart(o))
    return Section(key="outlook", title="Which engines to look at first", blocks=tuple(blocks))


def _watch_list(o: Outlook) -> Table:
    return table_of(
        o.ranked[:TOP],
        key="outlook-watch-list",
        title="Watch list, worst first",
        columns=(
            col("rank", "Place", lambda e: e.rank, "count"),
            col("engine", "Engine", lambda e: e.engine),
            col("hours", "Hours", lambda e: e.age_h, "hours"),
            col("reason", "Why", lambda e: e.reason),
        ),
        see=(
            "Signs at checks come first, then the upper edge of the chance of failing within the "
            "next 100 h, so that doubt puts an engine up the list."
        ),
    )


def _three(
    key: str, title: str, chance: Callable[[EngineOutlook], Chance | None]
) -> tuple[ColumnOf[EngineOutlook], ...]:
    def part(name: str) -> Callable[[EngineOutlook], float | None]:
        return lambda e: None if (c := chance(e)) is None else getattr(c, name)

    return (
        col(key, title, part("estimate"), "percent"),
        col(f"{key}_low", "low", part("low"), "percent", edge="low"),
        col(f"{key}_high", "high", part("high"), "percent", edge="high"),
    )


def _all(o: Outlook) -> Table:
    return table_of(
        o.ranked,
        key="outlook-engines",
        title="Every engine within the evidence",
        columns=(
            col("rank", "Place", lambda e: e.rank, "count"),
            col("engine", "Engine", lambda e: e.engine),
            col("source", "Source", lambda e: e.source),
            col("build", "Build", lambda e: e.build),
            col("hours", "Hours", lambda e: e.age_h, "hours"),
            col("read_on", "Read on", lambda e: e.read_on, "date"),
            *_three("check", f"Chance of failing within {o.check_h:g} h", lambda e: e.next_check),
            *_three("next_100", "within 100 h", lambda e: e.next_100),
            *_three("overhaul", "to the planned overhaul", lambda e: e.to_overhaul),
            col("remaining", "One in ten fails within", lambda e: e.remaining_h, "hours"),
            col("remaining_low", "low", lambda e: e.remaining_low_h, "hours"),
            col("remaining_high", "high", lambda e: e.remaining_high_h, "hours"),
            col("worn", "Engines with fewer hours", lambda e: e.worn, "percent"),
            col("signs", "Signs", lambda e: "; ".join(s.text for s in e.signs)),
        ),
        see="Hours left are empty where they would lie past the evidence; the chance to the "
        "planned overhaul is empty where none is planned or it is past. Chances are averaged over "
        "laws of life and drawn towards the fleet's own rate as far as too few failed to tell; "
        "their edges are not.",
        folded=True,
    )


def _apart(o: Outlook) -> Table:
    return table_of(
        o.apart,
        key="outlook-apart",
        title="Engines older than the evidence reaches, not ranked",
        columns=(
            col("engine", "Engine", lambda e: e.engine),
            col("hours", "Hours", lambda e: e.age_h, "hours"),
            col("read_on", "Read on", lambda e: e.read_on, "date"),
            col("doubt", "Doubts", lambda e: "; ".join(s.text for s in e.signs)),
        ),
        see="Too few engines were ever watched at these ages to say how likely a failure is.",
    )


def _figure(o: Outlook) -> Figure:
    within = [e for e in o.engines if not e.beyond]
    past = [e for e in o.engines if e.beyond]
    layers = []
    if within:
        layers.append(_points(within, "running", "running engine, with its band"))
    marked = [e for e in within if any(s.weight > 1 for s in e.signs)]
    if marked:
        layers.append(_points(marked, "finding", "with a sign at its checks", bars=False))
    layers.append(evidence_ends(o.horizon_h))
    last = max((e.age_h for e in past), default=o.horizon_h)
    if past:
        layers.append(
            Layer(
                kind="zone", role="horizon", x=np.array([o.horizon_h]), x2=np.array([1.02 * last])
            )
        )
    return Figure(
        key="outlook-chances",
        title="Chance of failing within the next 100 h",
        see="Each mark is one running engine; the bar is its band. "
        + (f"{len(past)} engines past the evidence have no mark." if past else ""),
        alt="Points with bars: chance of failing within the next 100 h against the hours of each "
        "running engine, and the hours at which the evidence ends.",
        panels=(
            Panel(
                x=Axis(label="Hours of the engine", unit="h", low=0.0),
                y=Axis(label="Chance within 100 h", unit="%", low=0.0),
                layers=tuple(layers),
            ),
        ),
    )


def _points(engines: list[EngineOutlook], role: str, label: str, *, bars: bool = True) -> Layer:
    def column(name: str) -> list[float]:
        values = [getattr(e.next_100, name) for e in engines]
        missing = {"low": 0.0, "high": 100.0}.get(name, np.nan)
        return [missing if v is None else 100.0 * v for v in values]

    return Layer(
        kind="points",
        role=role,
        label=label,
        x=np.array([e.age_h for e in engines]),
        y=np.array(column("estimate")),
        low=np.array(column("low")) if bars else None,
        high=np.array(column("high")) if bars else None,
        names=tuple(e.engine for e in engines),
    )
