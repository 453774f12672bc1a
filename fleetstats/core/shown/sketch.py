"""A curve with its edges as a small picture for a notebook, in plain SVG and without a library.

A report draws its figures elsewhere, with all that a reader of one needs; this is a glance.
"""

from __future__ import annotations

import html
import math
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[Any]

WIDTH, HEIGHT = 460, 210
LEFT, RIGHT, TOP, BOTTOM = 52, 24, 10, 40
MOST_POINTS = 300
"""Points of a curve that are drawn: more cannot be told apart at this width."""
TICKS = 5


def curve_of(held: Any) -> tuple[str, Array, Array, Array, Array] | None:
    """Return the curve that a value is: its name, hours, middle and both edges.

    A value is one where `hours`, `low` and `high` are arrays of one length of at least 2; the
    middle is the first other such array after `hours`.
    """
    arrays = {f.name: x for f in fields(held) if isinstance(x := getattr(held, f.name), np.ndarray)}
    hours = arrays.pop("hours", None)
    if hours is None or len(hours) < 2 or not {"low", "high"} <= arrays.keys():
        return None
    low, high = arrays.pop("low"), arrays.pop("high")
    middle = next(((n, x) for n, x in arrays.items() if x.shape == hours.shape), None)
    if middle is None or low.shape != hours.shape or high.shape != hours.shape:
        return None
    return middle[0], hours, middle[1], low, high


def sketch(held: Any) -> str:
    """Return the picture of a value that is a curve, and nothing of another."""
    found = curve_of(held)
    if found is None:
        return ""
    field, hours, middle, low, high = found
    told = getattr(held, "name", field)
    name = html.escape(str(told).replace("_", " "))
    keep = np.unique(np.linspace(0, len(hours) - 1, MOST_POINTS).astype(int))
    hours, middle, low, high = (
        np.asarray(x, dtype=float)[keep] for x in (hours, middle, low, high)
    )
    steps = held._steps is not None
    if steps:
        begin, none = float(getattr(held, "start_h", 0.0)), [math.nan]
        hours = np.concatenate([[min(begin, hours[0])], hours])
        middle = np.concatenate([[held._steps], middle])
        low, high = np.concatenate([none, low]), np.concatenate([none, high])
    seen = np.concatenate([middle, low, high])
    seen = seen[np.isfinite(seen)]
    if not np.isfinite(hours).all() or not len(seen):
        return ""
    x = _Scale(min(0.0, float(hours.min())), float(hours.max()), LEFT, WIDTH - RIGHT)
    y = _Scale(min(0.0, float(seen.min())), float(seen.max()), HEIGHT - BOTTOM, TOP)
    parts = [*_axes(x, y, name), _ribbon(x, y, hours, low, high, steps)]
    parts.append(
        f'<path d="{_path(x, y, hours, middle, steps)}" fill="none" stroke="currentColor" '
        'stroke-width="1.6"/>'
    )
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'aria-label="{name} over hours, with its edges" '
        f'style="max-width: {WIDTH}px; width: 100%; display: block; font: 11px sans-serif">'
        + "".join(parts)
        + "</svg>"
    )


class _Scale:
    """Where a number stands on the picture, and at which round numbers a tick does."""

    def __init__(self, low: float, high: float, start: float, end: float) -> None:
        wide = (high - low) or 1.0
        step = 10.0 ** math.floor(math.log10(wide / TICKS))
        step *= next(m for m in (1, 2, 5, 10) if wide / (m * step) <= TICKS)
        self.step, self.low = step, math.floor(low / step) * step
        self.high = math.ceil(high / step - 1e-9) * step if high > low else low + 1.0
        self.start, self.end = start, end

    def at(self, value: float) -> float:
        """Return the place of one number."""
        share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def ticks(self) -> list[float]:
        """Return round numbers within the scale."""
        n = round((self.high - self.low) / self.step)
        return [self.low + i * self.step for i in range(n + 1)]


def _axes(x: _Scale, y: _Scale, name: str) -> list[str]:
    out = []
    for t in y.ticks():
        at = y.at(t)
        out.append(
            f'<path d="M{LEFT} {at:.1f}H{WIDTH - RIGHT}" stroke="currentColor" opacity="0.15"/>'
            f'<text x="{LEFT - 6}" y="{at + 4:.1f}" text-anchor="end" fill="currentColor">{t:,.6g}'
            "</text>"
        )
    out += [
        f'<text x="{x.at(t):.1f}" y="{HEIGHT - BOTTOM + 15}" text-anchor="middle" '
        f'fill="currentColor">{t:,.6g}</text>'
        for t in x.ticks()
    ]
    out.append(
        f'<text x="{WIDTH - RIGHT}" y="{HEIGHT - 6}" text-anchor="end" fill="currentColor" '
        f'opacity="0.75">{name} over hours</text>'
    )
    return out


def _ribbon(x: _Scale, y: _Scale, hours: Array, low: Array, high: Array, steps: bool) -> str:
    """Return what lies between the edges, a polygon for each stretch that has both."""
    both = np.isfinite(low) & np.isfinite(high)
    out = []
    for run in np.split(np.arange(len(hours)), np.flatnonzero(np.diff(both)) + 1):
        if len(run) > 1 and both[run[0]]:
            there = _path(x, y, hours[run], high[run], steps)
            points = _points(x, y, hours[run], low[run], steps)
            back = "".join(f"L{a:.1f} {b:.1f}" for a, b in reversed(points))
            out.append(f'<path d="{there}{back}Z" fill="currentColor" opacity="0.16"/>')
    return "".join(out)


def _points(
    x: _Scale, y: _Scale, hours: Array, values: Array, steps: bool
) -> list[tuple[float, float]]:
    out: list[tuple[float, float]] = []
    for h, v in zip(hours, values, strict=True):
        if steps and out and math.isfinite(out[-1][1]):
            out.append((x.at(h), out[-1][1]))
        out.append((x.at(h), y.at(v) if math.isfinite(v) else math.nan))
    return out


def _path(x: _Scale, y: _Scale, hours: Array, values: Array, steps: bool) -> str:
    out, pen = [], "M"
    for a, b in _points(x, y, hours, values, steps):
        if math.isfinite(b):
            out.append(f"{pen}{a:.1f} {b:.1f}")
        pen = "L" if math.isfinite(b) else "M"
    return "".join(out)
