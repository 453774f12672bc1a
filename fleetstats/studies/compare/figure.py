"""The waterfall of a comparison: what moved the start of the overhaul band."""

from __future__ import annotations

from collections.abc import Iterator

from fleetstats.core.units import text_hours
from fleetstats.document.document import Axis, Figure, Layer, Panel
from fleetstats.document.layers import bars_at, points_at
from fleetstats.studies.compare.attribution import Walk

STEP_NAMES = {
    "settings": "Settings",
    "reading": "Maps and rules",
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
                layers=tuple(_layers(hours, first, last, rows)),
            ),
        ),
        height=0.4 * len(rows) + 1.3,
    )


def _layers(
    hours: list[float | None], first: float, last: float, names: list[str]
) -> Iterator[Layer]:
    """Yield the bars of both studies and of each move, and the steps without a move or hours."""
    yield bars_at(
        "reference",
        "start of the overhaul band",
        [(0.0, first, 0), (0.0, last, len(names) - 1)],
        names,
    )
    later: list[tuple[float, float, int]] = []
    earlier: list[tuple[float, float, int]] = []
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
            (later if h > at else earlier).append((min(at, h), max(at, h), i))
        at = h
    if later:
        yield bars_at("group-1", "moved later", later, names)
    if earlier:
        yield bars_at("group-2", "moved earlier", earlier, names)
    if still:
        yield points_at("horizon", "no move", still)
    if silent:
        yield points_at("group-3", "no hours advised at this step", silent)
