"""Marks put on the sheet without axes: where they are asked to be, whole, cut at their frame."""

from __future__ import annotations

import numpy as np

from fleetstats.report.figures.pen import ABOVE, Pane, make_sheet


def pane(**more: object) -> Pane:
    style: dict[str, object] = {"x": (0.0, 10.0), "y": (0.0, 1.0)}
    return Pane(sheet=make_sheet(200.0, 100.0, "#ffffff"), left=20.0, bottom=10.0, width=160.0,
                height=80.0, **(style | more))  # type: ignore[arg-type]  # fmt: skip


def pixels(p: Pane) -> np.ndarray:
    p.sheet.canvas.draw()
    return np.asarray(p.sheet.canvas.buffer_rgba())[:, :, :3]


def test_places_become_points_and_an_axis_may_run_down() -> None:
    p = pane(y=(4.0, 0.0))
    np.testing.assert_allclose(p.at_x([0.0, 5.0, 10.0]), [20.0, 100.0, 180.0])
    np.testing.assert_allclose(p.at_y([4.0, 0.0]), [10.0, 90.0])


def test_marks_fill_their_place_and_end_at_the_frame() -> None:
    p = pane()
    p.bar(np.array([-5.0]), np.array([0.5]), np.array([10.0]), bottom=np.array([0.0]),
          facecolor="#000000", lw=0)  # fmt: skip
    dark = pixels(p)[:, :, 0] < 128
    rows, columns = np.flatnonzero(dark.any(axis=1)), np.flatnonzero(dark.any(axis=0))
    # from the frame's left side at 20 to the middle at 100; 50 to 90 points from the top
    assert (columns[0], columns[-1] + 1) == (20, 100)
    assert (rows[0], rows[-1] + 1) == (50, 90)


def test_a_gap_parts_an_area_and_strokes_do_not_join() -> None:
    p = pane()
    x = np.array([0.0, 4.0, 5.0, 6.0, 10.0])
    low, high = np.zeros(5), np.array([1.0, 1.0, np.nan, 1.0, 1.0])
    p.fill_between(x, low, high, facecolor="#000000", lw=0)
    dark = pixels(p)[50, :, 0] < 128
    assert dark[30]
    assert dark[170]
    assert not dark[90:110].any()
    q = pane()
    q.vlines([2.0, 8.0], 0.0, [1.0, 1.0], color="#000000", lw=2.0)
    dark = pixels(q)[:, :, 0] < 128
    assert np.flatnonzero(dark[12]).size == np.flatnonzero(dark[88]).size == 4
    assert not dark[:, 60:140].any()


def test_nothing_finite_draws_nothing() -> None:
    p = pane()
    nothing = np.full(3, np.nan)
    p.fill_between(np.arange(3.0), nothing, nothing, facecolor="#000000")
    p.bar(nothing, nothing, nothing, bottom=nothing, facecolor="#000000")
    p.plot(nothing, nothing, color="#000000")
    p.hlines(nothing, 0.0, 1.0, color="#000000")
    assert pixels(p).min() == 255


def test_words_lie_above_marks_whatever_comes_first() -> None:
    p = pane()
    above = Pane(sheet=p.sheet, left=0.0, bottom=0.0, width=200.0, height=100.0, x=(0.0, 200.0),
                 y=(0.0, 100.0), order=ABOVE)  # fmt: skip
    above.plot([0.0, 200.0], [50.0, 50.0], color="#ff0000", lw=4.0)
    above.text(100.0, 50.0, "over", color="#0000ff", size=20, ha="center", va="center")
    p.axvspan(0.0, 10.0, facecolor="#000000", lw=0, zorder=9)
    shown = pixels(p)
    assert tuple(shown[50, 25]) == (255, 0, 0)
    assert ((shown[:, :, 2] > 200) & (shown[:, :, 0] < 60)).any()
