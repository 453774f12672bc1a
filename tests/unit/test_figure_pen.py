"""Marks of the pen: where they are asked to be, whole, cut at their frame, words in outlines."""

from __future__ import annotations

import io
import re
import warnings
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from fleetstats.core.errors import ReportError
from fleetstats.report.figures import Drawing, pen, rasterise
from fleetstats.report.figures.glyphs import UNITS, clean, font_folder, measure, outline, set_line
from fleetstats.report.figures.pen import (
    MARKERS,
    STROKES,
    WORDS,
    Pane,
    Pen,
    Stroke,
    flat,
    hundredths,
    short,
)
from fleetstats.report.figures.style import BOLD_FILE, FONT_FILE, INK, LOOKS, NAMES, TEAL

PIXELS = 160.0 / 72.0


def pane(**more: object) -> Pane:
    style: dict[str, object] = {"x": (0.0, 10.0), "y": (0.0, 1.0)}
    return Pane(pen=Pen(height=100.0), left=20.0, bottom=10.0, width=160.0, height=80.0,
                **(style | more))  # type: ignore[arg-type]  # fmt: skip


def svg(pen: Pen) -> str:
    return Drawing(
        key="k",
        width_pt=200.0,
        height_pt=100.0,
        title_pt=0.0,
        title="",
        body=pen.body(),
        letters=pen.letters,
        title_letters={},
        frames=(),
    ).svg


def pixels(p: Pane) -> np.ndarray:
    """Return what a viewer of its own makes of the picture: 160 pixels an inch, RGB."""
    picture = rasterise({"k": svg(p.pen)})["k"]
    return np.asarray(Image.open(io.BytesIO(picture)).convert("RGB"))


def points(dark: np.ndarray) -> list[float]:
    """Return first and last dark place of a row or column of pixels, in points."""
    at = np.flatnonzero(dark)
    return [at[0] / PIXELS, (at[-1] + 1) / PIXELS]


def test_places_become_points_and_an_axis_may_run_down() -> None:
    p = pane(y=(4.0, 0.0))
    np.testing.assert_allclose(p.at_x([0.0, 5.0, 10.0]), [20.0, 100.0, 180.0])
    np.testing.assert_allclose(p.at_y([4.0, 0.0]), [10.0, 90.0])


def test_marks_fill_their_place_and_end_at_the_frame() -> None:
    p = pane()
    p.bars((np.array([-5.0]), np.array([5.0])), (np.array([0.0]), np.array([0.5])), flat(INK), 1.0)
    dark = pixels(p)[:, :, 0] < 128
    # from the frame's left side at 20 to the middle at 100; 50 to 90 points from the top
    assert points(dark.any(axis=0)) == pytest.approx([20.0, 100.0], abs=0.5)
    assert points(dark.any(axis=1)) == pytest.approx([50.0, 90.0], abs=0.5)


@pytest.mark.parametrize(
    ("x", "y", "width", "side"),
    [
        ((1.0, 9.0), (0.1, 0.9), 2.0, ""),
        ((1.0, 9.0), (0.1, 1.2), 2.0, "top"),
        ((1.0, 9.0), (0.99, 0.99), 6.0, "top"),
        ((1.0, 9.0), (0.01, 0.01), 6.0, "bottom"),
        ((0.1, 0.1), (0.1, 0.9), 6.0, "left"),
        ((9.9, 9.9), (0.1, 0.9), 6.0, "right"),
    ],
)
def test_only_what_reaches_over_the_frame_is_cut(
    x: tuple[float, float], y: tuple[float, float], width: float, side: str
) -> None:
    p = pane()
    p.line(x, y, Stroke(INK, width), 1.0)
    assert p.pen.body().count("clip-path=") == bool(side)
    dark = pixels(p)[:, :, 0] < 128
    (left, right), (top, bottom) = points(dark.any(axis=0)), points(dark.any(axis=1))
    seen = {"left": left, "right": right, "top": top, "bottom": bottom}
    frame = {"left": 20.0, "right": 180.0, "top": 10.0, "bottom": 90.0}
    for name, at in seen.items():
        assert (abs(at - frame[name]) < 0.6) == (name == side)


