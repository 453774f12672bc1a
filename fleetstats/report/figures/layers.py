"""Marks of each kind, drawn on axes whose scales are ready."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fleetstats.core.errors import ReportError
from fleetstats.core.value import Array
from fleetstats.document.document import KINDS, Layer
from fleetstats.report.figures.pen import Pane, Stroke, flat
from fleetstats.report.figures.scale import Scale
from fleetstats.report.figures.style import LOOKS, PAPER, Look

ORDER = {k: i for i, k in enumerate(("zone", "ribbon", "bars", "spans", "segments", "hline",
                                     "vline", "step", "line", "points"))}  # fmt: skip
"""Uncertainty lies under the estimate, whatever the order of the layers."""
BEYOND = (1.2, 2.4)
"""Dashes of lines beyond the evidence, in widths."""
HATCH_PT = {"beyond": 4.8, "horizon": 8.0}
"""Distance across of the lines of hatching."""


def look_of(layer: Layer) -> Look:
    """Return the look of a layer's role."""
    if layer.role not in LOOKS:
        raise ReportError(f"Figure: unknown role '{layer.role}'.", f"Use one of {sorted(LOOKS)}.")
    return LOOKS[layer.role]


def draw_layer(ax: Pane, layer: Layer, x: Scale, y: Scale) -> None:
    """Draw one layer; raises `ReportError` for an unknown kind or missing arrays."""
    if layer.kind not in KINDS:
        raise ReportError(f"Figure: unknown kind '{layer.kind}'.", f"Use one of {KINDS}.")
    need = NEEDS[layer.kind]
    for name in need:
        if getattr(layer, name) is None:
            raise ReportError(f"Figure: a layer of kind '{layer.kind}' needs '{name}'.")
    if len({len(getattr(layer, name)) for name in need}) > 1:
        raise ReportError(f"Figure: arrays of a '{layer.kind}' layer differ in length.")
    DRAW[layer.kind](ax, layer, x, y, look_of(layer), 2.0 + 0.1 * ORDER[layer.kind])


def _cut(
    layer: Layer, x: Scale, at: Array, *columns: Array, step: bool = False
) -> tuple[tuple[Array, ...], tuple[Array, ...]]:
    """Split rising places at the hours where evidence ends, meeting at that point."""
    if layer.extrapolated_from is None:
        empty = np.empty(0)
        return (at, *columns), (empty, *(empty for _ in columns))
    edge = float(x.place(layer.extrapolated_from))
    if not np.isfinite(edge):
        return (at, *columns), (np.empty(0), *(np.empty(0) for _ in columns))
    inside, outside = at <= edge, at > edge
    if inside.any() and outside.any():
        if step:
            meet = [c[inside][-1] for c in columns]
        else:
            meet = [np.interp(edge, at, c) for c in columns]
        first = (
            np.append(at[inside], edge),
            *(np.append(c[inside], m) for c, m in zip(columns, meet, strict=True)),
        )
        rest = (
            np.insert(at[outside], 0, edge),
            *(np.insert(c[outside], 0, m) for c, m in zip(columns, meet, strict=True)),
        )
        return first, rest  # fmt: skip
    return (at[inside], *(c[inside] for c in columns)), (
        at[outside],
        *(c[outside] for c in columns),
    )


def _line(ax: Pane, layer: Layer, x: Scale, y: Scale, look: Look, z: float) -> None:
    step = layer.kind == "step"
    seen, beyond = _cut(layer, x, x.place(layer.x), y.place(layer.y), step=step)
    if len(seen[0]):
        line = Stroke(look.color, look.width, look.dashes, cap="round")
        ax.line(seen[0], seen[1], line, z, step=step)
    if len(beyond[0]) > 1:
        line = Stroke(look.color, 0.7 * look.width, BEYOND, alpha=0.9)
        ax.line(beyond[0], beyond[1], line, z, step=step)


def _ribbon(ax: Pane, layer: Layer, x: Scale, y: Scale, look: Look, z: float) -> None:
    low, high = y.place(layer.low), y.place(layer.high)
    low = np.where(np.isneginf(low), y.low - 1.0, low)
    high = np.where(np.isposinf(high), y.high + abs(y.high) + 1.0, high)
    if y.axis.scale == "probability":
        low = np.where(np.isnan(low) & (np.asarray(layer.low) <= 0), y.low - 1.0, low)
        high = np.where(np.isnan(high) & (np.asarray(layer.high) >= 1), y.high + 1.0, high)
    seen, beyond = _cut(layer, x, x.place(layer.x), low, high)
    if len(seen[0]):
        ax.fill(seen[0], seen[1], seen[2], flat(look.color, look.alpha), z)
        for edge in seen[1:]:
            ax.line(seen[0], edge, Stroke(look.color, 0.7, alpha=0.55), z)
    if len(beyond[0]) > 1:
        hatched = ax.pen.hatched(look.color, 0.38, HATCH_PT["beyond"])
        ax.fill(beyond[0], beyond[1], beyond[2], hatched, z)
        for edge in beyond[1:]:
            ax.line(beyond[0], edge, Stroke(look.color, 0.7, BEYOND, alpha=0.7), z)


