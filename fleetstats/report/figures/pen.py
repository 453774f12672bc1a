"""A small pen: the few marks that figures need, as elements of SVG in points.

Places are given in points from the bottom left; they are written from the top left, to a hundredth.
Marks are put one over the other by their order, whatever comes first.
"""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import ReportError
from fleetstats.core.value import Array
from fleetstats.report.figures.glyphs import UNITS, measure, outline, set_line
from fleetstats.report.figures.style import INK, NAMES, PAPER

WORDS = 100.0
"""Order of frames and words: above the marks of every panel."""
FAR_PT = 1e4
"""Places are cut here, far outside of any picture; nearer ones keep their slope."""
BASE_EM = {"top": 0.76, "middle": 0.38, "bottom": -0.24}
"""From a line's top, the middle of its capitals or its bottom down to where its letters stand."""
TILE_PT, HATCH_PT = 72.0, 0.7
"""Side of a piece of hatching, a multiple of the distance of its lines; width of those."""
MARKERS: dict[str, tuple[tuple[float, float], ...]] = {
    "s": ((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)),
    "D": ((0.0, -0.7071), (0.7071, 0.0), (0.0, 0.7071), (-0.7071, 0.0)),
    "d": ((0.0, -0.7071), (0.4243, 0.0), (0.0, 0.7071), (-0.4243, 0.0)),
    "^": ((0.0, -0.5), (0.5, 0.5), (-0.5, 0.5)),
    "v": ((0.0, 0.5), (-0.5, -0.5), (0.5, -0.5)),
    ">": ((0.5, 0.0), (-0.5, 0.5), (-0.5, -0.5)),
    "P": ((-0.1667, -0.5), (0.1667, -0.5), (0.1667, -0.1667), (0.5, -0.1667), (0.5, 0.1667),
          (0.1667, 0.1667), (0.1667, 0.5), (-0.1667, 0.5), (-0.1667, 0.1667), (-0.5, 0.1667),
          (-0.5, -0.1667), (-0.1667, -0.1667)),
    "X": ((-0.25, -0.5), (0.0, -0.25), (0.25, -0.5), (0.5, -0.25), (0.25, 0.0), (0.5, 0.25),
          (0.25, 0.5), (0.0, 0.25), (-0.25, 0.5), (-0.5, 0.25), (-0.25, 0.0), (-0.5, -0.25)),
    "*": tuple((r * np.sin(a), -r * np.cos(a)) for r, a in
               zip((0.5, 0.190983) * 5, np.arange(10) * np.pi / 5, strict=True)),
}  # fmt: skip
"""Corners of each closed marker, as shares of its size, y down; "o" is a circle."""
STROKES = {"|": (0.0, 0.5), "_": (0.5, 0.0)}
"""Half a stroke of each open marker."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line looks: colour, width in points, dashes in widths, opacity and ends."""

    color: str
    width: float
    dashes: tuple[float, ...] = ()
    alpha: float = 1.0
    cap: str = ""

    def text(self) -> str:
        """Return the attributes of this line."""
        out = f' stroke="{ink(self.color)}" stroke-width="{short(self.width)}"'
        if self.dashes:
            out += f' stroke-dasharray="{",".join(short(self.width * d) for d in self.dashes)}"'
        elif self.cap:
            out += f' stroke-linecap="{self.cap}"'
        return out + opacity("stroke", self.alpha)


MOST_STROKES = 1_000
"""Strokes of one path. To paint a path takes time with the square of the lines that cross each
other in it; more are paths of a group that is seen through as one is."""


