"""Figures: every kind draws, labels keep apart, colours survive colour blindness, bytes repeat."""

from __future__ import annotations

import io
import itertools
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from report_document import EVIL, curve_figure, other_figure

from fleetstats.core.errors import ReportError
from fleetstats.document.document import KINDS, ROLES, Axis, Figure, Layer, Panel
from fleetstats.report.figures import Drawing, draw_figure, rasterise
from fleetstats.report.figures.glyphs import measure, set_line
from fleetstats.report.figures.labels import (
    LINE_PT,
    SWATCH_PT,
    draw_swatch,
    place_end_labels,
    place_top_labels,
    wrap,
)
from fleetstats.report.figures.layers import DRAW, NEEDS
from fleetstats.report.figures.layout import lay_out
from fleetstats.report.figures.pen import Pane, Pen
from fleetstats.report.figures.scale import make_scales, nice_step, place_values
from fleetstats.report.figures.style import DARK, GROUPS, LOOKS, NAMES


def one_panel(*layers: Layer, **axes: Axis) -> Figure:
    panel = Panel(
        x=axes.get("x", Axis(label="Hours", unit="h")),
        y=axes.get("y", Axis(label="Value")),
        layers=layers,
    )
    return Figure(key="f", title="T", see="", alt="", panels=(panel,))


def test_every_kind_has_its_drawing_and_every_role_its_look() -> None:
    assert set(DRAW) == set(KINDS) == set(NEEDS)
    assert set(LOOKS) == set(ROLES)


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("figure", [curve_figure(), other_figure()], ids=["curve", "other"])
def test_drawings_are_well_formed_and_repeat_to_the_byte(figure: Figure, narrow: bool) -> None:
    a = draw_figure(figure, narrow=narrow)
    b = draw_figure(figure, narrow=narrow)
    assert a.svg == b.svg
    picture = rasterise({a.key: a.svg})[a.key]
    assert picture == rasterise({b.key: b.svg})[b.key]
    assert picture.startswith(b"\x89PNG")
    for svg in (a.svg, a.bare_svg):
        root = ET.fromstring(svg)
        assert root.tag.endswith("svg")
        assert "<!--" not in svg
        assert "script" not in svg
        assert not re.search(r"\b20\d\d-\d\d-\d\d", svg)
        assert "http" not in svg.replace("http://www.w3.org/", "")
    dropped = a.svg.count("<use ") - a.bare_svg.count("<use ")
    assert dropped == sum(c.isprintable() and c != " " for c in figure.title)
    width, height = (float(a) for a in re.findall(r'(?:width|height)="([\d.]+)pt"', a.bare_svg))
    assert (width, height) == pytest.approx((a.width_pt, a.height_pt))
    assert f'viewBox="0 {a.title_pt:.7g} ' in a.bare_svg
    assert a.title_pt + height == pytest.approx(float(re.findall(r'height="([\d.]+)pt"', a.svg)[0]))
    assert len(a.frames) == len(figure.panels)


def test_dollar_signs_are_text_and_not_formulas() -> None:
    layer = Layer(kind="line", role="estimate", label="$\\frac{$", x=np.arange(3.0),
                  y=np.arange(3.0))  # fmt: skip
    assert draw_figure(one_panel(layer)).svg


@pytest.mark.parametrize(
    ("layer", "says"),
    [
        (Layer(kind="pie", role="estimate", x=np.ones(1), y=np.ones(1)), "unknown kind 'pie'"),
        (Layer(kind="line", role="hero", x=np.ones(2), y=np.ones(2)), "unknown role 'hero'"),
        (Layer(kind="ribbon", role="band", x=np.ones(2), low=np.ones(2)), "needs 'high'"),
        (Layer(kind="line", role="band", x=np.ones(2), y=np.ones(3)), "differ in length"),
    ],
)
def test_what_cannot_be_drawn_is_refused_in_words(layer: Layer, says: str) -> None:
    with pytest.raises(ReportError, match=re.escape(says)):
        draw_figure(one_panel(layer))


def test_a_figure_without_a_finite_value_still_draws() -> None:
    layer = Layer(kind="line", role="estimate", label="none", x=np.full(3, np.nan),
                  y=np.full(3, np.nan))  # fmt: skip
    assert draw_figure(one_panel(layer)).svg