def test_many_strokes_are_seen_through_as_one_path(monkeypatch: pytest.MonkeyPatch) -> None:
    """More strokes than one path takes: several, and where they cross no darker than in one."""
    x = np.linspace(0.5, 9.5, 40)
    pictures = []
    for most in (40, 7):
        monkeypatch.setattr(pen, "MOST_STROKES", most)
        p = pane()
        p.strokes((x, x[::-1]), (0.1, 0.9), Stroke(INK, 3.0, alpha=0.5), 1.0)
        assert p.pen.body().count("<path") == -(-40 // most)
        pictures.append(pixels(p).astype(int))
    apart = np.abs(pictures[0] - pictures[1])
    # only the soft edges of strokes that cross are painted once more
    assert np.quantile(apart, 0.9) <= 2
    assert apart.max() < 64
    assert abs(pictures[0].min() - pictures[1].min()) <= 2


def test_a_gap_parts_an_area_and_strokes_do_not_join() -> None:
    p = pane()
    x = np.array([0.0, 4.0, 5.0, 6.0, 10.0])
    low, high = np.zeros(5), np.array([1.0, 1.0, np.nan, 1.0, 1.0])
    p.fill(x, low, high, flat(INK), 1.0)
    dark = pixels(p)[round(50 * PIXELS), :, 0] < 128
    assert dark[round(30 * PIXELS)]
    assert dark[round(170 * PIXELS)]
    assert not dark[round(90 * PIXELS) : round(110 * PIXELS)].any()
    q = pane()
    q.strokes(([2.0, 8.0], [2.0, 8.0]), (0.0, [1.0, 1.0]), Stroke(INK, 2.0), 1.0)
    dark = pixels(q)[:, :, 0] < 128
    for row in (12, 88):
        assert 7 <= np.flatnonzero(dark[round(row * PIXELS)]).size <= 10  # twice 2 points
    assert not dark[:, round(60 * PIXELS) : round(140 * PIXELS)].any()


def test_a_step_stays_level_until_the_next_point() -> None:
    p = pane()
    p.line(np.array([0.0, 5.0, 10.0]), np.array([1.0, 0.5, 0.0]), Stroke(INK, 1.0), 1.0, step=True)
    assert ' d="M20 10l80 0 0 40 80 0 0 40"' in p.pen.body()


def test_nothing_finite_draws_nothing() -> None:
    p = pane()
    nothing = np.full(3, np.nan)
    p.fill(np.arange(3.0), nothing, nothing, flat(INK), 1.0)
    p.bars((nothing, nothing), (nothing, nothing), flat(INK), 1.0)
    p.line(nothing, nothing, Stroke(INK, 1.0), 1.0)
    p.line(nothing, nothing, Stroke(INK, 1.0), 1.0, step=True)
    p.strokes((0.0, 1.0), (nothing, nothing), Stroke(INK, 1.0), 1.0)
    p.markers(nothing, nothing, "o", 5.0, INK, True, 1.0)
    p.line([], [], Stroke(INK, 1.0), 1.0)
    p.pen.text(5.0, 5.0, " ", size=8.0)
    assert pixels(p).min() == 255


def test_places_out_of_all_bounds_stay_numbers() -> None:
    p = pane()
    p.line([0.0, 5.0, 10.0], [0.5, 1e300, 0.5], Stroke(INK, 1.0), 1.0)
    body = p.pen.body()
    assert "e" not in re.findall(r' d="([^"]*)"', body)[-1].replace("clip", "")
    assert (pixels(p)[:, :, 0] < 128).any()


def test_words_lie_above_marks_whatever_comes_first() -> None:
    p = pane()
    above = Pane(pen=p.pen, left=0.0, bottom=0.0, width=200.0, height=100.0, x=(0.0, 200.0),
                 y=(0.0, 100.0))  # fmt: skip
    p.pen.text(100.0, 50.0, "over", size=20, color=TEAL, side="center", level="middle")
    above.line([0.0, 200.0], [50.0, 50.0], Stroke("#c48508", 4.0), WORDS)
    p.fill([0.0, 10.0], 0.0, 1.0, flat(INK), 9.0)
    shown = pixels(p).astype(int)
    assert tuple(shown[round(50 * PIXELS), round(25 * PIXELS)]) == (0xC4, 0x85, 0x08)
    teal = np.abs(shown - [0x1F, 0x6A, 0x78]).max(axis=2) < 4
    assert teal[round(50 * PIXELS)].any()


@pytest.mark.parametrize("shape", sorted({look.marker for look in LOOKS.values()}))
def test_every_marker_stands_on_its_point_in_its_size(shape: str) -> None:
    p = pane()
    p.markers([5.0], [0.5], shape, 20.0, INK, True, 1.0)
    dark = pixels(p)[:, :, 0] < 128
    across = points(dark.any(axis=0))
    assert sum(across) / 2 == pytest.approx(100.0, abs=0.5)
    assert shape in {**MARKERS, **STROKES, "o": ()}


@pytest.mark.parametrize("shape", sorted(MARKERS))
def test_markers_have_the_shapes_that_plots_have(shape: str) -> None:
    """Corners as in the drawing library, whose names for markers are kept."""
    from matplotlib.markers import MarkerStyle

    style = MarkerStyle(shape)
    path = style.get_path().transformed(style.get_transform())
    corners = {(round(x, 3), round(-y, 3)) for x, y in path.vertices}
    assert {(round(x, 3) + 0.0, round(y, 3) + 0.0) for x, y in MARKERS[shape]} == corners


def test_a_marker_beyond_the_frame_is_drawn_whole() -> None:
    p = pane()
    p.markers([0.0], [0.5], "s", 20.0, INK, True, 1.0)
    dark = pixels(p)[:, :, 0] < 128
    assert points(dark.any(axis=0)) == pytest.approx([10.25, 29.75], abs=0.5)


def test_hatching_is_kept_once_and_shows_the_ground_between_its_lines() -> None:
    p = pane()
    p.fill([0.0, 5.0], 0.0, 1.0, p.pen.hatched(INK, 1.0, 4.0), 1.0)
    p.fill([5.0, 10.0], 0.0, 1.0, p.pen.hatched(INK, 1.0, 4.0), 1.0)
    assert p.pen.body().count("<pattern") == 1
    inner = pixels(p)[round(30 * PIXELS) : round(70 * PIXELS), round(30 * PIXELS) :, 0]
    inner = inner[:, : round(140 * PIXELS)]
    # a line of 0.7 points every 4 points across, at 45 degrees
    assert np.mean(255 - inner) / (255 - 0x1D) == pytest.approx(0.7 * np.sqrt(2) / 4, abs=0.03)


def test_a_colour_without_a_name_is_refused() -> None:
    with pytest.raises(ReportError, match="unknown colour '#123456'"):
        flat("#123456")
    assert all(flat(color) for color in NAMES)


@pytest.mark.parametrize("side", ["left", "center", "right"])
@pytest.mark.parametrize("level", ["top", "middle", "bottom"])
@pytest.mark.parametrize("bold", [False, True])
def test_words_stand_where_they_are_asked_to_be(side: str, level: str, bold: bool) -> None:
    p = pane()
    p.pen.text(100.0, 50.0, "HEH", size=20.0, side=side, level=level, bold=bold)
    dark = pixels(p)[:, :, 0] < 128
    across, up = points(dark.any(axis=0)), points(dark.any(axis=1))
    width = measure("HEH", 20.0, bold=bold)
    share = {"left": 0.0, "center": 0.5, "right": 1.0}[side]
    # an H of this face has 0.1 of its size free at either side and is 0.729 high
    assert across == pytest.approx(
        [100 - share * width + 2, 100 + (1 - share) * width - 2], abs=1.0
    )
    base = 50.0 + {"top": 15.2, "middle": 7.6, "bottom": -4.8}[level]
    assert up == pytest.approx([base - 0.729 * 20.0, base], abs=0.6)


@pytest.mark.parametrize(("file", "bold"), [(FONT_FILE, False), (BOLD_FILE, True)])
def test_letters_are_the_fonts_own(file: str, bold: bool) -> None:
    """Widths, pairs and outlines as another reader of the same font file has them."""
    from fontTools.pens.boundsPen import BoundsPen
    from fontTools.ttLib import TTFont

    font = TTFont(font_folder() / file)
    names, em = font.getBestCmap(), font["head"].unitsPerEm
    advances = font["hmtx"]
    for word in ("1,234 h", "evidence", "hours %"):
        wanted = sum(advances[names[ord(c)]][0] for c in word) / em
        assert measure(word, 10.0, bold=bold) == pytest.approx(10.0 * wanted, abs=0.02)
    # a T draws the o that follows under its arm
    assert measure("To", bold=bold) < measure("T", bold=bold) + measure("o", bold=bold) - 0.5
    for letter in "Hog8%é":
        pen = BoundsPen(font.getGlyphSet())
        font.getGlyphSet()[names[ord(letter)]].draw(pen)
        ((name, _, _),) = set_line(letter, bold=bold)
        (path,) = ET.fromstring(f'<g><path d="{outline(name)}"/></g>')
        high, low = vertical_ends(path.attrib["d"])
        assert -high / UNITS == pytest.approx(pen.bounds[3] / em, abs=0.01)
        assert -low / UNITS == pytest.approx(pen.bounds[1] / em, abs=0.01)


def vertical_ends(data: str) -> tuple[int, int]:
    """Return the least and greatest y that a path of M, l, q and z visits at its corners."""
    at, begin, seen = [0, 0], [0, 0], []
    for command, rest in re.findall(r"([MlqzZ])([^MlqzZ]*)", data):
        n = [int(k) for k in re.findall(r"-?\d+", rest)]
        if command == "M":
            at = begin = n
        elif command in "lq":
            at = [at[0] + n[-2], at[1] + n[-1]]
        else:
            at = begin
        seen.append(at[1])
    return min(seen), max(seen)


@pytest.mark.parametrize("bold", [False, True])
def test_a_letter_that_the_font_lacks_is_a_box_and_no_noise(bold: bool) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        words = "a\u4e00\U0001f6e9 \U000e0001b"  # two pictures of words, and a tag without any
        assert clean(words, bold=bold) == "a\u25a1\u25a1 b"
        assert set_line(words, bold=bold) == set_line("a\u25a1\u25a1 b", bold=bold)
        assert measure(words, bold=bold) == measure("a\u25a1\u25a1 b", bold=bold)
    assert measure("\u4e00\u4e00") == pytest.approx(2.0 * measure("\u4e00"))


def test_signs_of_control_leave_no_trace() -> None:
    assert set_line("a\x00\u2028b") == set_line("a  b")
    assert measure("a\ud800b") == measure("a b")


@given(st.integers(-(10**7), 10**7))
def test_hundredths_are_written_shortly_and_rightly(n: int) -> None:
    text = hundredths(n)
    assert round(100 * float(text)) == n
    assert re.fullmatch(r"-?(\d+|\d*\.\d?[1-9])", text)
    assert not re.match(r"-?0.", text)


def test_short_numbers() -> None:
    assert [short(v) for v in (0.0, -0.001, 0.5, -0.25, 12.0, 100.0, 1.2)] == [
        "0", "0", ".5", "-.25", "12", "100", "1.2",
    ]  # fmt: skip
