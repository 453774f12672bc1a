"""The advice chart: each answer's band in hours beside claim and evidence horizon."""

from __future__ import annotations

import numpy as np

from fleetstats.advice.results import Results
from fleetstats.document.blocks import axis_words, hour_marks
from fleetstats.document.document import Axis, Figure, Layer, Panel
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
    spans: list[tuple[float, float, int]] = []
    open_ends: list[tuple[float, int]] = []
    marks: list[tuple[float, int]] = []
    for i, (_, low, estimate, high) in enumerate(rows):
        start = 0.0 if low is None else low
        if high is None:
            open_ends.append((last, i))
        spans.append((start, last if high is None else max(high, start), i))
        if estimate is not None:
            marks.append((estimate, i))
    layers = []
    n_band = 1 if results.advice.overhaul_band.plan_from.hours is not None else 0
    for role, label, part in (
        (
            "advice",
            "overhaul band"
            if results.advice.overhaul_band.state == "answered"
            else "what the records carry",
            spans[:n_band],
        ),
        ("estimate", "from pessimistic to optimistic edge", spans[n_band:]),
    ):
        if part:
            layers.append(
                Layer(
                    kind="spans",
                    role=role,
                    label=label,
                    x=np.array([s[0] for s in part]),
                    x2=np.array([s[1] for s in part]),
                    y=np.array([float(s[2]) for s in part]),
                    names=tuple(rows[s[2]][0] for s in part),
                )
            )
    if marks:
        layers.append(
            Layer(
                kind="points",
                role="optimum",
                label="best estimate",
                x=np.array([m[0] for m in marks]),
                y=np.array([float(m[1]) for m in marks]),
            )
        )
    if open_ends:
        layers.append(
            Layer(
                kind="points",
                role="running",
                label="no optimistic edge from these records",
                x=np.array([o[0] for o in open_ends]),
                y=np.array([float(o[1]) for o in open_ends]),
            )
        )
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
            if results.advice.overhaul_band.state == "answered"
            else "bar is no advice on age: it says how far the records carry, never past the "
            "evidence."
        ),
        alt=f"Horizontal bars in hours. {said}. Evidence ends at {h.supported_h:,.0f} hours.",
        panels=(
            Panel(
                x=Axis(label=axis_words(results), unit="h", low=0.0, high=last),
                y=Axis(label="", scale="category", categories=tuple(r[0] for r in rows)),
                layers=(*layers, *hour_marks(results, advice=False, last_h=last)),
            ),
        ),
        height=0.44 * len(rows) + 1.4,
    )


def _text(v: float | None) -> str:
    return "no edge" if v is None else hours_near(v)