def test_a_weibull_is_a_straight_line_on_its_paper() -> None:
    t = np.geomspace(20.0, 5000.0, 30)
    shape, scale = 2.3, 1800.0
    x = place_values(t, "log")
    y = place_values(-np.expm1(-((t / scale) ** shape)), "probability")
    slope = np.diff(y) / np.diff(x)
    # log10 hours against a natural logarithm: the slope is shape times ln 10
    np.testing.assert_allclose(slope, shape * np.log(10.0), rtol=1e-8)


def test_no_place_outside_a_scale() -> None:
    assert np.isnan(place_values([0.0, -1.0], "log")).all()
    assert np.isnan(place_values([0.0, 1.0, 1.2, -0.1], "probability")).all()
    with pytest.raises(ReportError, match="unknown scale"):
        place_values([1.0], "cubic")


@given(st.floats(1e-9, 1e9))
def test_nice_steps_are_round_and_close_above(rough: float) -> None:
    step = nice_step(rough)
    lead = step / 10.0 ** np.floor(np.log10(step) + 1e-9)
    assert any(abs(lead - m) < 1e-6 for m in (1.0, 2.0, 2.5, 5.0, 10.0))
    assert rough * (1 - 1e-6) <= step <= 2.51 * rough


def test_a_short_log_axis_has_ticks_enough() -> None:
    layer = Layer(kind="line", role="estimate", x=np.array([1.0, 2.0]), y=np.array([0.92, 1.9]))
    panel = Panel(x=Axis(label="x"), y=Axis(label="y", scale="log"), layers=(layer,))
    _, y = make_scales(panel)
    assert y.texts == ("1.00", "1.25", "1.50", "1.75")


def test_years_are_ticked_in_whole_years() -> None:
    layer = Layer(kind="points", role="failure", x=np.array([0.0, 9.0]), y=np.array([0.5, 18.4]))
    panel = Panel(x=Axis(label="x"), y=Axis(label="Age", unit="years", low=0.0), layers=(layer,))
    _, y = make_scales(panel)
    assert len(y.texts) >= 3
    assert all("." not in t for t in y.texts)


@pytest.mark.parametrize("scale", ["linear", "log", "probability"])
def test_ticks_rise_within_the_axis_and_carry_a_text(scale: str) -> None:
    v = np.array([0.002, 0.03, 0.4])
    axis = Axis(label="p", unit="probability", scale=scale)
    layer = Layer(kind="line", role="estimate", x=np.array([1.0, 2.0, 3.0]), y=v)
    panel = Panel(x=Axis(label="Hours", unit="h"), y=axis, layers=(layer,))
    _, y = make_scales(panel)
    assert len(y.ticks) >= 2
    assert len(y.ticks) == len(set(y.texts)) == len(y.texts)
    assert all(y.low - 1e-9 <= t <= y.high + 1e-9 for t in y.ticks)
    assert all(b > a for a, b in itertools.pairwise(y.ticks))
    assert all(t.endswith(" %") for t in y.texts)


def test_a_band_that_explodes_does_not_flatten_the_estimate() -> None:
    t = np.linspace(1, 100, 50)
    line = Layer(kind="line", role="estimate", x=t, y=0.01 * t)
    ribbon = Layer(kind="ribbon", role="band", x=t, low=0.0 * t, high=np.exp(t))
    _, y = make_scales(Panel(x=Axis(label="h"), y=Axis(label="v"), layers=(line, ribbon)))
    assert y.high < 4.0


marks = st.lists(
    st.tuples(st.floats(0.0, 1000.0), st.text("abcdefgh 1,", min_size=1, max_size=34)),
    min_size=1,
    max_size=6,
)


@settings(max_examples=60, deadline=None)
@given(marks)
def test_labels_of_vertical_lines_never_overlap_and_no_line_crosses_a_text(
    wanted: list[tuple[float, str]],
) -> None:
    layers = tuple(
        Layer(kind="vline", role="claim", label=t or "x", x=np.array([x])) for x, t in wanted
    )
    x_axis = Axis(label="Hours", low=0.0, high=1000.0)
    panel = Panel(x=x_axis, y=Axis(label="v", low=0.0, high=1.0), layers=layers)
    x, _ = make_scales(panel)
    labels = place_top_labels(panel, x, 20.0, 300.0)
    for a, b in itertools.combinations(labels, 2):
        if a.row == b.row:
            apart = a.left_pt + a.width_pt <= b.left_pt or b.left_pt + b.width_pt <= a.left_pt
            assert apart
    for a in labels:
        assert a.left_pt >= 20.0 - 1e-6
        assert a.left_pt + a.width_pt <= 320.0 + 1e-6
        for b in labels:
            if a is not b and b.is_line and b.row > a.row:
                assert not a.left_pt + 0.5 < b.mark_pt < a.left_pt + a.width_pt - 0.5


