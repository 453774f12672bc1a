"""The advice chart: each answer's band in hours beside claim and evidence horizon."""

from __future__ import annotations

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.document.blocks import axis_words, hour_marks
from fleetstats.document.document import Axis, Figure, Layer, Panel
from fleetstats.document.layers import bars_at, points_at
from fleetstats.vocabulary.wording import hours_near

Row = tuple[str, float | None, float | None, float | None]


def advice_rows(results: Results) -> list[Row]:
    """Return the answers in hours: name, pessimistic edge, best estimate, optimistic edge."""
    a = results.advice
    rows: list[Row] = []
    b = a.overhaul_band
    if b.plan_from.hours is not None:
        rows.append(
            ("Overhaul band", b.plan_from.hours, b.expect_at.hours, b.not_beyond.hours)
            if b.state == "answered"
            else ("Records support", b.plan_from.hours, None, b.not_beyond.hours)
        )
    elif b.else_to_h is not None:
        rows.append(("Other targets carried", b.else_to_h, b.expect_at.hours, b.not_beyond.hours))
    c = a.risk.chosen
    if c is not None:
        rows.append((f"Risk of {100 * c.target:.3g} % a check", c.age.low, c.age.estimate,
                     c.age.high))  # fmt: skip
    life = a.reliability.life
    if life is not None:
        rows.append((f"{100 * a.reliability.target:g} % reach", life.low, life.estimate, life.high))
    o = a.cost.optimum
    if o is not None:
        rows.append(("Cheapest age", o.low, o.estimate, o.high))
    return rows


def advice_figure(results: Results) -> Figure | None:
    """Return the chart; None when no answer is in hours."""
    rows = advice_rows(results)
    if not rows:
        return None
    h = results.advice.horizon
    claim = results.settings.study.claimed_interval_h
    ends = [v for r in rows for v in r[1:] if v is not None and np.isfinite(v)]
    far = 1.6 * max(*ends, claim or 0.0)
    last = 1.06 * max(*ends, claim or 0.0, min(h.supported_h, far))
    answered = results.advice.overhaul_band.state == "answered"
    said = "; ".join(
        f"{name}: {_text(low)} to {_text(high)}" + (f", best {_text(e)}" if e is not None else "")
        for name, low, e, high in rows
    )
    return Figure(
        key="advice",
        title="At which hours, by each answer",
        see="Each bar runs from the pessimistic to the optimistic edge of one answer. The first "
        + (
            "bar is the advice: the earliest of the others, never past the evidence."
            if answered
            else "bar is no advice on age: it says how far the records carry, never past the "
            "evidence."
        ),
        alt=f"Horizontal bars in hours. {said}. Evidence ends at {h.supported_h:,.0f} hours.",
        panels=(
            Panel(
                x=Axis(label=axis_words(results), unit="h", low=0.0, high=last),
                y=Axis(label="", scale="category", categories=tuple(r[0] for r in rows)),
                layers=(
                    *_layers(results, rows, last),
                    *hour_marks(results, advice=False, last_h=last),
                ),
            ),
        ),
        height=0.44 * len(rows) + 1.4,
    )


def _layers(results: Results, rows: list[Row], last: float) -> list[Layer]:
    """Return the bars of band and answers, their best estimates, and the edges that are open."""
    band = results.advice.overhaul_band
    names = [r[0] for r in rows]
    bars = [
        (0.0 if low is None else low, last if high is None else max(high, low or 0.0), i)
        for i, (_, low, _, high) in enumerate(rows)
    ]
    n_band = 1 if (band.plan_from.hours, band.else_to_h) != (None, None) else 0
    band_label = "overhaul band" if band.state == "answered" else "what the records carry"
    marks = [(e, i) for i, (_, _, e, _) in enumerate(rows) if e is not None]
    open_ends = [(last, i) for i, (_, _, _, high) in enumerate(rows) if high is None]
    layers = [
        bars_at(role, label, part, names)
        for role, label, part in (
            ("advice", band_label, bars[:n_band]),
            ("estimate", "from pessimistic to optimistic edge", bars[n_band:]),
        )
        if part
    ]
    if marks:
        layers.append(points_at("optimum", "best estimate", marks))
    if open_ends:
        layers.append(points_at("running", "no optimistic edge from these records", open_ends))
    return layers


def _text(v: float | None) -> str:
    return "no edge" if v is None else hours_near(v)
