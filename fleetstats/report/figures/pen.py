"""Panels without axes: the few marks that figures need, put on the drawing library's sheet.

The layout has placed everything beforehand, so a panel needs no ticks, spines or scales of its own,
and making those would take longer than drawing the marks. A `Pane` answers to the names that the
library's axes have and makes the same marks of the library's own.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from fleetstats.core.value import Array

ABOVE = 100.0
"""Added to the order of words and frames: they lie above the marks of every panel."""


def make_sheet(width_pt: float, height_pt: float, color: str) -> Any:
    """Return an empty figure of the library, in points."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure as Sheet

    sheet = Sheet(figsize=(width_pt / 72.0, height_pt / 72.0), dpi=72, facecolor=color)
    FigureCanvasAgg(sheet)
    return sheet


@dataclass(slots=True, kw_only=True)
class Pane:
    """A frame on the sheet, in points from its bottom left, and the drawn places at its sides.

    Parameters
    ----------
    sheet : matplotlib Figure
    left, bottom, width, height : float
        The frame in points.
    x, y : (float, float)
        Drawn places at its left and right, and at its bottom and top. Marks outside are cut off.
    order : float
        Added to the order of every mark.
    """

    sheet: Any
    left: float
    bottom: float
    width: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]
    order: float = 0.0
    _points: Any = field(init=False)
    _frame: Any = field(init=False)

    def __post_init__(self) -> None:
        from matplotlib.transforms import Affine2D, Bbox, TransformedBbox

        self._points = Affine2D().scale(1.0 / 72.0) + self.sheet.dpi_scale_trans
        frame = Bbox.from_bounds(self.left, self.bottom, self.width, self.height)
        self._frame = TransformedBbox(frame, self._points)

    def at_x(self, x: Any) -> Array:
        """Return points from the left of the sheet for places on the x axis."""
        low, high = self.x
        return np.asarray(self.left + self.width * (np.asarray(x, float) - low) / (high - low))

    def at_y(self, y: Any) -> Array:
        """Return points from the bottom of the sheet for places on the y axis."""
        low, high = self.y
        return np.asarray(self.bottom + self.height * (np.asarray(y, float) - low) / (high - low))

    def _add(self, artist: Any) -> None:
        artist.set_transform(self._points)
        artist.set_zorder(artist.get_zorder() + self.order)
        if artist.get_clip_on():
            artist.set_clip_box(self._frame)
        self.sheet.add_artist(artist)

    def plot(self, x: Any, y: Any, **style: Any) -> None:
        """Draw a line or markers through points (n,)."""
        from matplotlib.lines import Line2D

        self._add(Line2D(self.at_x(x), self.at_y(y), **style))

    def vlines(self, x: Any, low: Any, high: Any, **style: Any) -> None:
        """Draw a vertical stroke at each of `x` (n,)."""
        self._strokes(self.at_x(x), self.at_y(low), self.at_x(x), self.at_y(high), style)

    def hlines(self, y: Any, left: Any, right: Any, **style: Any) -> None:
        """Draw a level stroke at each of `y` (n,)."""
        self._strokes(self.at_x(left), self.at_y(y), self.at_x(right), self.at_y(y), style)

    def axvline(self, x: float, **style: Any) -> None:
        """Draw a vertical line from side to side of the frame."""
        self.vlines([x], self.y[0], self.y[1], **style)

    def axhline(self, y: float, **style: Any) -> None:
        """Draw a level line from side to side of the frame."""
        self.hlines([y], self.x[0], self.x[1], **style)

    def _strokes(self, x1: Array, y1: Array, x2: Array, y2: Array, style: dict[str, Any]) -> None:
        from matplotlib.lines import Line2D

        a, b, c, d = (v.ravel() for v in np.broadcast_arrays(*map(np.atleast_1d, (x1, y1, x2, y2))))
        gap = np.full(len(a), np.nan)
        x, y = np.column_stack([a, c, gap]).ravel(), np.column_stack([b, d, gap]).ravel()
        self._add(Line2D(x, y, solid_capstyle="butt", dash_capstyle="butt", **style))

    def fill_between(self, x: Any, low: Any, high: Any, **style: Any) -> None:
        """Fill between two lines over `x` (n,), broken where one is not finite."""
        t, a, b = np.broadcast_arrays(self.at_x(x), self.at_y(low), self.at_y(high))
        good = np.concatenate([[False], np.isfinite(t) & np.isfinite(a) & np.isfinite(b), [False]])
        ends = np.flatnonzero(good[1:] != good[:-1])
        shapes = []
        for i, j in zip(ends[::2], ends[1::2], strict=True):
            there, back = np.column_stack([t, a])[i:j], np.column_stack([t, b])[i:j]
            shapes.append(np.concatenate([there, back[::-1]]))
        self._fill(shapes, style)

    def bar(self, left: Any, height: Any, width: Any, *, bottom: Any, **style: Any) -> None:
        """Fill a rectangle for each of `left` (n,)."""
        low, high = self.at_y(bottom), self.at_y(np.asarray(bottom) + np.asarray(height))
        a, b = self.at_x(left), self.at_x(np.asarray(left) + np.asarray(width))
        corners = np.stack(
            [np.stack(p, axis=-1) for p in ((a, low), (a, high), (b, high), (b, low))]
        )
        self._fill([c for c in corners.swapaxes(0, 1) if np.isfinite(c).all()], style)

    def axvspan(self, left: float, right: float, **style: Any) -> None:
        """Fill the frame from one place to another."""
        self.fill_between([left, right], self.y[0], self.y[1], **style)

    def _fill(self, shapes: list[Array], style: dict[str, Any]) -> None:
        from matplotlib.collections import PolyCollection

        if shapes:
            self._add(PolyCollection(shapes, **style))

    def text(self, x: float, y: float, words: str, **style: Any) -> None:
        """Write a line of text."""
        from matplotlib.text import Text

        self._add(Text(float(self.at_x(x)), float(self.at_y(y)), words, clip_on=False, **style))
