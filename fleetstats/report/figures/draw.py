"""Draw any `Figure` to SVG and PNG.

Two widths are drawn: *wide* for a page or screen, *narrow* for a hand-held screen, where the same
picture scaled down would be unreadable. The bytes depend on the figure and the library's version
only: no date, no random names, no machine fonts.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass

import numpy as np

from fleetstats.core.value import Value
from fleetstats.report.document import Figure
from fleetstats.report.figures.labels import (
    LINE_PT,
    SWATCH_PT,
    KeyEntry,
    draw_swatch,
    place_end_labels,
)
from fleetstats.report.figures.layers import ORDER, draw_layer
from fleetstats.report.figures.layout import Cell, key_height, lay_out
from fleetstats.report.figures.page_svg import crop_svg, tidy_svg
from fleetstats.report.figures.pen import ABOVE, Pane, make_sheet
from fleetstats.report.figures.scale import Scale
from fleetstats.report.figures.style import INK, MUTED, PAPER, RC, RULE, SIZE_PT, SMALL_PT


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class PanelFrame(Value):
    """Where a panel lies in the picture without its title (points from the top left), and what
    its axes span.
    """

    left: float
    top: float
    width: float
    height: float
    x: Scale
    y: Scale


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Drawing(Value):
    """A drawn figure: `svg` with its title, `bare_svg` without."""

    key: str
    svg: str
    bare_svg: str
    width_pt: float
    height_pt: float
    frames: tuple[PanelFrame, ...]


def draw_figure(figure: Figure, *, narrow: bool = False) -> Drawing:
    """Draw a figure.

    Parameters
    ----------
    figure : Figure
        What to draw; `height` is that of one row of panels, in inches, when drawn wide.
    narrow : bool
        Draw for a screen of 360 pixels: panels below each other, taller.

    Raises
    ------
    ReportError
        For an unknown role, kind or scale, or arrays that do not fit together.
    """
    import matplotlib as mpl

    with mpl.rc_context(RC), warnings.catch_warnings():
        # A letter that the font lacks is drawn as a box; that must not stop a report.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        out = lay_out(figure, narrow=narrow)
        width, height = out.width, out.height
        sheet = make_sheet(width, height, PAPER)
        canvas = Pane(sheet=sheet, left=0.0, bottom=0.0, width=width, height=height, order=ABOVE,
                      x=(0.0, width), y=(0.0, height))  # fmt: skip
        for i, line in enumerate(out.title):
            canvas.text(2, height - 4 - 14.5 * i, line, size=SIZE_PT + 2.4, va="top", color=INK,
                        weight="bold", gid=f"title-{i}")  # fmt: skip
        at = height - out.title_pt
        _draw_key(canvas, out.key, at)
        at -= key_height(out.key)
        for i, line in enumerate(out.y_titles):
            canvas.text(2, at - LINE_PT * i, line, size=SMALL_PT, color=MUTED, va="top")
        for cell in out.cells:
            _draw_cell(canvas, cell)
        raw = io.StringIO()
        sheet.savefig(raw, format="svg", metadata={"Date": None, "Creator": None})
    svg = tidy_svg(raw.getvalue())
    return Drawing(
        key=figure.key,
        svg=svg,
        bare_svg=crop_svg(svg, out.title_pt, len(out.title)),
        width_pt=width,
        height_pt=height - out.title_pt,
        frames=tuple(
            PanelFrame(
                left=c.left,
                top=height - out.title_pt - c.bottom - c.height,
                width=c.width,
                height=c.height,
                x=c.x,
                y=c.y,
            )
            for c in out.cells
        ),
    )


def _draw_cell(canvas: Pane, cell: Cell) -> None:
    x, y = cell.x, cell.y
    ax = Pane(
        sheet=canvas.sheet,
        left=cell.left,
        bottom=cell.bottom,
        width=cell.width,
        height=cell.height,
        x=(x.low, x.high),
        y=(y.high, y.low) if y.axis.scale == "category" else (y.low, y.high),
    )
    top = cell.top
    for layer in sorted(cell.panel.layers, key=lambda p: ORDER.get(p.kind, 0)):
        draw_layer(ax, layer, x, y)
    _draw_frame(ax, canvas, cell)
    at = top + cell.head_pt - 2.0
    for line in cell.title:
        canvas.text(cell.edge + 2, at, line, size=SIZE_PT + 0.4, weight="bold", va="top",
                    color=INK)  # fmt: skip
        at -= 13.0
    _draw_key(canvas, cell.key, at)
    at -= cell.key_pt
    for line in cell.y_titles:
        canvas.text(cell.edge + 2, at, line, size=SMALL_PT, color=MUTED, va="top")
        at -= LINE_PT
    for label in cell.tops:
        base = top + 3.0 + LINE_PT * label.row
        canvas.text(label.left_pt, base, label.text, size=SMALL_PT, color=INK, va="bottom")
        if label.is_line and label.row:
            canvas.plot([label.mark_pt] * 2, [top, base], color=label.color, lw=0.8)
    for i, line in enumerate(cell.x_titles):
        canvas.text(cell.left + cell.width, cell.bottom - 16.0 - LINE_PT * i, line, size=SMALL_PT,
                    color=MUTED, ha="right", va="top")  # fmt: skip
    if cell.ends:
        _draw_ends(canvas, cell)


def _draw_key(canvas: Pane, key: tuple[KeyEntry, ...], top: float) -> None:
    for entry in key:
        mid = top - LINE_PT * (entry.row + 0.5)
        if entry.swatch:
            draw_swatch(canvas, entry.layer, entry.left_pt + 2, mid)
        canvas.text(entry.left_pt + SWATCH_PT + 4, mid, entry.text, size=SMALL_PT, color=INK,
                    va="center_baseline")  # fmt: skip


def _draw_ends(canvas: Pane, cell: Cell) -> None:
    wanted = [(cell.place_y(at), text, color) for at, text, color in cell.ends]
    right = cell.left + cell.width
    labels = place_end_labels(wanted, cell.bottom - 2, cell.top + 6, cell.end_width - 12.0)
    for label in labels:
        canvas.plot([right + 2, right + 10], [label.wanted_pt, label.y_pt], color=label.color,
                    lw=1.2)  # fmt: skip
        n = len(label.lines)
        for i, line in enumerate(label.lines):
            at = label.y_pt + 0.92 * LINE_PT * (0.5 * (n - 1) - i)
            canvas.text(right + 13, at, line, size=SMALL_PT, color=INK, va="center_baseline")


def _draw_frame(ax: Pane, canvas: Pane, cell: Cell) -> None:
    """Draw grid, axis line and ticks."""
    x, y = cell.x, cell.y
    left, bottom, right, top = cell.left, cell.bottom, cell.left + cell.width, cell.top
    at_x = left + cell.width * (np.asarray(x.ticks) - x.low) / (x.high - x.low)
    small = left + cell.width * (np.asarray(x.minor) - x.low) / (x.high - x.low)
    at_y = np.asarray([cell.place_y(t) for t in y.ticks])
    if y.axis.scale == "category":
        ax.vlines(x.ticks, y.low, y.high, color=RULE, lw=0.6, zorder=0.5)
        ax.hlines(np.asarray(y.ticks[1:]) - 0.5, x.low, x.high, color=RULE, lw=0.4, zorder=0.5)
    else:
        ax.hlines(y.ticks, x.low, x.high, color=RULE, lw=0.6, zorder=0.5)
        if x.axis.scale != "category":
            ax.vlines(x.ticks, y.low, y.high, color=RULE, lw=0.35, ls=(0, (1, 2.5)), zorder=0.5)
    canvas.plot([left, right], [bottom, bottom], color=MUTED, lw=0.8)
    canvas.vlines(at_x, bottom - 3.5, bottom, color=MUTED, lw=0.8)
    canvas.vlines(small, bottom - 2.0, bottom, color=MUTED, lw=0.6)
    for at, text in zip(at_x, x.texts, strict=True):
        canvas.text(at, bottom - 5.5, text, size=SMALL_PT, color=INK, ha="center", va="top")
    for at, text in zip(at_y, y.texts, strict=True):
        if bottom - 1 <= at <= top + 1:
            canvas.text(left - 5, at, text, size=SMALL_PT, color=INK, ha="right",
                        va="center_baseline")  # fmt: skip
