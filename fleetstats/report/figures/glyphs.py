"""Words as outlines: a figure looks the same wherever it is opened, and no font has to be fetched.

The drawing library lends its font files and sets a line of words; that is all it is used for.
"""

from __future__ import annotations

import functools
import re
from pathlib import Path
from typing import Any

from fleetstats.core.plain_library import load_drawing_library
from fleetstats.report.figures.style import BOLD_FILE, FONT_FILE, SMALL_PT

UNITS = 6400.0
"""Units of outlines and places in one type size: 64ths of a point at `_SET_PT`."""
BOX = "\u25a1"
_SET_PT = 100.0
_KEPT = 8192
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ufffe\uffff]|[\ud800-\udfff]")


def clean(text: str, *, bold: bool = False) -> str:
    """Return `text` as it can be drawn: signs of control as blanks, and a box for each letter that
    the font lacks, since that must not stop a report.
    """
    return "".join(_drawable(c, bold) for c in _CONTROL.sub(" ", text))


@functools.lru_cache(_KEPT)
def _drawable(letter: str, bold: bool) -> str:
    if _face(bold).get_char_index(ord(letter)):
        return letter
    return BOX if letter.isprintable() else ""


def font_folder() -> Path:
    """Return the folder of the drawing library's own fonts."""
    load_drawing_library()
    import matplotlib as mpl

    return Path(mpl.get_data_path()) / "fonts" / "ttf"


def measure(text: str, size_pt: float = SMALL_PT, *, bold: bool = False) -> float:
    """Return the width of a line of text in points."""
    return size_pt * _width_em(clean(text, bold=bold), bold)


@functools.lru_cache(_KEPT)
def _width_em(text: str, bold: bool) -> float:
    load_drawing_library()
    from matplotlib.ft2font import LoadFlags

    font = _face(bold)
    font.set_text(text, 0.0, flags=LoadFlags.NO_HINTING)
    return float(font.get_width_height()[0]) / UNITS


@functools.lru_cache(_KEPT)
def set_line(text: str, *, bold: bool = False) -> tuple[tuple[str, int, int], ...]:
    """Set a line of words.

    Returns
    -------
    tuple of (str, int, int)
        Each letter that leaves ink: its name for `outline`, and its place from the line's begin,
        rightward and downward, in `UNITS` of the type size.
    """
    load_drawing_library()
    from matplotlib.textpath import TextToPath

    words = clean(text, bold=bold)
    placed, shapes, _ = TextToPath().get_glyphs_with_font(_face(bold), words)
    known = _outlines()
    # the library's name of a letter ends in its number within the font
    names = {k: ("B" if bold else "L") + k.rpartition("-")[2] for k in shapes}
    for own, name in names.items():
        if name not in known:
            known[name] = _path(*shapes[own])
    return tuple(
        (names[own], round(64.0 * x), -round(64.0 * y))
        for own, x, y, _ in placed
        if known[names[own]]
    )


def outline(name: str) -> str:
    """Return the outline of a letter that `set_line` named, as path data in `UNITS`, y down."""
    return _outlines()[name]


@functools.cache
def _outlines() -> dict[str, str]:
    return {}


@functools.cache
def _face(bold: bool) -> Any:
    """Return the library's font; its file is named, so no folder of the machine is searched."""
    load_drawing_library()
    from matplotlib.ft2font import FT2Font

    font = FT2Font(str(font_folder() / (BOLD_FILE if bold else FONT_FILE)))
    font.set_size(_SET_PT, 72)
    return font


def _path(vertices: Any, codes: Any) -> str:
    """Return one letter's outline of straight lines and quadratic curves as path data."""
    out: list[str] = []
    at = (0, 0)
    points = [(round(64.0 * x), -round(64.0 * y)) for x, y in vertices.tolist()]
    step = iter(zip(points, codes.tolist(), strict=True))
    for (x, y), code in step:
        if code == 1:
            at = (x, y)
            out.append(f"M{x} {y}")
        elif code == 2:
            out.append(f"l{x - at[0]} {y - at[1]}")
            at = (x, y)
        elif code == 3:
            (u, v), _ = next(step)
            out.append(f"q{x - at[0]} {y - at[1]} {u - at[0]} {v - at[1]}")
            at = (u, v)
        else:  # closed; what follows begins anew
            out.append("z")
    return "".join(out).replace(" -", "-")