@settings(deadline=None, max_examples=50)
@given(st.lists(st.floats(0.0, 200.0), min_size=1, max_size=6))
def test_labels_at_line_ends_keep_apart(heights: list[float]) -> None:
    labels = place_end_labels([(h, "one line", "#000000") for h in heights], 0.0, 200.0, 80.0)
    for a, b in itertools.pairwise(labels):
        assert b.y_pt - a.y_pt >= 9.0
    assert [a.wanted_pt for a in labels] == sorted(heights)


def test_wrapping_keeps_within_the_width() -> None:
    for line in wrap("a very long label with Donaudampfschifffahrtsgesellschaft in it", 70.0):
        assert measure(line) <= 70.0 + 3.0


def test_panels_stack_on_a_narrow_screen() -> None:
    wide, narrow = lay_out(other_figure(), narrow=False), lay_out(other_figure(), narrow=True)
    assert len({round(c.bottom) for c in wide.cells}) == 2
    assert len({round(c.bottom) for c in narrow.cells}) == 3
    assert narrow.width < wide.width


def test_extrapolated_parts_are_drawn_apart_and_meet_the_rest() -> None:
    t = np.linspace(0.0, 100.0, 11)
    whole = one_panel(Layer(kind="line", role="estimate", x=t, y=t))
    cut = one_panel(Layer(kind="line", role="estimate", x=t, y=t, extrapolated_from=55.0))
    plain, split = draw_figure(whole).svg, draw_figure(cut).svg
    assert split.count("stroke-dasharray") > plain.count("stroke-dasharray")
    band = Layer(kind="ribbon", role="band", label="b", x=t, low=t, high=t + 5,
                 extrapolated_from=55.0)  # fmt: skip
    assert "<pattern" in draw_figure(one_panel(band)).svg

    # the band beyond is hatched: nothing else in a picture without it is filled so
    assert draw_figure(one_panel(band)).body.count("url(#{id}h") == 1
    assert draw_figure(one_panel(band)).body.count("fill-opacity=") == 2  # within, and in the key


def lines_of_words(svg: str) -> set[tuple[str, ...]]:
    """Return the letters of each line of words in a picture."""
    groups = re.findall(r"<g [^>]*>((?:<use [^>]*/>)+)</g>", svg)
    return {tuple(re.findall(r'href="#([^"]+)"', g)) for g in groups}


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("figure", [curve_figure(), other_figure()], ids=["curve", "other"])
def test_every_word_that_was_laid_out_stands_in_the_picture(figure: Figure, narrow: bool) -> None:
    out = lay_out(figure, narrow=narrow)
    wanted = [*out.y_titles, *(k.text for k in out.key)]
    for c in out.cells:
        wanted += [*c.y_titles, *c.x_titles, *c.x.texts, *(k.text for k in c.key)]
        wanted += [t.text for t in c.tops]
        wanted += [line for _, text, _ in c.ends for line in wrap(text, c.end_width - 12.0)]
        wanted += [t for at, t in zip(c.y.ticks, c.y.texts, strict=True)
                   if c.bottom <= c.place_y(at) <= c.top]  # fmt: skip
    assert len(wanted) > 12
    drawing = draw_figure(figure, narrow=narrow)
    seen = lines_of_words(drawing.bare_svg)
    for words in wanted:
        assert not words.strip() or tuple(n for n, _, _ in set_line(words)) in seen
    bold = [(out.title, lines_of_words(drawing.svg)), *((c.title, seen) for c in out.cells)]
    for lines, there in bold:
        for words in lines:
            assert tuple(n for n, _, _ in set_line(words, bold=True)) in there


def test_the_grid_lies_under_all_marks_and_stands_at_the_ticks() -> None:
    figure = curve_figure()
    drawing = draw_figure(figure)
    ((cell,),) = [lay_out(figure, narrow=False).cells]
    level = next(e for e in drawing.body.splitlines() if e.startswith("<path"))
    assert 'stroke="{rule}"' in level
    assert level.count("M") == len(cell.y.ticks)
    first = re.findall(r"M(\S+) (\S+?)l", level)
    high = drawing.title_pt + drawing.height_pt
    for (left, down), tick in zip(first, cell.y.ticks, strict=True):
        assert float(left) == pytest.approx(cell.left, abs=0.01)
        assert high - float(down) == pytest.approx(cell.place_y(tick), abs=0.01)


