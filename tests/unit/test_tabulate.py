"""The grid of the page that answers back: it starts at the report and moves the right way."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fleetstats.decide.analyse import analyse
from fleetstats.decide.results import Results
from fleetstats.decide.tabulated import Reading, Tabulated

SETTINGS = """
claimed_interval_h = 800
seed = 7

[targets]
risk_per_check = 0.02
reliability = 0.90

[cost]
ratio = 5

[evidence]
resamples = 400
"""


def rows_of(n_failed: int, n: int = 90) -> str:
    """Return lives of which some failed, by Weibull shape 3, scale 1,500 h, at even quantiles."""
    lines = ["engine,exit_hours,ending"]
    for i in range(n):
        age = 1500.0 * (-np.log(1 - (i + 0.5) / n)) ** (1 / 3)
        stop = 200.0 + 1400.0 * ((i * 37) % n) / n
        failed = age < stop and n_failed > 0
        n_failed -= failed
        lines.append(f"E-{i:03},{min(age, stop):.1f},{'failed' if failed else 'running'}")
    return "\n".join(lines) + "\n"


@pytest.fixture
def study_of(
    make_study: Callable[..., Any], monkeypatch: pytest.MonkeyPatch
) -> Callable[[int], Results]:
    # the other chapters are not asked here
    from fleetstats.decide import analyse as door

    monkeypatch.setattr(door, "CHAPTERS", {"tabulated": door.CHAPTERS["tabulated"]})

    def run(n_failed: int) -> Results:
        return analyse(make_study(rows_of(n_failed), SETTINGS))

    return run


def cube(tab: Tabulated, reading: Reading) -> np.ndarray:
    sizes = {k.key: len(k.values) for k in tab.knobs}
    return reading.values.reshape([sizes[a] for a in reading.axes])


def find(tab: Tabulated, row: str, part: str) -> Reading:
    return next(r for r in tab.readings if r.row.startswith(row) and r.part == part)


def nan_to_none(x: float) -> float | None:
    return None if np.isnan(x) else float(x)


@pytest.mark.parametrize("n_failed", [0, 25])
def test_it_starts_at_the_report_and_never_moves_the_wrong_way(
    study_of: Callable[[int], Results], n_failed: int
) -> None:
    results = study_of(n_failed)
    assert not results.troubles
    tab = results.chapters["tabulated"]
    assert isinstance(tab, Tabulated)
    a = results.advice
    assert a.verdict is not None
    # where the study stands, the grid holds the report's own figures
    assert tab.look_up(find(tab, "Verdict", "word"))[0] == a.verdict.reading
    low = find(tab, "Share of engines", "low")
    assert tab.look_up(low)[0] == pytest.approx(a.verdict.reliability.low, abs=1e-12)
    for part, edge in (
        ("low", a.overhaul_band.plan_from),
        ("estimate", a.overhaul_band.expect_at),
        ("high", a.overhaul_band.not_beyond),
    ):
        assert tab.look_up(find(tab, "Overhaul band", part))[0] == edge.hours
    # reliability falls with hours; a surer bound and more unreported failures never raise it
    r = cube(tab, low)
    assert np.all(np.diff(r, axis=0) <= 1e-12)
    assert np.all(np.diff(r, axis=1) <= 1e-12)
    assert np.all(np.diff(r, axis=2) <= 1e-9)
    # checks further apart pass the accepted chance no later
    age = cube(tab, find(tab, "Age at which", "low"))
    assert np.all(np.diff(np.nan_to_num(age, nan=1e9), axis=0) <= 0)
    # no verdict of support past the evidence
    word = cube(tab, find(tab, "Verdict", "word"))
    claims = tab.knobs[0].values
    assert np.all(word[claims > a.horizon.supported_h] > 0)


def test_unreported_failures_turn_the_verdict_where_the_report_says(
    study_of: Callable[[int], Results],
) -> None:
    results = study_of(0)
    v = results.advice.verdict
    assert v is not None
    assert v.word == "supported"
    assert v.hidden_to_turn is not None
    tab = results.chapters["tabulated"]
    assert isinstance(tab, Tabulated)
    word = find(tab, "Verdict", "word")
    hidden = next(k for k in tab.knobs if k.key == "hidden").values.tolist()
    assert v.hidden_to_turn in hidden
    turned = [tab.look_up(word, hidden=k)[0] != v.reading for k in hidden]
    assert turned == [k >= v.hidden_to_turn for k in hidden]


def test_cost_is_asked_only_where_the_report_answers_it(
    study_of: Callable[[int], Results],
) -> None:
    few = study_of(0).chapters["tabulated"]
    many = study_of(25).chapters["tabulated"]
    assert isinstance(few, Tabulated)
    assert isinstance(many, Tabulated)
    assert "cost_ratio" not in {k.key for k in few.knobs}
    assert "cost_ratio" in {k.key for k in many.knobs}
    age = cube(many, find(many, "Cheapest age", "estimate"))
    # dearer failures call for earlier overhaul
    assert np.all(np.diff(age, axis=0)[np.isfinite(np.diff(age, axis=0))] <= 0)
