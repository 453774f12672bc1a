"""Words inside a figure: direct labels that do not overlap, and the key above a panel.

Everything is measured in points before it is placed, so that no label lies on another.
"""

from __future__ import annotations

import itertools

import numpy as np

from fleetstats.core.value import Value, value
from fleetstats.document.document import Layer, Panel
from fleetstats.report.figures.glyphs import clean, measure
from fleetstats.report.figures.layers import look_of
from fleetstats.report.figures.pen import WORDS, Pane, Stroke, flat
from fleetstats.report.figures.scale import Scale
from fleetstats.report.figures.style import SMALL_PT

LINE_PT = 11.0
SWATCH_PT = 18.0


def wrap(text: str, width_pt: float, size_pt: float = SMALL_PT) -> list[str]:
    """Break a text at spaces into lines no wider than `width_pt`; a longer word is cut."""
    lines: list[str] = []
    for word in clean(text).split():
        while measure(word, size_pt) > width_pt and len(word) > 4:
            word = word[: max(3, int(len(word) * width_pt / measure(word, size_pt)) - 2)] + "…"
        if lines and measure(f"{lines[-1]} {word}", size_pt) <= width_pt:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines or [""]


@value
class TopLabel(Value):
    """A label above a panel for a vertical mark: text, place of the mark, left edge and width of
    the text in points, row (0 lowest).
    """

    text: str
    mark_pt: float
    left_pt: float
    width_pt: float
    row: int
    color: str
    is_line: bool


def place_top_labels(
    panel: Panel, x: Scale, left_pt: float, width_pt: float
) -> tuple[TopLabel, ...]:
    """Give each labelled vertical line and zone a side and a row, so that no text lies on another
    and no line runs through a text.
    """
    wanted = []
    for layer in panel.layers:
        if layer.kind not in ("vline", "zone") or not layer.label:
            continue
        for i, at in enumerate(x.place(layer.x)):
            a = float(at)
            if layer.kind == "zone":
                b = float(x.place(layer.x2)[i])
                a = 0.5 * (max(a, x.low) + min(b, x.high))
            if x.low <= a <= x.high:
                mark = left_pt + width_pt * (a - x.low) / (x.high - x.low)
                text = shorten(" ".join(clean(layer.label).split()), width_pt)
                wanted.append((mark, text, look_of(layer).color, layer.kind == "vline"))
    wanted.sort(key=lambda w: (w[0], w[1]))
    widths = [measure(w[1]) for w in wanted]
    options = []
    for (mark, _, _, is_line), w in zip(wanted, widths, strict=True):
        starts = (mark - 1.0, mark - w + 1.0) if is_line else (mark - 0.5 * w,)
        options.append([min(max(s, left_pt), left_pt + width_pt - w) for s in starts])
    if len(wanted) > 6:  # too many to try all sides
        options = [o[:1] for o in options]
    best: tuple[tuple[int, int, int], list[float], list[int]] | None = None
    for lefts in itertools.product(*options):
        rows = _rows([w[0] for w in wanted], [w[3] for w in wanted], list(lefts), widths)
        if rows is None:
            continue
        turned = sum(o[0] != s for o, s in zip(options, lefts, strict=True))
        cost = (max(rows, default=0), sum(rows), turned)
        if best is None or cost < best[0]:
            best = (cost, list(lefts), rows)
    if best is None:  # lines and texts interlock: a row each, without stalks through texts
        best = ((0, 0, 0), [o[0] for o in options], list(range(len(wanted))))
        wanted = [(m, t, c, False) for m, t, c, _ in wanted]
    return tuple(
        TopLabel(text=t, mark_pt=m, left_pt=s, width_pt=w, row=r, color=c, is_line=f)
        for (m, t, c, f), s, w, r in zip(wanted, best[1], widths, best[2], strict=True)
    )


def _rows(
    marks: list[float], is_line: list[bool], lefts: list[float], widths: list[float]
) -> list[int] | None:
    """Return the lowest rows that keep texts and lines apart; None when they interlock."""
    n = len(marks)
    above: list[set[int]] = [set() for _ in range(n)]
    beside: list[set[int]] = [set() for _ in range(n)]
    for i in range(n):
        for j in range(n):
            if i == j:
                continue
            if is_line[j] and lefts[i] - 3 < marks[j] < lefts[i] + widths[i] + 3:
                above[i].add(j)
            if lefts[i] < lefts[j] + widths[j] + 6 and lefts[j] < lefts[i] + widths[i] + 6:
                beside[i].add(j)
    rows: list[int | None] = [None] * n
    for _ in range(n):
        ready = [i for i in range(n) if rows[i] is None and all(rows[j] is not None
                                                               for j in above[i])]  # fmt: skip
        if not ready:
            return None
        i = ready[0]
        row = max((1 + (rows[j] or 0) for j in above[i]), default=0)
        taken = {rows[j] for j in beside[i]}
        while row in taken:
            row += 1
        rows[i] = row
    # A line climbs to its own row; a text set later in a lower row must not stand in its way.
    out = [r or 0 for r in rows]
    for i in range(n):
        if any(out[i] <= out[j] for j in above[i]):
            return None
    return out


