"""Where everything in a figure goes: all words are measured first, then each panel gets its place.

All places are in points from the bottom left of the picture.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from fleetstats.document.document import Figure, Panel
from fleetstats.report.figures.glyphs import clean, measure
from fleetstats.report.figures.labels import (
    LINE_PT,
    KeyEntry,
    TopLabel,
    ends_at_right,
    place_key,
    place_top_labels,
    shorten,
    wrap,
)
from fleetstats.report.figures.layers import look_of
from fleetstats.report.figures.scale import Scale, axis_title, make_scales
from fleetstats.report.figures.style import SIZE_PT, SMALL_PT

WIDE_PT = 520.0
NARROW_PT = 268.0
GAP_PT = 16.0


@dataclass(slots=True, kw_only=True)
class PlacedPanel:
    """Working sheet of one panel."""

    panel: Panel
    x: Scale
    y: Scale
    edge: float
    left: float
    width: float
    title: list[str]
    key: tuple[KeyEntry, ...]
    y_titles: list[str]
    x_titles: list[str]
    tops: tuple[TopLabel, ...]
    ends: list[tuple[float, str, str]]
    end_width: float
    bottom: float = 0.0
    height: float = 0.0

    @property
    def top(self) -> float:
        """Top edge of the axes."""
        return self.bottom + self.height

    def place_y(self, at: float) -> float:
        """Return the height in points of a drawn place on the y axis."""
        share = (at - self.y.low) / (self.y.high - self.y.low)
        if self.y.axis.scale == "category":  # the first category stands on top
            share = 1.0 - share
        return self.bottom + self.height * share

    @property
    def key_pt(self) -> float:
        """Height of the key above the panel."""
        return key_height(self.key)

    @property
    def head_pt(self) -> float:
        """Height of all that stands above the axes."""
        top_rows = 1 + max((t.row for t in self.tops), default=-1)
        head = 13.0 * len(self.title) + self.key_pt + LINE_PT * len(self.y_titles)
        return head + LINE_PT * top_rows + 6.0

    @property
    def foot_pt(self) -> float:
        """Height of all that stands below the axes."""
        return 14.0 + (LINE_PT * len(self.x_titles) + 3.0 if self.x_titles else 0.0)


@dataclass(slots=True, kw_only=True)
class Layout:
    """A figure laid out: its panels, its title and what all panels share."""

    width: float
    height: float
    title: list[str]
    title_pt: float
    key: tuple[KeyEntry, ...]
    y_titles: list[str]
    cells: list[PlacedPanel]


def key_height(key: tuple[KeyEntry, ...]) -> float:
    """Return the height of a key in points; 0 for none."""
    return LINE_PT * (1 + max(k.row for k in key)) + 4.0 if key else 0.0


def lay_out(figure: Figure, *, narrow: bool) -> Layout:
    """Place the panels of a figure for a wide or a narrow screen."""
    width = NARROW_PT if narrow else WIDE_PT
    n = len(figure.panels)
    columns = max(1, min(figure.columns, n))
    if narrow:
        columns = 2 if columns > 2 and n > 5 else 1
    each = (width - GAP_PT * (columns - 1)) / columns
    body = figure.height * 72.0
    if narrow:
        body = 165.0 if figure.height < 4.5 else 0.85 * body
        body = 105.0 if columns == 2 else body
    title = wrap(figure.title, width - 4, SIZE_PT + 3.2) if figure.title else []
    title_pt = 14.5 * len(title) + 9.0 if title else 0.0
    shared = _shared_key(figure.panels) if n > 1 else None
    key = place_key(shared, 0.0, width) if shared else ()
    y_words = {axis_title(p.y) for p in figure.panels}
    one_y = n > 2 and columns > 1 and len(y_words) == 1
    one_x = n > 1 and len({(axis_title(p.x), p.x.scale) for p in figure.panels}) == 1
    rows: list[list[PlacedPanel]] = []
    for i, panel in enumerate(figure.panels):
        if i % columns == 0:
            rows.append([])
        rows[-1].append(
            _measure(
                panel,
                left=(i % columns) * (each + GAP_PT),
                width=each,
                height=body,
                ends=columns == 1 and not narrow,
                own_key=shared is None,
                y_title=not one_y,
                x_title=not one_x or (i + columns >= n),
            )
        )
    _align(rows)
    y_titles = wrap(next(iter(y_words)), width - 4) if one_y and next(iter(y_words)) else []
    at = title_pt + key_height(key) + LINE_PT * len(y_titles)
    for row in rows:
        head = max(c.head_pt for c in row)
        foot = max(c.foot_pt for c in row)
        inner = body if narrow else max(64.0, body - 0.5 * (head + foot))
        for cell in row:
            cell.height = inner
            cell.bottom = at + head + inner
        at += head + inner + foot + (8.0 if row is not rows[-1] else 2.0)
    for cell in (c for row in rows for c in row):
        cell.bottom = at - cell.bottom
    return Layout(
        width=width,
        height=at,
        title=title,
        title_pt=title_pt,
        key=key,
        y_titles=y_titles,
        cells=[c for row in rows for c in row],
    )


def _align(rows: list[list[PlacedPanel]]) -> None:
    """Give the panels below each other the same left margin."""
    for k in range(len(rows[0]) if rows else 0):
        column = [row[k] for row in rows if k < len(row)]
        inset = max(c.left - c.edge for c in column)
        for cell in column:
            more = cell.edge + inset - cell.left
            cell.left += more
            cell.width -= more
            cell.x = _thin(cell.x, cell.width)
            cell.tops = place_top_labels(cell.panel, cell.x, cell.left, cell.width)


def _shared_key(panels: tuple[Panel, ...]) -> list | None:  # type: ignore[type-arg]
    """Return the layers of the fullest panel when its key serves all panels, else None."""
    kinds = [{(p.label, p.role) for p in panel.layers if p.label and p.kind not in
              ("vline", "zone")} for panel in panels]  # fmt: skip
    i = max(range(len(panels)), key=lambda k: len(kinds[k]))
    if not kinds[i] or any(not k <= kinds[i] for k in kinds):
        return None
    return [p for p in panels[i].layers if p.kind not in ("vline", "zone")]


def _measure(
    panel: Panel,
    *,
    left: float,
    width: float,
    height: float,
    ends: bool,
    own_key: bool,
    y_title: bool,
    x_title: bool,
) -> PlacedPanel:
    x, y = make_scales(panel, width_pt=0.82 * width, height_pt=height)
    texts = y.texts
    if y.axis.scale == "category":
        texts = tuple(shorten(clean(t), 0.36 * width) for t in y.texts)
    inset = max((measure(t) for t in texts), default=-2.0) + 8.0
    y = Scale(axis=y.axis, low=y.low, high=y.high, ticks=y.ticks, texts=texts, minor=y.minor)
    labels = end_layers(panel, x, y) if ends and own_key else []
    end_width = 0.0
    if labels:
        limit = 0.2 * width
        end_width = max(measure(line) for _, t, _ in labels for line in wrap(t, limit)) + 14.0
    edge = max(6.0, 0.5 * measure(x.texts[-1]) if x.texts else 0.0)
    inner = width - inset - max(end_width, edge)
    in_key = [p for p in panel.layers if p.kind not in ("vline", "zone")
              and not any(p.label == t for _, t, _ in labels)]  # fmt: skip
    return PlacedPanel(
        panel=panel,
        x=x,
        y=y,
        edge=left,
        left=left + inset,
        width=inner,
        title=wrap(panel.title, width - 4, SIZE_PT + 0.8) if panel.title else [],
        key=place_key(in_key, left, width) if own_key else (),
        y_titles=wrap(axis_title(y.axis), width - 4) if y_title and axis_title(y.axis) else [],
        x_titles=wrap(axis_title(x.axis), inner) if x_title and axis_title(x.axis) else [],
        tops=(),
        ends=labels,
        end_width=end_width,
    )


def _thin(x: Scale, width: float) -> Scale:
    """Drop tick texts that would touch their neighbour; on the category scale shorten them."""
    if x.axis.scale == "category":
        room = width / max(1, len(x.ticks))
        texts = tuple(shorten(clean(t), max(room - 3, 14.0)) for t in x.texts)
        return Scale(axis=x.axis, low=x.low, high=x.high, ticks=x.ticks, texts=texts)
    keep: list[int] = []
    end = -1e9
    for i, (t, text) in enumerate(zip(x.ticks, x.texts, strict=True)):
        mid = width * (t - x.low) / (x.high - x.low)
        half = 0.5 * measure(text)
        if mid - half > end + 7.0:
            keep.append(i)
            end = mid + half
    if x.axis.scale != "log" and 2 <= len(keep) < len(x.ticks):
        every = max(b - a for a, b in itertools.pairwise(keep))
        keep = list(range(0, len(x.ticks), every))
    return Scale(
        axis=x.axis,
        low=x.low,
        high=x.high,
        ticks=tuple(x.ticks[i] for i in keep),
        texts=tuple(x.texts[i] for i in keep),
        minor=(*x.minor, *(x.ticks[i] for i in range(len(x.ticks)) if i not in keep)),
    )


def end_layers(panel: Panel, x: Scale, y: Scale) -> list[tuple[float, str, str]]:
    """Return lines whose label stands at their right end; too many go to the key instead."""
    out: list[tuple[float, str, str]] = []
    for layer in panel.layers:
        if not layer.label:
            continue
        at = ends_at_right(layer, x, y)
        if at is not None and not any(layer.label == o[1] for o in out):
            out.append((at, layer.label, look_of(layer).color))
    return out if len(out) <= 6 else []


__all__ = ["NARROW_PT", "SMALL_PT", "WIDE_PT", "Layout", "PlacedPanel", "key_height", "lay_out"]