@dataclass(slots=True, kw_only=True)
class Pen:
    """Collects the elements of one picture of `height` points and what they refer to."""

    height: float
    elements: list[tuple[float, str]] = field(default_factory=list)
    shared: dict[str, str] = field(default_factory=dict)
    letters: dict[str, str] = field(default_factory=dict)

    def put(self, order: float, element: str) -> None:
        """Add an element over all of the same or a lower order."""
        self.elements.append((order, element))

    def share(self, kind: str, content: str) -> str:
        """Keep an element once and return its identifier.

        `content` is the element with ``@`` where its identifier goes.
        """
        if content not in self.shared:
            self.shared[content] = f"{{id}}{kind}{len(self.shared)}"
        return self.shared[content]

    def body(self) -> str:
        """Return all elements, lowest first."""
        shared = "".join(c.replace("@", f'id="{name}"', 1) for c, name in self.shared.items())
        marks = "\n".join(e for _, e in sorted(self.elements, key=lambda e: e[0]))
        return (f"<defs>{shared}</defs>\n" if shared else "") + marks + "\n"

    def hatched(self, color: str, alpha: float, every_pt: float) -> str:
        """Return the attributes of a filling of rising lines, `every_pt` apart across and up."""
        lines = "".join(
            f"M{short(i * every_pt - TILE_PT - 1.0)} {TILE_PT + 1.0:g}"
            f"l{TILE_PT + 2.0:g}-{TILE_PT + 2.0:g}"
            for i in range(round(2.0 * TILE_PT / every_pt) + 1)
        )
        name = self.share(
            "h",
            f'<pattern @ patternUnits="userSpaceOnUse" width="{TILE_PT:g}" height="{TILE_PT:g}">'
            f'<path d="{lines}"{Stroke(color, HATCH_PT, alpha=alpha).text()}/></pattern>',
        )
        return f' fill="url(#{name})"'

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float,
        color: str = INK,
        side: str = "left",
        level: str = "top",
        bold: bool = False,
    ) -> None:
        """Write a line of text.

        `x` and `y` are the points from the bottom left of its `side` ("left", "center" or
        "right") and of its `level` ("top", "middle" of its capitals, or "bottom").
        """
        share = {"left": 0.0, "center": 0.5, "right": 1.0}[side]
        left = x - (share * measure(words, size, bold=bold) if share else 0.0)
        base = self.height - y + BASE_EM[level] * size
        uses = []
        for name, right, down in set_line(words, bold=bold):
            self.letters.setdefault(name, outline(name))
            at = (f' x="{right}"' if right else "") + (f' y="{down}"' if down else "")
            uses.append(f'<use {{link}}="#{name}"{at}/>')
        if uses:
            place = f"translate({short(left)} {short(base)})scale({size / UNITS:.5g})"
            self.put(WORDS + 3.0, f'<g fill="{ink(color)}" transform="{place}">'
                     + "".join(uses) + "</g>")  # fmt: skip


