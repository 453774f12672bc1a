"""Layers that many figures share: marks at hours, bars and points on a list of names."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fleetstats.document.document import Layer


def mark_at(role: str, label: str, at: float) -> Layer:
    """Return a vertical line at a place of the x axis, such as hours."""
    return Layer(kind="vline", role=role, label=label, x=np.array([at]))


def evidence_ends(hours: float) -> Layer:
    """Return the vertical line at the hours where the evidence ends."""
    return mark_at("horizon", f"evidence ends {hours:,.0f} h", hours)


def bars_at(
    role: str, label: str, bars: Sequence[tuple[float, float, int]], names: Sequence[str]
) -> Layer:
    """Return horizontal bars, each from x to x2 at a place of the category axis `names`."""
    return Layer(
        kind="spans",
        role=role,
        label=label,
        x=np.array([b[0] for b in bars]),
        x2=np.array([b[1] for b in bars]),
        y=np.array([float(b[2]) for b in bars]),
        names=tuple(names[b[2]] for b in bars),
    )


def points_at(role: str, label: str, points: Sequence[tuple[float, int]]) -> Layer:
    """Return points, each at x and a place of a category axis."""
    return Layer(
        kind="points",
        role=role,
        label=label,
        x=np.array([p[0] for p in points]),
        y=np.array([float(p[1]) for p in points]),
    )
