"""The walk from one study's advice to another's: each step owned, the sum the whole."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fleetstats.spells.spells import Spells
from fleetstats.studies.compare.attribution import Walk, walk_advice
from fleetstats.studies.compare.settings import compare_settings
from fleetstats.study.settings import Settings, StudyKeys, TargetKeys
from fleetstats.study.study import Study


def study(reliability: float = 0.9) -> Study:
    keys = StudyKeys(title="t", analysis_date=dt.date(2026, 1, 1), claimed_interval_h=1000.0)
    settings = Settings(study=keys, targets=TargetKeys(reliability=reliability))
    return Study(folder=Path(), settings=settings, files=(), chosen=frozenset())


def fleet(ages: np.ndarray, failed: np.ndarray | None = None, first: int = 0) -> Spells:
    names = np.array([f"e{first + i:03d}" for i in range(len(ages))])
    none = np.zeros(len(ages), dtype=bool)
    return Spells.of(np.zeros(len(ages)), ages, none if failed is None else failed, unit=names)


OLD = fleet(np.linspace(100, 1400, 60))


def moves(walk: Walk) -> dict[str, float | None]:
    return {s.key: s.move_h for s in walk.steps}


def test_nothing_changed_moves_nothing() -> None:
    walk = walk_advice(study(), OLD, study(), OLD)
    assert set(moves(walk).values()) == {None, 0.0}
    assert walk.settings == ()
    assert "no step moved it" in walk.sentence


def test_a_stricter_target_is_owned_by_the_settings() -> None:
    walk = walk_advice(study(0.9), OLD, study(0.95), OLD)
    m = moves(walk)
    assert m["settings"] is not None
    assert m["settings"] < 0
    assert {m[k] for k in ("hours", "endings", "gone", "new")} == {0.0}
    assert [(c.key, c.before, c.after) for c in walk.settings] == [
        ("targets.reliability", "0.9", "0.95")
    ]


def test_each_change_of_the_records_is_owned_by_its_step() -> None:
    """Ten engines are new, three gone, one of those in both failed, the rest ran 200 h more."""
    ages = np.linspace(100, 1400, 60) + 200.0
    failed = np.zeros(60, dtype=bool)
    failed[30] = True
    later = (
        fleet(ages, failed).select(np.arange(60) >= 3).join(fleet(np.full(10, 1500.0), None, 500))
    )
    walk = walk_advice(study(), OLD, study(), later)
    assert (walk.data.engines_both, walk.data.engines_gone, walk.data.engines_new) == (57, 3, 10)
    assert walk.data.failures_added == 1.0
    by = {s.key: s.figure for s in walk.steps}
    assert [by[k].n_failed for k in ("before", "hours", "endings", "new")] == [0, 0, 1, 1]
    m = moves(walk)
    assert m["hours"] is not None
    assert m["hours"] > 0
    assert m["endings"] is not None
    assert m["endings"] < 0
    assert m["new"] is not None
    assert m["new"] >= 0
    whole = by["new"].plan_from_h - by["before"].plan_from_h
    assert sum(v for v in m.values() if v is not None) == pytest.approx(whole)


def test_title_and_date_are_no_change_of_assumptions() -> None:
    other = study()
    keys = replace(other.settings.study, title="other", analysis_date=dt.date(2027, 1, 1))
    renamed = replace(other, settings=replace(other.settings, study=keys))
    assert compare_settings(study(), renamed) == ()