def _points(ax: Pane, layer: Layer, x: Scale, y: Scale, look: Look, z: float) -> None:
    px, py = x.place(layer.x), y.place(layer.y)
    inside = (px >= x.low) & (px <= x.high) & (py >= y.low) & (py <= y.high)
    many = len(px)
    size = 5.2 if many <= 60 else (3.8 if many <= 250 else 2.4)
    if layer.low is not None and layer.high is not None:
        low = np.clip(np.nan_to_num(y.place(layer.low), nan=y.low), y.low - 1, None)
        high = np.clip(np.nan_to_num(y.place(layer.high), nan=y.high), None, y.high + abs(y.high))
        keep = np.isfinite(px)
        at = px[keep]
        ax.strokes((at, at), (low[keep], high[keep]), Stroke(look.color, 1.1), z - 0.05)
    size *= {"*": 2.1, "|": 1.25}.get(look.marker, 1.0)
    ax.markers(px[inside], py[inside], look.marker, size, look.color, look.filled, z)


def _bars(ax: Pane, layer: Layer, x: Scale, y: Scale, look: Look, z: float) -> None:
    left, right = x.place(layer.x), x.place(layer.x2)
    top = y.place(layer.high)
    base = np.full_like(top, y.low) if layer.low is None else y.place(layer.low)
    if layer.low is None and y.axis.scale == "linear":
        base = np.zeros_like(top)
    gap = 0.04 * (right - left)
    sides = left + gap, right - gap
    ax.bars(sides, (base, top), flat(look.color, max(look.alpha, 0.4)), z)
    ax.strokes(sides, (top, top), Stroke(look.color, 1.4), z + 0.05)
    if layer.extrapolated_from is not None:
        far = np.asarray(layer.x) >= layer.extrapolated_from
        sides, ends = (sides[0][far], sides[1][far]), (base[far], top[far])
        ax.bars(sides, ends, flat(PAPER) + Stroke(look.color, 0.6).text(), z + 0.02)
        ax.bars(sides, ends, ax.pen.hatched(look.color, 1.0, HATCH_PT["beyond"]), z + 0.02)


def _spans(ax: Pane, layer: Layer, x: Scale, y: Scale, look: Look, z: float) -> None:
    left, right, at = x.place(layer.x), x.place(layer.x2), y.place(layer.y)
    rows = max(1.0, y.high - y.low)
    width = float(np.clip(0.62 * ax.height / rows, 0.6, 9.0))
    alpha = 1.0 if layer.role not in ("running", "censored") else 0.75
    ax.strokes((left, right), (at, at), Stroke(look.color, width, alpha=alpha), z)


def _segments(ax: Pane, layer: Layer, x: Scale, y: Scale, look: Look, z: float) -> None:
    across = x.place(layer.x), x.place(layer.x2)
    ax.strokes(across, (y.place(layer.low), y.place(layer.high)),
               Stroke(look.color, 0.7 * look.width, alpha=look.alpha), z)  # fmt: skip


def _vline(ax: Pane, layer: Layer, x: Scale, _y: Scale, look: Look, z: float) -> None:
    at = x.place(layer.x)
    at = at[(at >= x.low) & (at <= x.high)]
    ax.strokes((at, at), ax.y, Stroke(look.color, look.width, look.dashes), z)


def _hline(ax: Pane, layer: Layer, _x: Scale, y: Scale, look: Look, z: float) -> None:
    at = y.place(layer.y)
    at = at[(at >= y.low) & (at <= y.high)]
    ax.strokes(ax.x, (at, at), Stroke(look.color, look.width, look.dashes), z)


def _zone(ax: Pane, layer: Layer, x: Scale, _y: Scale, look: Look, z: float) -> None:
    left = float(x.place(layer.x)[0])
    right = float(x.place(layer.x2)[0])
    left = x.low if not np.isfinite(left) else max(left, x.low)
    right = x.high if not np.isfinite(right) else min(right, x.high)
    if right <= left:
        return
    fill = flat(look.color, 0.8 * look.alpha)
    if layer.role == "horizon":
        fill = ax.pen.hatched(look.color, 0.10, HATCH_PT["horizon"])
    ax.fill((left, right), *ax.y, fill, z)


DRAW: dict[str, Callable[[Pane, Layer, Scale, Scale, Look, float], None]] = {
    "line": _line,
    "step": _line,
    "ribbon": _ribbon,
    "points": _points,
    "bars": _bars,
    "spans": _spans,
    "segments": _segments,
    "vline": _vline,
    "hline": _hline,
    "zone": _zone,
}
"""Drawing of each kind."""

NEEDS = {
    "line": ("x", "y"),
    "step": ("x", "y"),
    "ribbon": ("x", "low", "high"),
    "points": ("x", "y"),
    "bars": ("x", "x2", "high"),
    "spans": ("x", "x2", "y"),
    "segments": ("x", "x2", "low", "high"),
    "vline": ("x",),
    "hline": ("y",),
    "zone": ("x", "x2"),
}
"""Arrays that each kind needs, of one length."""
