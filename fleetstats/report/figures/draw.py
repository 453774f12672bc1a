"""Draw any `Figure`.

Two widths are drawn: *wide* for a page or screen, *narrow* for a hand-held screen, where the same
picture scaled down would be unreadable. The bytes depend on the figure and the library's version
only: no date, no random names, no machine fonts.
"""

from __future__ import annotations

import numpy as np

from fleetstats.core.gate import FLAG, an, gate
from fleetstats.document.document import Figure
from fleetstats.report.figures.drawing import Drawing, PanelFrame
from fleetstats.report.figures.labels import (
    LINE_PT,
    SWATCH_PT,
    KeyEntry,
    draw_swatch,
    place_end_labels,
)
from fleetstats.report.figures.layers import ORDER, draw_layer
from fleetstats.report.figures.layout import PlacedPanel, key_height, lay_out
from fleetstats.report.figures.pen import WORDS, Pane, Pen, Stroke
from fleetstats.report.figures.style import MUTED, RULE, SIZE_PT, SMALL_PT

UNDER = 0.5
"""Order of the lines under all marks."""


FIGURE = an(Figure, "Give a figure of a document, as compose_report makes them.")


@gate(figure=FIGURE, narrow=FLAG)
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
    ArgumentError
        If an argument is not what it stands for.
    ReportError
        For an unknown role, kind or scale, or arrays that do not fit together.
    """
    out = lay_out(figure, narrow=narrow)
    width, height = out.width, out.height
    heading, pen = Pen(height=height), Pen(height=height)
    for i, line in enumerate(out.title):
        heading.text(2, height - 4 - 14.5 * i, line, size=SIZE_PT + 2.4, bold=True)
    canvas = Pane(pen=pen, left=0.0, bottom=0.0, width=width, height=height, x=(0.0, width),
                  y=(0.0, height))  # fmt: skip
    at = height - out.title_pt
    _draw_key(canvas, out.key, at)
    at -= key_height(out.key)
    for i, line in enumerate(out.y_titles):
        pen.text(2, at - LINE_PT * i, line, size=SMALL_PT, color=MUTED)
    for cell in out.cells:
        _draw_cell(canvas, cell)
    return Drawing(
        key=figure.key,
        width_pt=width,
        height_pt=height - out.title_pt,
        title_pt=out.title_pt,
        title=heading.body(),
        body=pen.body(),
        letters=pen.letters,
        title_letters=heading.letters,
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


def _draw_cell(canvas: Pane, cell: PlacedPanel) -> None:
    x, y = cell.x, cell.y
    pen = canvas.pen
    ax = Pane(
        pen=pen,
        left=cell.left,
        bottom=cell.bottom,
        width=cell.width,
        height=cell.height,
        x=(x.low, x.high),
        y=(y.high, y.low) if y.axis.scale == "category" else (y.low, y.high),
    )
    top = cell.top
    _draw_grid(ax, cell)
    for layer in sorted(cell.panel.layers, key=lambda p: ORDER.get(p.kind, 0)):
        draw_layer(ax, layer, x, y)
    _draw_ticks(canvas, cell)
    at = top + cell.head_pt - 2.0
    for line in cell.title:
        pen.text(cell.edge + 2, at, line, size=SIZE_PT + 0.4, bold=True)
        at -= 13.0
    _draw_key(canvas, cell.key, at)
    at -= cell.key_pt
    for line in cell.y_titles:
        pen.text(cell.edge + 2, at, line, size=SMALL_PT, color=MUTED)
        at -= LINE_PT
    for label in cell.tops:
        base = top + 3.0 + LINE_PT * label.row
        pen.text(label.left_pt, base, label.text, size=SMALL_PT, level="bottom")
        if label.is_line and label.row:
            canvas.line([label.mark_pt] * 2, [top, base], Stroke(label.color, 0.8), WORDS)
    for i, line in enumerate(cell.x_titles):
        pen.text(cell.left + cell.width, cell.bottom - 16.0 - LINE_PT * i, line, size=SMALL_PT,
                 color=MUTED, side="right")  # fmt: skip
    if cell.ends:
        _draw_ends(canvas, cell)


def _draw_key(canvas: Pane, key: tuple[KeyEntry, ...], top: float) -> None:
    for entry in key:
        mid = top - LINE_PT * (entry.row + 0.5)
        if entry.swatch:
            draw_swatch(canvas, entry.layer, entry.left_pt + 2, mid)
        left = entry.left_pt + SWATCH_PT + 4
        canvas.pen.text(left, mid, entry.text, size=SMALL_PT, level="middle")


def _draw_ends(canvas: Pane, cell: PlacedPanel) -> None:
    wanted = [(cell.place_y(at), text, color) for at, text, color in cell.ends]
    right = cell.left + cell.width
    labels = place_end_labels(wanted, cell.bottom - 2, cell.top + 6, cell.end_width - 12.0)
    for label in labels:
        stalk = Stroke(label.color, 1.2, cap="square")
        canvas.line([right + 2, right + 10], [label.wanted_pt, label.y_pt], stalk, WORDS)
        n = len(label.lines)
        for i, line in enumerate(label.lines):
            at = label.y_pt + 0.92 * LINE_PT * (0.5 * (n - 1) - i)
            canvas.pen.text(right + 13, at, line, size=SMALL_PT, level="middle")


def _draw_grid(ax: Pane, cell: PlacedPanel) -> None:
    """Draw the lines that lie under all marks."""
    x, y = cell.x, cell.y
    up, across = np.asarray(x.ticks), np.asarray(y.ticks)
    if y.axis.scale == "category":
        ax.strokes((up, up), ax.y, Stroke(RULE, 0.6), UNDER)
        between = across[1:] - 0.5
        ax.strokes(ax.x, (between, between), Stroke(RULE, 0.4), UNDER)
    else:
        ax.strokes(ax.x, (across, across), Stroke(RULE, 0.6), UNDER)
        if x.axis.scale != "category":
            ax.strokes((up, up), ax.y, Stroke(RULE, 0.35, (1.0, 2.5)), UNDER)


def _draw_ticks(canvas: Pane, cell: PlacedPanel) -> None:
    """Draw the axis line, its ticks and the words beside them."""
    x, y, pen = cell.x, cell.y, canvas.pen
    left, bottom, right, top = cell.left, cell.bottom, cell.left + cell.width, cell.top
    at_x = left + cell.width * (np.asarray(x.ticks) - x.low) / (x.high - x.low)
    small = left + cell.width * (np.asarray(x.minor) - x.low) / (x.high - x.low)
    axis = Stroke(MUTED, 0.8, cap="square")
    canvas.line([left, right], [bottom, bottom], axis, WORDS)
    canvas.strokes((at_x, at_x), (bottom - 3.5, bottom), Stroke(MUTED, 0.8), WORDS)
    canvas.strokes((small, small), (bottom - 2.0, bottom), Stroke(MUTED, 0.6), WORDS)
    for at, text in zip(at_x.tolist(), x.texts, strict=True):
        pen.text(at, bottom - 5.5, text, size=SMALL_PT, side="center")
    for tick, text in zip(y.ticks, y.texts, strict=True):
        at = cell.place_y(tick)
        if bottom - 1 <= at <= top + 1:
            pen.text(left - 5, at, text, size=SMALL_PT, side="right", level="middle")