def shorten(text: str, width: float) -> str:
    """Cut a text to a width in points, with an ellipsis."""
    """Cut a text to a width in points, with an ellipsis."""
    out = text
    while measure(out) > width and len(out) > 3:
        out = out[:-2].rstrip("… ") + "…"
    return out


@value
class EndLabel(Value):
    """A label to the right of a panel, beside the end of a line."""

    lines: tuple[str, ...]
    y_pt: float
    wanted_pt: float
    color: str


def ends_at_right(layer: Layer, x: Scale, y: Scale) -> float | None:
    """Return the drawn height at which a line meets the right edge; None when it ends before."""
    if layer.kind == "hline":
        at = float(y.place(layer.y)[0])
        return at if y.low <= at <= y.high else None
    if layer.kind not in ("line", "step") or layer.x is None or layer.y is None:
        return None
    px, py = x.place(layer.x), y.place(layer.y)
    ok = np.isfinite(px) & np.isfinite(py) & (px <= x.high + 1e-9)
    if not ok.any() or px[ok][-1] < x.high - 0.05 * (x.high - x.low):
        return None
    last = float(py[ok][-1])
    return last if y.low <= last <= y.high else None


def place_end_labels(
    wanted: list[tuple[float, str, str]], bottom_pt: float, top_pt: float, width_pt: float
) -> tuple[EndLabel, ...]:
    """Spread labels over the height so that none overlaps; each as near its line as it can."""
    items = [(at, wrap(text, width_pt), color) for at, text, color in wanted]
    items.sort(key=lambda i: i[0])
    heights = [LINE_PT * 0.92 * len(lines) + 2.0 for _, lines, _ in items]
    centres = _spread([i[0] for i in items], heights, bottom_pt, top_pt)
    return tuple(
        EndLabel(lines=tuple(lines), y_pt=c, wanted_pt=at, color=color)
        for c, (at, lines, color) in zip(centres, items, strict=True)
    )


def _spread(wanted: list[float], heights: list[float], bottom: float, top: float) -> list[float]:
    """Return centres, rising as `wanted` does, that keep apart and move least in squares.

    Less the room that those before it need, the centres are an isotonic regression of the wanted
    places (pool adjacent violators; Barlow et al. 1972).
    """
    before = [0.0]
    for a, b in itertools.pairwise(heights):
        before.append(before[-1] + 0.5 * (a + b))
    pools: list[tuple[float, int]] = []
    for w, shift in zip(wanted, before, strict=True):
        mean, n = w - shift, 1
        while pools and pools[-1][0] > mean:
            m, k = pools.pop()
            mean, n = (mean * n + m * k) / (n + k), n + k
        pools.append((mean, n))
    free = [mean for mean, n in pools for _ in range(n)]
    low = bottom + 0.5 * heights[0] if heights else bottom
    high = top - 0.5 * heights[-1] - before[-1] if heights else top
    return [min(max(x, low), max(low, high)) + shift for x, shift in zip(free, before, strict=True)]


@value
class KeyEntry(Value):
    """A line of the key: its layer as a pattern, the text, left edge and row from the top. The
    second line of a long text has no swatch.
    """

    layer: Layer
    text: str
    left_pt: float
    row: int
    swatch: bool


def place_key(layers: list[Layer], left_pt: float, width_pt: float) -> tuple[KeyEntry, ...]:
    """Flow the key's entries into rows; each label once."""
    out: list[KeyEntry] = []
    seen: set[tuple[str, str]] = set()
    at, row = 0.0, 0
    for layer in layers:
        mark = "line" if layer.kind in ("line", "step") else layer.kind
        if (layer.label, layer.role + mark) in seen or not layer.label:
            continue
        seen.add((layer.label, layer.role + mark))
        for i, text in enumerate(wrap(layer.label, width_pt - SWATCH_PT - 6)):
            w = SWATCH_PT + 4 + measure(text)
            if i or (at > 0 and at + w > width_pt):
                at, row = 0.0, row + 1
            out.append(
                KeyEntry(layer=layer, text=text, left_pt=left_pt + at, row=row, swatch=i == 0)
            )
            at += w + 14.0
    return tuple(out)


def draw_swatch(canvas: Pane, layer: Layer, left: float, mid: float) -> None:
    """Draw the small pattern of one entry of the key, in points."""
    look = look_of(layer)
    sides = (left, left + SWATCH_PT - 3)
    if layer.kind in ("ribbon", "zone", "bars"):
        alpha = look.alpha if layer.kind != "bars" else max(look.alpha, 0.4)
        canvas.fill(sides, mid - 3.6, mid + 3.6, flat(look.color, alpha), WORDS)
        edge = Stroke(look.color, 0.8, alpha=0.7)
        for at in (mid - 3.6, mid + 3.6) if layer.kind == "ribbon" else (mid + 3.6,):
            canvas.line(sides, (at, at), edge, WORDS)
    elif layer.kind == "spans":
        canvas.line(sides, (mid, mid), Stroke(look.color, 4.0), WORDS)
    elif layer.kind == "points":
        size = 9.0 if look.marker == "*" else 5.4
        canvas.markers(
            (0.5 * sum(sides),), (mid,), look.marker, size, look.color, look.filled, WORDS
        )
    else:
        line = Stroke(look.color, look.width, look.dashes, cap="square")
        canvas.line(sides, (mid, mid), line, WORDS)
