"""Answers on a grid: look-up against an independent interpolation, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from report_document import tabulated

from fleetstats.core.errors import ReportError
from fleetstats.document.tabulated import Knob, Readout, Tabulated


@settings(deadline=None, max_examples=50)
@given(st.floats(200.0, 2000.0), st.integers(0, 3))
def test_look_up_agrees_with_scipy(hours: float, hidden: int) -> None:
    from scipy.interpolate import RegularGridInterpolator

    t = tabulated()
    r = t.readings[1]
    grid = tuple(k.values for k in t.knobs)
    table = r.values.reshape([len(g) for g in grid])
    want = float(RegularGridInterpolator(grid, table)([[hours, hidden]])[0])
    got, _ = t.look_up(r, claim_h=hours, hidden=hidden)
    assert got == pytest.approx(want, abs=1e-12)


def test_a_fixed_knob_takes_its_nearest_value_and_a_free_one_is_held_in_range() -> None:
    t = tabulated()
    r = t.readings[1]
    assert t.look_up(r, hidden=1.4) == t.look_up(r, hidden=1.0)
    assert t.look_up(r, claim_h=99999.0) == t.look_up(r, claim_h=2000.0)


def test_between_two_words_the_worse_is_said() -> None:
    t = tabulated()
    word = t.readings[0]
    at = [t.look_up(word, claim_h=h)[0] for h in (1100.0, 1200.0, 1300.0)]
    assert at == ["supported", "not yet shown", "not yet shown"]
    assert t.look_up(word, claim_h=1101.0)[0] == "not yet shown"


def test_a_missing_corner_gives_no_answer() -> None:
    t = tabulated()
    assert t.look_up(t.readings[2], hidden=2.0)[0] is None
    assert t.look_up(t.readings[2], hidden=1.0)[0] == 850.0


def test_extrapolation_is_told() -> None:
    t = tabulated()
    assert t.look_up(t.readings[1], claim_h=1400.0)[1] is False
    assert t.look_up(t.readings[1], claim_h=1401.0)[1] is True


def knob(**change: object) -> Knob:
    given_: dict[str, object] = {"key": "k", "label": "K", "kind": "number",
                                 "values": [1.0, 2.0], "start": 1.0}  # fmt: skip
    return Knob(**(given_ | change))  # type: ignore[arg-type]


def reading(**change: object) -> Readout:
    given_: dict[str, object] = {"row": "R", "part": "low", "kind": "number", "axes": ("k",),
                                 "values": [1.0, 2.0]}  # fmt: skip
    return Readout(**(given_ | change))  # type: ignore[arg-type]


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ReportError, match="must rise"):
        knob(values=[2.0, 1.0])
    with pytest.raises(ReportError, match="not on its grid"):
        knob(start=1.5)
    with pytest.raises(ReportError, match="finite"):
        knob(values=[])
    with pytest.raises(ReportError, match="part 'middle'"):
        reading(part="middle")
    with pytest.raises(ReportError, match="out of range"):
        reading(part="word", words=("a",))
    with pytest.raises(ReportError, match="differs in length"):
        reading(beyond=[True])
    with pytest.raises(ReportError, match="unknown knob"):
        Tabulated(knobs=(knob(),), readings=(reading(axes=("z",)),))
    with pytest.raises(ReportError, match="2 combinations"):
        Tabulated(knobs=(knob(),), readings=(reading(values=np.arange(3.0)),))
    with pytest.raises(ReportError, match="share a key"):
        Tabulated(knobs=(knob(), knob()), readings=())
