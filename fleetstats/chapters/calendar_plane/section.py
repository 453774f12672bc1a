"""The plane of age and calendar: a picture of the lives, and tables by year, age and label."""

from __future__ import annotations

import numpy as np

from fleetstats.chapters.calendar_plane.values import CalendarPlane, PlaneCells
from fleetstats.core.value import Array
from fleetstats.document.blocks import say
from fleetstats.document.document import Axis, Block, Column, Figure, Layer, Panel, Section, Table
from fleetstats.document.table_of import col, table_of
from fleetstats.vocabulary.wording import count

LIVES_DRAWN = 400
"""More lives than that make a grey field; then every k-th is drawn, and every failure."""

MOST_PERIODS = 6
"""Columns of periods that a printed table bears; years are put together to as many."""

PER_H = 1000.0
"""Hours to which rates of a fleet are given."""


def compose_plane(plane: CalendarPlane) -> Section:
    """Return the section on age and calendar."""
    blocks: list[Block] = [say(plane.sentence), _figure(plane), _by_year(plane)]
    blocks.append(_by_age(plane))
    if len(plane.cells) > 1:
        blocks.append(_by_label(plane))
    n_open = int(np.count_nonzero(plane.open_days))
    if n_open:
        blocks.append(
            say(
                f"Of {count(n_open, 'life', 'lives')} one date is missing. What other engines fly "
                "in a year stands in for it, so the years of these hours are likely, not known.",
                "missing",
            )
        )
    return Section(key="calendar-plane", title="Age and calendar", blocks=tuple(blocks))


def _figure(plane: CalendarPlane) -> Figure:
    n, failed = len(plane.entry_year), plane.failed > 0
    step = max(1, -(-n // LIVES_DRAWN))
    shown = failed | (np.arange(n) % step == 0)
    of = "each life" if step == 1 else f"each failure and one in {step} of the other lives"

    def lives(which: Array, role: str, label: str) -> Layer:
        return Layer(
            kind="segments", role=role, label=label, x=plane.entry_year[which],
            x2=plane.exit_year[which], low=plane.entry_h[which], high=plane.exit_h[which],
        )  # fmt: skip

    layers = [
        lives(w, role, label)
        for w, role, label in (
            (shown & ~failed, "running", "a life without the failure"),
            (failed, "failure", "a life that ended in the failure"),
        )
        if np.any(w)
    ]
    if np.any(failed):
        layers.append(
            Layer(kind="points", role="failure", label="failed", x=plane.exit_year[failed],
                  y=plane.exit_h[failed])
        )  # fmt: skip
    return Figure(
        key="age-calendar",
        title="Lives by age and calendar",
        see=f"A line is {of}: the steeper, the more it was flown. Failures that crowd to the right "
        "at every height came of late; failures that lie at one height, whatever the year, come "
        "with hours.",
        alt="Slanting lines of lives, hours against calendar years, failures marked at their ends.",
        panels=(
            Panel(
                x=Axis(label="Calendar", unit="year", low=float(plane.years[0]),
                       high=float(plane.years[-1]) + 1.0),
                y=Axis(label="Hours", unit="h", low=0.0),
                layers=tuple(layers),
            ),
        ),
        height=3.8,
    )  # fmt: skip


def _by_year(plane: CalendarPlane) -> Table:
    def per(rate: float | None) -> float | None:
        return None if rate is None else PER_H * rate

    level = f"{100 * plane.level:g} %"
    return table_of(
        plane.lines,
        key="by-year",
        title="Hours at risk and failures by year",
        columns=(
            col("year", "Year", lambda x: str(x.year)),
            col("exposure_h", "Hours at risk", lambda x: x.exposure_h, "hours"),
            col("failed", "Failed", lambda x: x.n_failed, "count"),
            col("expected", "Expected at these ages", lambda x: round(x.expected, 2), "number"),
            col("rate", "Failures per 1,000 h", lambda x: per(x.rate_per_h), "number"),
            col("low", f"at least ({level} limits)", lambda x: per(x.low_per_h), "number"),
            col("high", "at most", lambda x: per(x.high_per_h), "number"),
        ),
        see="What is expected counts each age band at its rate over all years, so a fleet that "
        "grows older is expected to fail more often.",
    )


def _periods(plane: CalendarPlane) -> list[tuple[str, slice]]:
    """Return periods of equal whole years, the last ending with the records."""
    q = len(plane.years)
    width = -(-q // MOST_PERIODS)
    starts = list(range(q % width, q, width))
    if starts[0] > 0:
        starts.insert(0, 0)
    out = []
    for a, b in zip(starts, [*starts[1:], q], strict=True):
        first, last = int(plane.years[a]), int(plane.years[b - 1])
        out.append((str(first) if first == last else f"{first} to {last}", slice(a, b)))
    return out


def _cell(failed: float, hours: float) -> str:
    return f"{failed:g} in {hours:,.0f} h" if hours > 0 else "none seen"


def _by_age(plane: CalendarPlane) -> Table:
    whole, periods = plane.cells[0], _periods(plane)
    rows = []
    for i, (a, b) in enumerate(zip(plane.hour_edges, plane.hour_edges[1:], strict=False)):
        cells = [
            _cell(float(whole.failures[i, p].sum()), float(whole.exposure_h[i, p].sum()))
            for _, p in periods
        ]
        rows.append((f"{a:,.0f} to {b:,.0f} h", *cells))
    return Table(
        key="age-by-year",
        title="Failures and hours at risk by age and calendar",
        columns=(
            Column(key="age", title="Age"),
            *(Column(key=f"p{k}", title=t) for k, (t, _) in enumerate(periods)),
        ),
        rows=tuple(rows),
        see="Along a line the age is the same: what changes there is the time, not the age.",
    )


def _by_label(plane: CalendarPlane) -> Table:
    periods = _periods(plane)

    def line(c: PlaneCells) -> tuple[str, ...]:
        cells = [
            _cell(float(c.failures[:, p].sum()), float(c.exposure_h[:, p].sum()))
            for _, p in periods
        ]
        return (c.by, c.name or "not said", *cells)

    return Table(
        key="label-by-year",
        title="Failures and hours at risk by cause, build and source",
        columns=(
            Column(key="by", title="By"),
            Column(key="name", title="Which"),
            *(Column(key=f"p{k}", title=t) for k, (t, _) in enumerate(periods)),
        ),
        rows=tuple(line(c) for c in plane.cells[1:]),
        see="Every engine is at risk of every cause, so causes share the hours of all.",
        folded=len(plane.cells) > 20,
    )