@dataclass(slots=True, kw_only=True)
class Pane:
    """A frame in the picture, in points from its bottom left, and the drawn places at its sides.

    Parameters
    ----------
    pen : Pen
    left, bottom, width, height : float
        The frame in points.
    x, y : (float, float)
        Drawn places at its left and right, and at its bottom and top. Marks outside are cut off,
        but for markers.
    """

    pen: Pen
    left: float
    bottom: float
    width: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]

    def at_x(self, x: ArrayLike) -> Array:
        """Return points from the left of the picture for places on the x axis."""
        low, high = self.x
        return np.asarray(self.left + self.width * (np.asarray(x, float) - low) / (high - low))

    def at_y(self, y: ArrayLike) -> Array:
        """Return points from the bottom of the picture for places on the y axis."""
        low, high = self.y
        return np.asarray(self.bottom + self.height * (np.asarray(y, float) - low) / (high - low))

    def line(
        self, x: ArrayLike, y: ArrayLike, look: Stroke, order: float, *, step: bool = False
    ) -> None:
        """Draw a line through points (n,), broken where one is not finite; in steps on wish."""
        px, py = self.at_x(x), self.at_y(y)
        if step:  # level from each point until the next
            px, py = np.repeat(px, 2)[1:], np.repeat(py, 2)[:-1]
        self._path(_runs(px, py), look.text(), order, 0.5 * look.width)

    def strokes(
        self,
        x: tuple[ArrayLike, ArrayLike],
        y: tuple[ArrayLike, ArrayLike],
        look: Stroke,
        order: float,
    ) -> None:
        """Draw straight strokes, each by itself, from (x[0], y[0]) to (x[1], y[1])."""
        a, b, c, d = np.broadcast_arrays(
            *map(np.atleast_1d, (self.at_x(x[0]), self.at_y(y[0]), self.at_x(x[1]),
                                 self.at_y(y[1])))
        )  # fmt: skip
        each = np.stack([np.stack([a, b], axis=-1), np.stack([c, d], axis=-1)], axis=1)
        each = each[np.isfinite(each).all(axis=(1, 2))]
        if len(each) <= MOST_STROKES:
            self._path(each, look.text(), order, 0.0)
            return
        solid = replace(look, alpha=1.0).text()
        parts = (each[i : i + MOST_STROKES] for i in range(0, len(each), MOST_STROKES))
        paths = "".join(self._element(part, solid, 0.0) for part in parts)
        self.pen.put(order, f'<g opacity="{look.alpha:.3g}">{paths}</g>')

    def fill(self, x: ArrayLike, low: ArrayLike, high: ArrayLike, look: str, order: float) -> None:
        """Fill between two lines over `x` (n,), broken where one is not finite."""
        t, a, b = np.broadcast_arrays(self.at_x(x), self.at_y(low), self.at_y(high))
        shapes = [
            np.concatenate([run[:, :2], run[::-1, ::2]]) for run in _runs(t, a, b) if len(run) > 1
        ]
        self._path(shapes, look, order, 0.0, close=True)

    def bars(
        self,
        x: tuple[Array, Array],
        y: tuple[Array, Array],
        look: str,
        order: float,
    ) -> None:
        """Fill rectangles from (x[0], y[0]) to (x[1], y[1]), each (n,)."""
        a, b, c, d = self.at_x(x[0]), self.at_x(x[1]), self.at_y(y[0]), self.at_y(y[1])
        corners = np.stack([np.stack(p, axis=-1) for p in ((a, c), (a, d), (b, d), (b, c))], axis=1)
        corners = corners[np.isfinite(corners).all(axis=(1, 2))]
        self._path(corners, look, order, 0.0, close=True)

    def markers(
        self, x: ArrayLike, y: ArrayLike, shape: str, size: float, color: str, filled: bool,
        order: float,
    ) -> None:  # fmt: skip
        """Draw a marker of `size` points at each of the points (n,)."""
        points = np.column_stack([self.at_x(x), self.at_y(y)])
        points = points[np.isfinite(points).all(axis=1)]
        if not len(points):
            return
        if shape in STROKES:
            half = size * np.array(STROKES[shape])
            each = np.stack([points - half, points + half], axis=1)
            self.pen.put(order, f'<path d="{self._data(each)}"{Stroke(color, 1.1).text()}/>')
            return
        name = self.pen.share("m", f'<path @ d="{_marker(shape, size)}"/>')
        edge = Stroke(PAPER, 0.5) if filled else Stroke(color, 1.1)
        points[:, 1] = self.pen.height - points[:, 1]
        head = f'<use {{link}}="#{name}" x="'
        uses = "".join(
            [f'{head}{hundredths(u)}" y="{hundredths(v)}"/>' for u, v in in_hundredths(points)]
        )
        fill = ink(color if filled else PAPER)
        self.pen.put(order, f'<g fill="{fill}" stroke-linejoin="miter"{edge.text()}>{uses}</g>')

    def _path(
        self,
        runs: Sequence[Array] | Array,
        look: str,
        order: float,
        over_pt: float,
        *,
        close: bool = False,
    ) -> None:
        """Put one path of many runs of points (n, 2); cut at the frame when it reaches over it."""
        runs = [r for r in runs if len(r) > 1]
        if runs:
            self.pen.put(order, self._element(runs, look, over_pt, close=close))

    def _element(
        self, runs: Sequence[Array] | Array, look: str, over_pt: float, *, close: bool = False
    ) -> str:
        every = np.concatenate(runs)
        low = every.min(axis=0) - over_pt - (self.left, self.bottom)
        high = every.max(axis=0) + over_pt - (self.left, self.bottom)
        cut = ""
        if (low < -0.01).any() or (high > np.array([self.width, self.height]) + 0.01).any():
            cut = f' clip-path="url(#{self._frame()})"'
        return f'<path d="{self._data(runs, close=close)}"{cut}{look}/>'

    def _data(self, runs: Sequence[Array] | Array, *, close: bool = False) -> str:
        """Return path data: each run's first place, then steps from place to place."""
        every = np.clip(np.concatenate(list(runs)), -FAR_PT, FAR_PT)
        at = np.rint(100.0 * every).astype(np.int64)
        at[:, 1] = round(100.0 * self.pen.height) - at[:, 1]
        steps = np.diff(at, axis=0, prepend=at[:1]).tolist()
        lengths = [len(run) for run in runs]
        firsts = at[np.cumsum([0, *lengths[:-1]])].tolist()
        out = []
        i = 0
        for n, (x, y) in zip(lengths, firsts, strict=True):
            rest = [f"{hundredths(u)} {hundredths(v)}" for u, v in steps[i + 1 : i + n] if u or v]
            out.append(f"M{hundredths(x)} {hundredths(y)}")
            out.append(("l" + " ".join(rest) if rest else "h0") + ("z" if close else ""))
            i += n
        return "".join(out).replace(" -", "-")

    def _frame(self) -> str:
        top = self.pen.height - self.bottom - self.height
        return self.pen.share(
            "c",
            f'<clipPath @><rect x="{short(self.left)}" y="{short(top)}" '
            f'width="{short(self.width)}" height="{short(self.height)}"/></clipPath>',
        )


