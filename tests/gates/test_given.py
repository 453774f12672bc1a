"""Lives as a caller gives them, and things that belong together: our own rules, no outside source.

The status column with 1 for running and 2 for failed is the one of many published tables of lives;
read as failed and competing it gave 63 failures of 165 lives.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from advice_fleets import made_settings

import fleetstats as fs
from fleetstats.core.errors import ArgumentError, ArgumentTypeError, FitError, SpellError
from fleetstats.spells.histories import Histories
from fleetstats.survival.groups.equal_ages import compare_equal_ages
from fleetstats.survival.recurrent.power_law import fit_power_law

Event = fs.Event
HOURS = [400.0, 650.0, 900.0]


@pytest.mark.parametrize(
    "failed", [[1, 2, 1], [0.7, 0, 1], [float("nan"), 0, 1], [256, 0, 1], np.array([0, 3, 1]), -1]
)
def test_numbers_other_than_0_and_1_are_refused_with_the_cure(failed: Any) -> None:
    with pytest.raises(SpellError, match=r"failed\[\d\] = .*status == 1.*fs\.Event\.COMPETING"):
        fs.Spells.of(0, HOURS, failed)


@pytest.mark.parametrize(
    "failed", [None, "yes", ["no", "yes", "no"], [True, None, False], [1j, 0, 0], [[1, 0, 1]]]
)
def test_what_is_no_truth_is_refused(failed: Any) -> None:
    with pytest.raises(ArgumentError, match=r"^failed"):
        fs.Spells.of(0, HOURS, failed)


@pytest.mark.parametrize(
    "failed",
    [
        [True, False, True],
        [1, 0, 1],
        np.array([1.0, 0.0, 1.0]),
        pd.Series([True, False, True], index=[7, 3, 9]),
        pd.Series([True, False, True], dtype="boolean"),
        [Event.FAILED, Event.CENSORED, Event.FAILED],
        [Event.FAILED, False, True],
    ],
)
def test_truths_and_events_are_read(failed: Any) -> None:
    assert fs.Spells.of(0, HOURS, failed).event.tolist() == [1, 0, 1]


def test_events_of_other_kinds_are_told_as_events() -> None:
    kinds = [Event.COMPETING, Event.FINDING, Event.FAILED]
    for told in (
        kinds,
        tuple(kinds),
        np.array(kinds, dtype=object),
        pd.Series(kinds, dtype=object),
    ):
        assert fs.Spells.of(0, HOURS, told).event.tolist() == [2, 3, 1]
    with pytest.raises(SpellError, match="numpy would make numbers of events"):
        fs.Spells.of(0, HOURS, np.array(kinds))


def test_one_value_stands_for_all_in_every_column_and_a_list_of_one_in_none() -> None:
    alone: dict[str, Any] = {
        "entry": 100.0, "exit": 900.0, "failed": True, "exit_lower": 800.0, "unit": "D-1",
        "cause": "gear", "source": "club", "build": "B", "weight": 2.0,
    }  # fmt: skip
    one = fs.Spells.of(**alone)
    assert len(one) == 1
    for name, v in alone.items():
        three = fs.Spells.of(**(alone | {name: [v] * 3}))
        assert len(three) == 3
        assert three.select([0]) == one
        other = "exit" if name != "exit" else "entry"
        with pytest.raises(ArgumentError, match=f"Lengths differ: .*{name} has 1"):
            fs.Spells.of(**(alone | {name: [v], other: [alone[other]] * 3}))


def test_every_column_is_refused_by_its_name() -> None:
    good: dict[str, Any] = {
        "entry": [0.0] * 3, "exit": HOURS, "failed": [True, False, True], "weight": [1.0] * 3,
        "exit_lower": HOURS, "unit": list("abc"), "cause": [""] * 3,
    }  # fmt: skip
    assert len(fs.Spells.of(**good)) == 3
    nan, inf = float("nan"), float("inf")
    for name in ("entry", "exit", "weight", "exit_lower"):
        for v in ([-1.0, 1, 1], [nan, 1, 1], [inf, 1, 1], "900", ["a", "b", "c"], [None, 1, 1],
                  [True, True, True], [[1.0, 2.0, 3.0]], [1.0, 2.0], []):  # fmt: skip
            with pytest.raises((ArgumentError, SpellError), match=name):
                fs.Spells.of(**(good | {name: v}))
    for name in ("unit", "cause"):
        for v in ([None, "a", "b"], [nan, "a", "b"], [1.5, 2.5, 3.5], ["a"], [["a", "b", "c"]]):
            with pytest.raises(ArgumentError, match=name):
                fs.Spells.of(**(good | {name: v}))


FRAME = pd.DataFrame(
    {"new_h": [0.0, 10.0, 20.0], "gone_h": HOURS, "broke": [True, False, True],
     "engine": ["a", "b", "c"], "status": [1, 2, 1]},
    index=[30, 10, 20],
)  # fmt: skip
PLAIN = fs.Spells.of([0, 10, 20], HOURS, [1, 0, 1], unit=list("abc"))


def test_a_frame_gives_its_columns_by_name_and_position() -> None:
    named: dict[str, Any] = {"exit": "gone_h", "failed": "broke", "unit": "engine"}
    assert fs.Spells.of(entry="new_h", data=FRAME, **named) == PLAIN
    assert fs.Spells.of(entry="new_h", data=FRAME.to_dict("list"), **named) == PLAIN
    assert fs.Spells.of(entry=0.0, data=FRAME, **named).entry.tolist() == [0.0] * 3
    other_order = FRAME["broke"].sort_index()
    assert fs.Spells.of(FRAME["new_h"], FRAME["gone_h"], other_order).event.tolist() == [0, 1, 1]
    with pytest.raises(ArgumentError, match=r"exit = 'gone'\. Did you mean 'gone_h'"):
        fs.Spells.of(entry="new_h", exit="gone", failed="broke", data=FRAME)
    with pytest.raises(SpellError, match=r"failed \(column 'status'\)\[1\] = 2"):
        fs.Spells.of(entry="new_h", exit="gone_h", failed="status", data=FRAME)
    with pytest.raises(ArgumentError, match="2 columns 'new_h'"):
        fs.Spells.of("new_h", 9, True, data=pd.concat([FRAME, FRAME], axis=1))
    for no_table in (3, "file.csv", [1, 2], np.ones((2, 2))):
        with pytest.raises(ArgumentTypeError, match=r"data = .* Give a DataFrame"):
            fs.Spells.of(entry="new_h", exit="gone_h", failed="broke", data=no_table)


def test_tables_of_another_library_are_read() -> None:
    pytest.importorskip("narwhals")
    import pyarrow as pa

    table = pa.Table.from_pandas(FRAME, preserve_index=False)
    got = fs.Spells.of(entry="new_h", exit="gone_h", failed="broke", unit="engine", data=table)
    assert got == PLAIN


LIVES = fs.Spells.of(0, range(100, 1600, 50), [k % 5 == 3 for k in range(30)])
OTHERS = fs.Spells.of(0, range(150, 1650, 50), [k % 5 == 3 for k in range(30)])
B10 = fs.Quantity.life(0.10)


def test_a_fit_of_other_lives_is_refused_wherever_the_two_meet() -> None:
    fit, settings = fs.fit_weibull(OTHERS), made_settings()
    refused = r"^fit was made from 30 lives.*Fit these lives"
    with pytest.raises(ArgumentError, match=refused):
        fs.band(LIVES, fit, B10, level=0.9)
    with pytest.raises(ArgumentError, match=refused):
        fs.band_curve(LIVES, fit, "reliability", [500.0], level=0.9)
    with pytest.raises(ArgumentError, match=refused):
        fs.advise_hours(LIVES, fit, settings)
    with pytest.raises(ArgumentError, match=refused):
        fs.advise_claim(LIVES, settings, 1000.0, fit=fit)
    with pytest.raises(ArgumentError, match=refused):
        fs.plan_evidence(LIVES, settings, hours=1000.0, fit=fit)
    more_failed = LIVES.replace(event=np.r_[1, LIVES.event[1:]])
    with pytest.raises(ArgumentError, match=refused):
        fs.band(more_failed, fs.fit_weibull(LIVES), B10, level=0.9)


def test_the_same_lives_written_otherwise_are_the_same() -> None:
    fit = fs.fit_weibull(LIVES)
    want = fs.band(LIVES, fit, B10, level=0.9)
    turned = LIVES.select(np.arange(30)[::-1])
    twice = LIVES.join(LIVES)
    halves = twice.replace(weight=np.full(60, 0.5))
    for same in (turned, LIVES.split_at(430.0), halves, halves.collapse()):
        got = fs.band(same, fit, B10, level=0.9)
        assert got.low == pytest.approx(want.low, rel=1e-9)


def test_a_fit_answers_for_its_own_lives_and_a_band_knows_its_fit() -> None:
    fit = fs.fit_weibull(LIVES)
    got = fit.band(B10, level=0.9)
    assert got == fs.band(LIVES, fit, B10, level=0.9)
    assert got.fit is fit
    assert got.fit.spells is LIVES
    curve = fit.band_curve("reliability", [500.0, 900.0], level=0.9)
    assert curve.fit is fit
    assert "fit" not in got.to_dict() | curve.to_dict()
    assert "fit" not in [*got.to_frame(), *curve.to_frame()]


@pytest.mark.parametrize("family", ["lognormal", "gamma", "loglogistic", "exponential"])
def test_a_method_of_the_weibull_refuses_other_families(family: str) -> None:
    fit = fs.fit_family(LIVES, family)
    for method in ("shape-mixture", "weights-bca", "parametric", "calibrated-profile", "posterior"):
        with pytest.raises(ArgumentError, match=f"method = '{method}'.*this fit is {family}"):
            fs.band(LIVES, fit, B10, level=0.9, method=method)
    assert fs.band(LIVES, fit, B10, level=0.9).method == "profile"
    assert fit.band(B10, level=0.9, method="wald").method == "wald"


def test_columns_of_another_length_than_the_lives_are_refused() -> None:
    from fleetstats.survival.counting.incidence import estimate_incidence

    with pytest.raises(ArgumentError, match="endings has 2 values"):
        estimate_incidence(LIVES, ["a", "b"])
    with pytest.raises(ArgumentError, match="group has 2 values"):
        compare_equal_ages(LIVES, [True, False])
    for edges in ([0.0], [600.0, 0.0], [0.0, 0.0]):
        with pytest.raises(ArgumentError, match=r"^edges"):
            fs.estimate_exposure(LIVES, edges)


def test_a_level_in_percent_is_refused_before_anything_is_allocated() -> None:
    """It once asked for a table as long as the inverse of one minus the level, without end."""
    import tracemalloc

    seen = Histories.of(["a", "b"], 0.0, [900.0, 800.0], ["a", "a", "b"], [100.0, 700.0, 300.0])
    assert fit_power_law(seen, level=0.95).level == 0.95
    tracemalloc.start()
    with pytest.raises(ArgumentError, match=r"level = 95.*0\.90, not 90"):
        fit_power_law(seen, level=95)
    assert tracemalloc.get_traced_memory()[1] < 1e6
    tracemalloc.stop()


def test_covariates_of_other_lives_are_refused() -> None:
    from fleetstats.survival.regression.covariates import build_covariates
    from fleetstats.survival.regression.proportional import fit_proportional
    from fleetstats.survival.regression.regression import fit_accelerated
    from fleetstats.survival.regression.stratified import fit_stratified

    built = build_covariates(LIVES, {"power": np.arange(30.0) % 7})
    few = LIVES.select(np.arange(10))
    for fit in (fit_accelerated, fit_proportional):
        with pytest.raises(ArgumentError, match=r"^covariates = .* 30 lives, not for the 10"):
            fit(few, built)
    with pytest.raises(ArgumentError, match=r"^covariates = .* 30 lives, not for the 10"):
        fit_stratified(few, built, np.full(10, "a"))
    with pytest.raises(ArgumentError, match="strata has 3 values"):
        fit_stratified(LIVES, built, np.array(["a", "b", "a"]))
    for column in (["a"] * 30, None, np.ones((30, 2)), [True] * 30):
        with pytest.raises(ArgumentError, match=r"^numbers\['power'\]"):
            build_covariates(LIVES, {"power": column})
    bare = build_covariates(LIVES, {"power": np.ones(30)})
    for fit in (fit_accelerated, fit_proportional):
        with pytest.raises(FitError, match="no covariate"):
            fit(LIVES, bare)


def test_runs_and_histories_are_made_of_columns_that_fit_together() -> None:
    from fleetstats.survival.recurrent.trend import estimate_trend
    from fleetstats.survival.stress.stress_life import StressRuns, fit_stress_life

    good: dict[str, Any] = {"stress": [1.0, 2.0], "life": [90.0, 40.0], "failed": [True, True]}
    assert len(StressRuns.of(**good)) == 2
    assert StressRuns.of(2.0, [90.0, 40.0], True).stress.tolist() == [2.0, 2.0]
    for name in good:
        for v in (["a", "b"], [1.0], [float("nan"), 1.0], [-1.0, 2.0], None, [[1.0, 1.0]]):
            with pytest.raises(ArgumentError, match=f"^{name}"):
                StressRuns.of(**(good | {name: v}))
    with pytest.raises(FitError, match="0 stresses"):
        fit_stress_life(StressRuns.of([], [], []))
    seen: dict[str, Any] = {
        "unit": ["a", "b"], "start_h": [0.0, 0.0], "end_h": [900.0, 800.0], "event_unit": ["a"],
        "event_h": [100.0],
    }  # fmt: skip
    assert len(Histories.of(**seen).unit) == 2
    for name in ("start_h", "end_h"):
        for v in (["a", "b"], [1.0], [float("nan"), 1.0], [-1.0, 2.0], None):
            with pytest.raises(ArgumentError, match=f"^{name}"):
                Histories.of(**(seen | {name: v}))
    with pytest.raises(ArgumentError, match="event_unit has 1 values"):
        Histories.of(**(seen | {"event_h": [100.0, 200.0]}))
    nobody = Histories.of([], [], [], [], [])
    for ask in (fit_power_law, estimate_trend):
        with pytest.raises(FitError, match="No engine was watched"):
            ask(nobody)


def test_a_prior_and_a_chance_of_detection_of_nothing_are_refused() -> None:
    from fleetstats.bands.bayes.prior import ShapePrior
    from fleetstats.survival.delay.delay import CheckLives
    from fleetstats.survival.delay.delay_fit import fit_delay

    for name in ("median", "log_sd"):
        for v in (0.0, -1.0, float("nan"), float("inf"), None, "3"):
            with pytest.raises(ArgumentError, match=f"^{name} = "):
                ShapePrior(**{name: v})
    seen: Any = object.__new__(CheckLives)  # refused before the lives are looked at
    with pytest.raises(ArgumentError, match=r"^detection = 0\.0"):
        fit_delay(seen, detection=0.0)


def test_a_plan_of_engines_that_show_nothing_is_refused_and_not_divided_by_zero() -> None:
    from fleetstats.advice.success_run import success_run

    # 0.95 = 0.9 ** n: n = 21.9 lives, rounded up (common practice, no source)
    assert success_run(0.9, 0.9) == 22
    assert success_run(0.9, 0.9, run_share=1e300, shape=9.0) == 1
    with pytest.raises(ArgumentError, match=r"^run_share"):
        success_run(0.9, 0.9, run_share=1e-300, shape=5.0)