def test_labels_of_vertical_marks_stand_above_the_panel_row_by_row() -> None:
    drawing = draw_figure(curve_figure())
    (cell,) = lay_out(curve_figure(), narrow=False).cells
    (frame,) = drawing.frames
    groups = re.findall(r"translate\((\S+) ([^\s)]+)\)[^>]*>((?:<use [^>]*/>)+)</g>", drawing.body)
    places = {tuple(re.findall(r'"#([^"]+)"', g)): (float(x), float(y)) for x, y, g in groups}
    assert cell.tops
    for label in cell.tops:
        left, base = places[tuple(n for n, _, _ in set_line(label.text))]
        assert left == pytest.approx(label.left_pt, abs=0.01)
        above = frame.top + drawing.title_pt - LINE_PT * label.row - base
        assert 0.2 * LINE_PT < above < 0.6 * LINE_PT  # room for what hangs below the letters


def test_a_mark_beyond_its_axis_is_not_drawn() -> None:
    t = np.linspace(0.0, 100.0, 11)
    line = Layer(kind="line", role="estimate", x=t, y=t)
    x = Axis(label="Hours", unit="h", low=0.0, high=100.0)
    y = Axis(label="Value", low=0.0, high=100.0)
    plain = draw_figure(one_panel(line, x=x, y=y)).body
    far = [
        Layer(kind="vline", role="claim", x=np.array([-5.0, 140.0])),
        Layer(kind="hline", role="target", y=np.array([-5.0, 140.0])),
        Layer(kind="points", role="failure", x=np.array([50.0, 140.0]), y=np.array([140.0, 50.0])),
    ]
    assert draw_figure(one_panel(line, *far, x=x, y=y)).body == plain


@pytest.mark.parametrize("kind", KINDS)
def test_a_pattern_in_the_key_keeps_within_its_row(kind: str) -> None:
    one = np.ones(1)
    layer = Layer(kind=kind, role="estimate", x=one, x2=one, y=one, low=one, high=one)
    pen = Pen(height=40.0)
    canvas = Pane(pen=pen, left=0.0, bottom=0.0, width=60.0, height=40.0, x=(0.0, 60.0),
                  y=(0.0, 40.0))  # fmt: skip
    draw_swatch(canvas, layer, 20.0, 20.0)
    drawing = Drawing(key="k", width_pt=60.0, height_pt=40.0, title_pt=0.0, title="",
                      body=pen.body(), letters={}, title_letters={}, frames=())  # fmt: skip
    picture = Image.open(io.BytesIO(rasterise({"k": drawing.svg})["k"])).convert("L")
    shown = np.asarray(picture) < 250
    rows, columns = np.flatnonzero(shown.any(axis=1)), np.flatnonzero(shown.any(axis=0))
    scale = 160.0 / 72.0
    assert 20.0 - 0.5 * LINE_PT < rows[0] / scale < 20.0 < rows[-1] / scale < 20.0 + 0.5 * LINE_PT
    assert 20.0 - 1.5 < columns[0] / scale < columns[-1] / scale < 20.0 + SWATCH_PT


@pytest.mark.parametrize("narrow", [False, True])
def test_no_letter_is_lost_with_the_title(narrow: bool) -> None:
    # the bold letters of panel titles may first stand in the title, which a page sets itself
    t = np.arange(3.0)
    layer = Layer(kind="line", role="estimate", x=t, y=t)
    panel = Panel(x=Axis(label="x"), y=Axis(label="y"), layers=(layer,), title="Slip through")
    figure = Figure(key="f", title="Through slip", see="", alt="", panels=(panel, panel),
                    columns=2)  # fmt: skip
    d = draw_figure(figure, narrow=narrow)
    for svg in (d.svg, d.bare_svg):
        ids = set(re.findall(r'\bid="([^"]+)"', svg))
        assert set(re.findall(r'href="#([^"]+)"', svg)) <= ids
        ET.fromstring(svg)
    page, letters = d.inline("a-", "")
    ids = set(re.findall(r'\bid="([^"]+)"', page)) | set(letters)
    assert set(re.findall(r'href="#([^"]+)"', page)) <= ids
    assert any(k.startswith("B") for k in letters)


