"""The waterfall of a comparison: what moved the start of the overhaul band."""

from __future__ import annotations

import numpy as np

from fleetstats.core.units import text_hours
from fleetstats.document.document import Axis, Figure, Layer, Panel
from fleetstats.studies.compare.walk import Walk

STEP_NAMES = {
    "settings": "Settings",
    "hours": "Further hours",
    "endings": "How lives ended",
    "gone": "Engines left out",
    "new": "New engines",
}
"""Steps of the walk as labels of the figure."""


def walk_figure(walk: Walk) -> Figure | None:
    """Return the waterfall of plan-from; None unless both studies give one."""
    hours = [s.figure.plan_from_h for s in walk.steps]
    first, last = hours[0], hours[-1]
    if first is None or last is None:
        return None
    rows = ["The earlier study", *(STEP_NAMES[s.key] for s in walk.steps[1:]), "The later study"]
    spans: dict[str, list[tuple[float, float, int]]] = {"reference": [], "group-1": [],
                                                        "group-2": []}  # fmt: skip
    spans["reference"] = [(0.0, first, 0), (0.0, last, len(rows) - 1)]
    still: list[tuple[float, int]] = []
    silent: list[tuple[float, int]] = []
    at = first
    for i, h in enumerate(hours[1:], start=1):
        if h is None:
            silent.append((at, i))
            continue
        if h == at:
            still.append((h, i))
        else:
            spans["group-1" if h > at else "group-2"].append((min(at, h), max(at, h), i))
        at = h
    names = {"reference": "start of the overhaul band", "group-1": "moved later",
             "group-2": "moved earlier"}  # fmt: skip
    layers = [
        Layer(
            kind="spans",
            role=role,
            label=names[role],
            x=np.array([p[0] for p in part]),
            x2=np.array([p[1] for p in part]),
            y=np.array([float(p[2]) for p in part]),
            names=tuple(rows[p[2]] for p in part),
        )
        for role, part in spans.items()
        if part
    ]
    layers += [
        Layer(
            kind="points",
            role=role,
            label=label,
            x=np.array([p[0] for p in part]),
            y=np.array([float(p[1]) for p in part]),
        )
        for part, role, label in (
            (still, "horizon", "no move"),
            (silent, "group-3", "no hours advised at this step"),
        )
        if part
    ]
    top = 1.08 * max(h for h in hours if h is not None)
    said = "; ".join(f"{s.what}: {text_hours(s.figure.plan_from_h)}" for s in walk.steps)
    return Figure(
        key="advice-walk",
        title="What moved the start of the overhaul band",
        see="Each step begins where the one above it ended; the bars between the two studies add "
        "up to the whole move.",
        alt=f"Horizontal bars from the earlier study's hours to the later one's. {said}.",
        panels=(
            Panel(
                x=Axis(label="Hours at which planning begins", unit="h", low=0.0, high=top),
                y=Axis(label="", scale="category", categories=tuple(rows)),
                layers=tuple(layers),
            ),
        ),
        height=0.4 * len(rows) + 1.3,
    )
