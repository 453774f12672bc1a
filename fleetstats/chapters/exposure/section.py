"""Exposure: how many engines stand behind each age, where they entered, what was seen there."""

from __future__ import annotations

import math

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.core.value import Array, Floats
from fleetstats.document.blocks import axis_words, hour_marks, say
from fleetstats.document.document import (
    Axis,
    Block,
    Figure,
    Layer,
    Panel,
    Section,
    Table,
)
from fleetstats.document.glossary import explain
from fleetstats.document.table_of import ColumnOf, col, table_of
from fleetstats.spells.event import Event
from fleetstats.vocabulary.wording import failures_told, heads

LIVES_DRAWN = 400
"""More lives than that make lines too thin to see; then every k-th is drawn, and every failure."""

LIVES_TOLD = 20_000
"""Of more lives than that no sample of lines tells anything that the engines at risk do not."""

_EVENTS = (
    (Event.CENSORED, "running", "running or left without the failure"),
    (Event.FINDING, "finding", "removed on a finding"),
    (Event.COMPETING, "competing", "failed from another cause"),
    (Event.FAILED, "failure", "failed"),
)


def compose_exposure(results: Results) -> Section:
    """Return the fleet's timeline, engines at risk and exposure by age."""
    s = results.spells
    h = results.advice.horizon
    late = float(s.weight[s.entry > 0].sum())
    blocks: list[Block] = [
        say(
            f"{s.exposure_h:,.0f} engine hours were watched. "
            + " ".join(
                f"To {t:,.0f} h at least {heads(n, engines=h.counts_engines)} "
                f"{'was' if n == 1 else 'were'} seen."
                for n, t in h.counts
            )
        ),
        explain("exposure"),
        explain("at-risk"),
        at_risk_figure(results),
    ]
    if late > 0:
        total = float(s.weight.sum())
        median = half_of(s.entry[s.entry > 0], s.weight[s.entry > 0])
        blocks.append(
            say(
                f"{late:,.0f} of {total:,.0f} lives joined the records with hours on them (half of "
                f"these past {median:,.0f} h). Their earlier hours are not counted, since an "
                "engine that failed then would not have joined."
            )
        )
        blocks.append(explain("delayed-entry"))
    if s.weight.sum() <= LIVES_TOLD:
        blocks.append(fleet_figure(results))
    blocks.append(_bands(results))
    blocks.append(say(h.sentence, "extrapolation"))
    return Section(key="exposure", title="Exposure", blocks=tuple(blocks))


def half_of(hours: Array, weight: Array) -> float:
    """Return the hours below which half of the lives lie, each row counted by its weight.

    Parameters
    ----------
    hours : (n,) float
        One row each.
    weight : (n,) float
        How many lives it stands for.
    """
    order = np.argsort(hours, kind="stable")
    sums = np.cumsum(weight[order])
    half = 0.5 * sums[-1]
    low = int(np.searchsorted(sums, half, side="left"))
    high = min(int(np.searchsorted(sums, half, side="right")), len(hours) - 1)
    return float(0.5 * (hours[order][low] + hours[order][high]))


def at_risk_figure(results: Results) -> Figure:
    """Return the two panels: engines at risk by age, and engine hours by age band."""
    s = results.spells
    h = results.advice.horizon
    grid = np.unique(np.concatenate([[0.0], s.entry, s.exit_upper]))
    if len(grid) > 600:
        grid = np.unique(np.quantile(grid, np.linspace(0, 1, 600)))
    after = np.append(s.at_risk(np.nextafter(grid[:-1], np.inf)), 0.0)
    e = results.description.exposure
    x = Axis(label=axis_words(results), unit="h", low=0.0, high=float(max(e.high_h)))
    who = "engines" if h.counts_engines else "lives"
    horizon = [m for m in hour_marks(results, advice=False) if m.kind != "zone"]
    return Figure(
        key="at-risk",
        title=f"How many {who} stand behind each age",
        see=f"Left: {who} watched at each age; below {h.min_at_risk} the records say little. "
        "Right: the engine hours watched in each band of age.",
        alt=f"Left, a stepped line of {who} at risk that ends at {h.oldest_h:,.0f} hours and "
        f"falls below {h.min_at_risk} at {h.supported_h:,.0f} hours. Right, bars of engine hours "
        "by age.",
        columns=2,
        height=2.9,
        panels=(
            Panel(
                x=x,
                y=Axis(label=f"{who.capitalize()} at risk", low=0.0),
                layers=(
                    Layer(kind="step", role="estimate", label="at risk", x=grid, y=after),
                    Layer(
                        kind="hline",
                        role="target",
                        label=h.enough,
                        y=np.array([float(h.min_at_risk)]),
                    ),
                    *horizon,
                ),
            ),
            Panel(
                x=x,
                y=Axis(label="Engine hours in the band", unit="h", low=0.0),
                layers=(
                    Layer(
                        kind="bars",
                        role="running",
                        label="engine hours",
                        x=e.low_h,
                        x2=e.high_h,
                        high=e.exposure_h,
                        extrapolated_from=h.supported_h if h.supported_h > 0 else None,
                    ),
                ),
            ),
        ),
    )


