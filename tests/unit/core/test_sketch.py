"""The picture that a curve shows in a notebook: our own drawing, no outside source."""

from __future__ import annotations

import re
from itertools import pairwise
from typing import ClassVar
from xml.etree import ElementTree

import numpy as np

from fleetstats.core.shown.sketch import MOST_POINTS, curve_of, sketch
from fleetstats.core.value import Floats, Value, value

NAN = np.nan


@value
class Slope(Value):
    """A curve made for the test."""

    hours: Floats
    share_left: Floats
    low: Floats
    high: Floats
    start_h: float = 0.0


@value
class Stairs(Slope):
    """The same in steps that begin at 1."""

    _steps: ClassVar[float | None] = 1.0


def slope(of: type[Slope] = Slope, n: int = 3) -> Slope:
    hours = np.linspace(100.0, 300.0, n)
    share = np.linspace(0.9, 0.5, n)
    return of(hours=hours, share_left=share, low=share - 0.1, high=share + 0.1)


def lines(picture: str) -> list[list[tuple[float, float]]]:
    """Return the stretches of the curve itself as points."""
    drawn = re.search(r'<path d="([^"]*)" fill="none"', picture)
    assert drawn is not None
    return [
        [(float(a), float(b)) for a, b in re.findall(r"([\d.]+) ([\d.]+)", run)]
        for run in drawn[1].split("M")[1:]
    ]


def test_a_curve_is_its_hours_its_middle_and_its_edges() -> None:
    found = curve_of(slope())
    assert found is not None
    assert found[0] == "share_left"
    picture = sketch(slope())
    ElementTree.fromstring(picture)
    assert "share left over hours" in picture
    (run,) = lines(picture)
    assert len(run) == 3
    assert [b for _, b in run] == sorted(b for _, b in run)  # falls: down the page
    assert picture.count("Z") == 1


def test_steps_begin_at_their_start_and_have_corners() -> None:
    (run,) = lines(sketch(slope(Stairs)))
    assert len(run) == 1 + 2 * 3
    across = [a[1] == b[1] for a, b in pairwise(run)]
    assert across == [True, False] * 3
    assert run[0][0] < run[1][0]


def test_what_is_missing_is_a_gap() -> None:
    held = slope()
    cut = Slope(hours=[100, 150, 200, 300], share_left=[0.9, NAN, 0.7, 0.6],
                low=[0.8, NAN, 0.6, NAN], high=[1, NAN, 0.9, 0.8])  # fmt: skip
    assert [len(run) for run in lines(sketch(cut))] == [1, 2]
    none = Slope(hours=held.hours, share_left=[NAN] * 3, low=[NAN] * 3, high=[NAN] * 3)
    assert sketch(none) == ""


def test_a_long_curve_is_drawn_at_no_more_points_than_can_be_told_apart() -> None:
    (run,) = lines(sketch(slope(n=100_000)))
    assert len(run) == MOST_POINTS


def test_one_point_is_no_curve() -> None:
    assert sketch(slope(n=1)) == ""
    assert "<svg" not in slope(n=1)._repr_html_()
    assert "<svg" in slope()._repr_html_()


def test_a_name_is_text_and_no_markup() -> None:
    @value
    class Named(Slope):
        name: str = "a < b"

    picture = sketch(Named(hours=[1, 2], share_left=[1, 0], low=[1, 0], high=[1, 0]))
    ElementTree.fromstring(picture)
    assert "a &lt; b over hours" in picture
