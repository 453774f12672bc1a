"""Marks of each kind, drawn on axes whose scales are ready."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from fleetstats.core.errors import ReportError
from fleetstats.core.value import Array
from fleetstats.report.document import KINDS, Layer
from fleetstats.report.figures.scale import Scale
from fleetstats.report.figures.style import LOOKS, PAPER, Look

ORDER = {k: i for i, k in enumerate(("zone", "ribbon", "bars", "spans", "hline", "vline",
                                     "step", "line", "points"))}  # fmt: skip
"""Uncertainty lies under the estimate, whatever the order of the layers."""


def look_of(layer: Layer) -> Look:
    """Return the look of a layer's role."""
    if layer.role not in LOOKS:
        raise ReportError(f"Figure: unknown role '{layer.role}'.", f"Use one of {sorted(LOOKS)}.")
    return LOOKS[layer.role]


def draw_layer(ax: Any, layer: Layer, x: Scale, y: Scale) -> None:
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


def _line(ax: Any, layer: Layer, x: Scale, y: Scale, look: Look, z: float) -> None:
    step = layer.kind == "step"
    seen, beyond = _cut(layer, x, x.place(layer.x), y.place(layer.y), step=step)
    style = {"drawstyle": "steps-post"} if step else {}
    dash = (0, look.dashes) if look.dashes else "solid"
    if len(seen[0]):
        ax.plot(*seen, color=look.color, lw=look.width, ls=dash, zorder=z,
                solid_capstyle="round", solid_joinstyle="round", **style)  # fmt: skip
    if len(beyond[0]) > 1:
        ax.plot(*beyond, color=look.color, lw=look.width * 0.7, ls=(0, (1.2, 2.4)), zorder=z,
                alpha=0.9, **style)  # fmt: skip


def _ribbon(ax: Any, layer: Layer, x: Scale, y: Scale, look: Look, z: float) -> None:
    low, high = y.place(layer.low), y.place(layer.high)
    low = np.where(np.isneginf(low), y.low - 1.0, low)
    high = np.where(np.isposinf(high), y.high + abs(y.high) + 1.0, high)
    if y.axis.scale == "probability":
        low = np.where(np.isnan(low) & (np.asarray(layer.low) <= 0), y.low - 1.0, low)
        high = np.where(np.isnan(high) & (np.asarray(layer.high) >= 1), y.high + 1.0, high)
    seen, beyond = _cut(layer, x, x.place(layer.x), low, high)
    if len(seen[0]):
        ax.fill_between(*seen, facecolor=look.color, alpha=look.alpha, lw=0, zorder=z)
        for edge in (seen[1], seen[2]):
            ax.plot(seen[0], edge, color=look.color, lw=0.7, alpha=0.55, zorder=z)
    if len(beyond[0]) > 1:
        ax.fill_between(*beyond, facecolor="none", edgecolor=look.color, hatch="/////",
                        alpha=0.38, lw=0, zorder=z)  # fmt: skip
        for edge in (beyond[1], beyond[2]):
            ax.plot(beyond[0], edge, color=look.color, lw=0.7, ls=(0, (1.2, 2.4)), alpha=0.7,
                    zorder=z)  # fmt: skip


def _points(ax: Any, layer: Layer, x: Scale, y: Scale, look: Look, z: float) -> None:
    px, py = x.place(layer.x), y.place(layer.y)
    inside = (px >= x.low) & (px <= x.high) & (py >= y.low) & (py <= y.high)
    many = len(px)
    size = 5.2 if many <= 60 else (3.8 if many <= 250 else 2.4)
    if layer.low is not None and layer.high is not None:
        low = np.clip(np.nan_to_num(y.place(layer.low), nan=y.low), y.low - 1, None)
        high = np.clip(np.nan_to_num(y.place(layer.high), nan=y.high), None, y.high + abs(y.high))
        keep = np.isfinite(px)
        ax.vlines(px[keep], low[keep], high[keep], color=look.color, lw=1.1, zorder=z - 0.05)
    bare = look.marker in "|_"
    ax.plot(
        px[inside],
        py[inside],
        ls="none",
        clip_on=False,
        marker=look.marker,
        ms=size * {"*": 2.1, "|": 1.25}.get(look.marker, 1.0),
        mfc=look.color if look.filled else PAPER,
        mec=look.color if bare or not look.filled else PAPER,
        mew=1.1 if bare or not look.filled else 0.5,
        zorder=z,
    )