def ink(color: str) -> str:
    """Return the field that stands for a colour.

    Raises
    ------
    ReportError
        For a colour that pages have no name for: it could not turn with them.
    """
    if color not in NAMES:
        raise ReportError(f"Figure: unknown colour '{color}'.", f"Use one of {', '.join(NAMES)}.")
    return f"{{{NAMES[color]}}}"


def flat(color: str, alpha: float = 1.0) -> str:
    """Return the attributes of an even filling."""
    return f' fill="{ink(color)}"{opacity("fill", alpha)}'


def opacity(what: str, alpha: float) -> str:
    """Return the attribute for the opacity of a "fill" or "stroke"; nothing when it is whole."""
    return f' {what}-opacity="{alpha:.3g}"' if alpha < 1.0 else ""


def short(value: float) -> str:
    """Write a number to a hundredth, without digits that say nothing."""
    return hundredths(round(100.0 * float(value)))


def in_hundredths(places: Array) -> list[list[int]]:
    """Return places (n, 2) in whole hundredths, as `short` rounds them."""
    return np.rint(100.0 * places).astype(np.int64).tolist()  # type: ignore[no-any-return]


@functools.lru_cache(65536)
def hundredths(n: int) -> str:
    """Write a number of hundredths as a decimal."""
    text = f"{n / 100.0:.2f}".rstrip("0").rstrip(".")
    if text.startswith(("0.", "-0.")):
        text = text.replace("0.", ".", 1)
    return text or "0"


def _runs(x: Array, *others: Array) -> list[Array]:
    """Split points (n,) at those that are not finite; each run is (m, 1 + number of others)."""
    points = np.column_stack([x, *others])
    good = np.concatenate([[False], np.isfinite(points).all(axis=1), [False]])
    ends = np.flatnonzero(good[1:] != good[:-1])
    return [points[i:j] for i, j in zip(ends[::2], ends[1::2], strict=True)]


@functools.lru_cache(256)
def _marker(shape: str, size: float) -> str:
    """Return path data of a closed marker about the origin."""
    if shape == "o":
        r = short(0.5 * size)
        return f"M{r} 0A{r} {r} 0 1 1-{r} 0A{r} {r} 0 1 1 {r} 0z"
    corners = [f"{short(size * x)} {short(size * y)}" for x, y in MARKERS[shape]]
    return f"M{'L'.join(corners)}z"
