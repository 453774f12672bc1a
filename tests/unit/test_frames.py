"""Every step of the main job gives a table that holds what the step found."""

from __future__ import annotations

import numpy as np
import pytest
from advice_fleets import made_fleet, made_settings

from fleetstats.advice.advise import advise_hours
from fleetstats.core.errors import ArgumentError
from fleetstats.spells.spells import Spells
from fleetstats.survival.weibull.fit_weibull import fit_weibull

ROWS = "engine,exit_hours,ending,cause\nE-1,100,running,\nE-2,250,failed,piston\n"


def test_a_study_is_a_table_of_its_settings(make_study):
    frame = make_study(ROWS, "[check]\ninterval_h = 25\n").to_frame().set_index("key")
    assert frame.loc["check.interval_h", "value"] == 25
    assert frame.loc["check.interval_h", "default"] == 50
    assert frame.loc["check.interval_h", "chosen"]
    assert not frame.loc["study.confidence", "chosen"]


def test_records_are_a_table_of_lives(audited):
    _, records, _ = audited(ROWS)
    frame = records.to_frame()
    assert frame["engine"].tolist() == ["E-1", "E-2"]
    assert frame["exit_h"].tolist() == [100.0, 250.0]
    assert frame["row"].tolist() == [2, 3]
    assert frame["cause"].tolist() == ["", "piston"]


def test_fit_and_advice_are_tables_of_parameters_and_answers():
    fleet = made_fleet()
    fit = fit_weibull(fleet)
    frame = fit.to_frame().set_index("parameter")
    assert frame.loc["shape", "estimate"] == fit.shape
    assert frame.loc["scale_h", "std_error"] == pytest.approx(fit.std_error("scale_h"))
    advice = advise_hours(fleet, fit, made_settings(targets={"risk_per_check": 0.01}))
    table = advice.to_frame().set_index("answer")
    assert table.loc["wear-out (shape)", "estimate"] == advice.wear_out.shape.estimate
    assert table.loc["risk", "low"] == advice.risk.chosen.age.low
    assert table.loc["overhaul band", "high"] == advice.overhaul_band.not_beyond.hours
    assert table.loc["evidence horizon", "estimate"] == advice.horizon.supported_h
    assert table.loc["verdict on 1200 h", "state"] == advice.verdict.word


def test_columns_of_spells_must_be_of_one_length():
    with pytest.raises(ArgumentError, match="entry has 2, exit has 3"):
        Spells.of([0.0, 5.0], [10.0, 20.0, 30.0], [1, 0, 0])
    with pytest.raises(ArgumentError, match="exit has 3, failed has 2"):
        Spells.of(0.0, [10.0, 20.0, 30.0], [1, 0])
    with pytest.raises(ArgumentError, match="weight"):
        Spells.of(0.0, [10.0, 20.0, 30.0], [1, 0, 0], weight=[1.0, 2.0])
    assert len(Spells.of(0.0, np.array([10.0, 20.0]), [1, 0])) == 2