def test_inline_drawings_share_no_identifier_and_turn_with_the_page() -> None:
    drawing = draw_figure(curve_figure())
    a, letters = drawing.inline("a-", 'what "it" shows')
    b, _ = drawing.inline("b-", "")
    ids = [set(re.findall(r'\bid="([^"]+)"', s)) for s in (a, b)]
    assert ids[0]
    assert not ids[0] & ids[1]
    used = set(re.findall(r'(?:href="#|url\(#)([^")]+)', a))
    assert used <= ids[0] | set(letters)
    assert "var(--fig-teal)" in a
    assert 'aria-label="what &quot;it&quot; shows"' in a
    for color in NAMES:
        assert color not in a
    # the same marks as in the file, in the same places
    whole = drawing.bare_svg
    for pattern in (r"scale\([^)]*\)", r"opacity=\S+", r"stroke-width=\S+", r' d="(M[^"]*)"'):
        assert set(re.findall(pattern, a)) <= set(re.findall(pattern, whole))
    assert not re.search(r"[{}]", a + whole)  # every field is filled in


# Simulation of colour blindness: Machado, Oliveira & Fernandes (2009), "A physiologically-based
# model for simulation of color vision deficiency", IEEE TVCG 15(6), severity 1.0.
MACHADO = {
    "none": np.eye(3),
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
                   [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
                     [-0.011820, 0.042940, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
                   [0.004733, 0.691367, 0.303900]],
}  # fmt: skip


def linear(color: str) -> np.ndarray:
    c = np.array([int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def lab(rgb: np.ndarray) -> np.ndarray:
    """CIELAB (CIE 1976) under D65, from linear sRGB (IEC 61966-2-1)."""
    m = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    xyz = m @ np.clip(rgb, 0, 1) / np.array([0.9505, 1.0, 1.089])
    f = np.where(xyz > 0.008856, np.cbrt(xyz), 7.787 * xyz + 16 / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("kind", MACHADO)
@pytest.mark.parametrize("dark", [False, True])
def test_group_colours_stay_apart_for_the_colour_blind(kind: str, dark: bool) -> None:
    colors = [DARK[c] if dark else c for c in GROUPS]
    seen = [lab(np.array(MACHADO[kind]) @ linear(c)) for c in colors]
    # a difference of 15 in CIELAB is seen at a glance; 2.3 is just noticeable (common practice)
    assert min(np.linalg.norm(a - b) for a, b in itertools.combinations(seen, 2)) > 15.0


def test_groups_differ_also_without_colour() -> None:
    looks = [LOOKS[f"group-{i}"] for i in range(1, 7)]
    assert len({k.marker for k in looks}) == 6
    assert len({k.dashes for k in looks}) == 6


@pytest.mark.parametrize("dark", [False, True])
def test_marks_stand_out_from_their_paper(dark: bool) -> None:
    def light(c: str) -> float:
        return float(np.array([0.2126, 0.7152, 0.0722]) @ linear(c))

    paper = light(DARK["#ffffff"] if dark else "#ffffff")
    for c in GROUPS:
        a, b = sorted([light(DARK[c] if dark else c), paper])
        # WCAG 2.2, success criterion 1.4.11: graphics need a contrast of 3 to 1
        assert (b + 0.05) / (a + 0.05) >= 3.0


def test_texts_from_outside_do_not_reach_the_picture_as_text() -> None:
    d = draw_figure(other_figure())
    assert "alert" not in d.svg
    assert EVIL not in d.svg


def test_pictures_are_made_from_the_drawings_in_their_order_and_size() -> None:
    small = (
        '<svg xmlns="http://www.w3.org/2000/svg" width="72pt" height="36pt" viewBox="0 0 72 36">'
    )
    drawings = {
        name: f'{small}<rect width="72" height="36" fill="{color}"/></svg>'
        for name, color in (("red", "#f00"), ("blue", "#00f"))
    }
    pictures = rasterise(drawings)
    assert list(pictures) == ["red", "blue"]
    for name, color in (("red", (255, 0, 0)), ("blue", (0, 0, 255))):
        image = Image.open(io.BytesIO(pictures[name]))
        assert image.size == (160, 80)
        assert image.convert("RGB").getpixel((80, 40)) == color
        assert image.convert("RGBA").getextrema()[3] == (255, 255)  # opaque
        assert not re.search(rb"tEXt|tIME", pictures[name])
    assert rasterise({"red": drawings["red"]}) == {"red": pictures["red"]}  # and it repeats
    assert rasterise({}) == {}
    with pytest.raises(ReportError, match="PNG"):
        rasterise({"broken": "<svg"})