def _bars(ax: Any, layer: Layer, x: Scale, y: Scale, look: Look, z: float) -> None:
    left, right = x.place(layer.x), x.place(layer.x2)
    top = y.place(layer.high)
    base = np.full_like(top, y.low) if layer.low is None else y.place(layer.low)
    if layer.low is None and y.axis.scale == "linear":
        base = np.zeros_like(top)
    gap = 0.04 * (right - left)
    ax.bar(left + gap, top - base, right - left - 2 * gap, bottom=base,
           facecolor=look.color, alpha=max(look.alpha, 0.4), lw=0, zorder=z)  # fmt: skip
    ax.hlines(top, left + gap, right - gap, color=look.color, lw=1.4, zorder=z + 0.05)
    if layer.extrapolated_from is not None:
        far = np.asarray(layer.x) >= layer.extrapolated_from
        if far.any():
            ax.bar((left + gap)[far], (top - base)[far], (right - left - 2 * gap)[far],
                   bottom=base[far], facecolor=PAPER, edgecolor=look.color,
                   hatch="/////", lw=0.6, zorder=z + 0.02)  # fmt: skip


def _spans(ax: Any, layer: Layer, x: Scale, y: Scale, look: Look, z: float) -> None:
    left, right, at = x.place(layer.x), x.place(layer.x2), y.place(layer.y)
    rows = max(1.0, y.high - y.low)
    width = float(np.clip(0.62 * ax.height / rows, 0.6, 9.0))
    ax.hlines(at, left, right, color=look.color, lw=width, zorder=z,
              alpha=1.0 if layer.role not in ("running", "censored") else 0.75)  # fmt: skip


def _vline(ax: Any, layer: Layer, x: Scale, _y: Scale, look: Look, z: float) -> None:
    dash = (0, look.dashes) if look.dashes else "solid"
    for at in x.place(layer.x):
        if x.low <= at <= x.high:
            ax.axvline(at, color=look.color, lw=look.width, ls=dash, zorder=z)


def _hline(ax: Any, layer: Layer, _x: Scale, y: Scale, look: Look, z: float) -> None:
    dash = (0, look.dashes) if look.dashes else "solid"
    for at in y.place(layer.y):
        if y.low <= at <= y.high:
            ax.axhline(at, color=look.color, lw=look.width, ls=dash, zorder=z)


def _zone(ax: Any, layer: Layer, x: Scale, _y: Scale, look: Look, z: float) -> None:
    left = float(x.place(layer.x)[0])
    right = float(x.place(layer.x2)[0])
    left = x.low if not np.isfinite(left) else max(left, x.low)
    right = x.high if not np.isfinite(right) else min(right, x.high)
    if right <= left:
        return
    hatched = layer.role == "horizon"
    ax.axvspan(left, right, facecolor="none" if hatched else look.color, alpha=look.alpha * 0.8,
               lw=0, zorder=z)  # fmt: skip
    if hatched:
        ax.axvspan(left, right, facecolor="none", edgecolor=look.color, hatch="///", alpha=0.10,
                   lw=0, zorder=z)  # fmt: skip


DRAW: dict[str, Callable[[Any, Layer, Scale, Scale, Look, float], None]] = {
    "line": _line,
    "step": _line,
    "ribbon": _ribbon,
    "points": _points,
    "bars": _bars,
    "spans": _spans,
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
    "vline": ("x",),
    "hline": ("y",),
    "zone": ("x", "x2"),
}
"""Arrays that each kind needs, of one length."""