def fleet_figure(results: Results) -> Figure:
    """Return one bar per life from entry to exit, by hours at the end."""
    s = results.spells
    order = np.lexsort((s.unit, s.exit_upper))
    n = len(order)
    thinned = n > LIVES_DRAWN
    if thinned:
        every = int(np.ceil(n / LIVES_DRAWN))
        keep = np.zeros(n, dtype=bool)
        keep[::every] = True
        if s.failed.sum() <= LIVES_DRAWN:
            keep |= s.failed[order]
        order = order[keep]
    y = np.arange(len(order), dtype=float)
    layers = []
    for event, role, label in _EVENTS:
        mine = s.event[order] == event
        if mine.any():
            layers.append(
                Layer(
                    kind="spans",
                    role=role,
                    label=label,
                    x=s.entry[order][mine],
                    x2=s.exit_upper[order][mine],
                    y=y[mine],
                    names=tuple(s.unit[order][mine].tolist()),
                )
            )
    dead = s.failed[order]
    if dead.any():
        layers.append(
            Layer(
                kind="points",
                role="failure",
                label="failure",
                x=s.exit_upper[order][dead],
                y=y[dead],
                names=tuple(s.unit[order][dead].tolist()),
            )
        )
    marks = [m for m in hour_marks(results, advice=False) if m.kind == "vline"]
    see = "Each bar is one life, from the hours at which it joined the records to its end."
    if thinned:
        see += f" Of {n:,} lives only every {every}th is drawn"
        see += ", and every failure." if s.failed.sum() <= LIVES_DRAWN else "."
    return Figure(
        key="fleet",
        title="Every life from entry to end",
        see=see,
        alt=f"{len(order)} horizontal bars sorted by hours at the end; "
        f"{int(dead.sum())} end in the failure in question.",
        panels=(
            Panel(
                x=Axis(label=axis_words(results), unit="h", low=0.0),
                y=Axis(label="Lives, fewest hours below"),
                layers=(*layers, *marks),
            ),
        ),
        height=float(np.clip(0.028 * len(order) + 1.6, 2.4, 7.5)),
    )


def _bands(results: Results) -> Table:
    left_out = results.spells.n_left_out
    e = results.description.exposure
    claim = results.settings.study.claimed_interval_h or math.inf
    side = f"one-sided {50 * (1 + e.level):g} %"

    def rate(key: str, title: str, per_h: Floats) -> ColumnOf[int]:
        return col(key, title, lambda i: float(1000 * per_h[i]), "number")

    return table_of(
        range(len(e.low_h)),
        key="exposure",
        title="Engine hours and failures by age",
        columns=(
            col("age_h", "Age", lambda i: f"{e.low_h[i]:,.0f} to {e.high_h[i]:,.0f} h"),
            col("lives", "Lives", lambda i: float(e.n_lives[i]), "count"),
            col("exposure_h", "Engine hours", lambda i: round(float(e.exposure_h[i])), "hours"),
            col("failures", "Failures", lambda i: float(e.n_failed[i]), "count"),
            rate("rate_low", f"Rate per 1,000 h, lower ({side})", e.rate_low_per_h),
            rate("rate", "Rate per 1,000 h", e.rate_per_h),
            rate("rate_high", f"Rate per 1,000 h, upper ({side})", e.rate_high_per_h),
            col("note", "Note", lambda i: "past the claim" if e.low_h[i] >= claim else ""),
        ),
        see="Limits are exact for counts (Garwood 1936). In all "
        f"{failures_told(float(e.n_failed.sum()), left_out)} in {results.spells.exposure_h:,.0f} "
        "engine hours. A band without failures is not one without risk: read its upper limit.",
    )
