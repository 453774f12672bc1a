"""Advice, claim and plan from arrays are those of a folder with the same lives; no outside source.

The two ways meet at no cell: one goes through files, audit and lives built, the other through
`Spells.of` and plain arguments.
"""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import fleetstats as fs
from fleetstats.chapters.cautions import collect_cautions
from fleetstats.chapters.curve_fit import caution_curve
from fleetstats.core.errors import ArgumentError, SettingError
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.caution import STANDING_NOTICE

STUDY = """
[study]
title = "the same lives in a folder"
analysis_date = 2026-01-01
claimed_interval_h = 900
confidence = 0.8
[targets]
accepted_failure_at_claim = 0.2
risk_per_check = 0.01
[cost]
ratio = 6.0
[[records]]
file = "lives.csv"
shape = "lives"
"""


def few() -> tuple[Any, Any, Any]:
    hours = np.arange(60.0, 1500.0, 31.0)
    return 0.25 * hours, hours, np.arange(len(hours)) % 23 == 20


def many() -> tuple[Any, Any, Any]:
    hours = np.arange(200.0, 1500.0, 26.0)
    return np.zeros(len(hours)), hours, np.arange(len(hours)) % 4 == 3


def through_folder(folder: Path, lives: tuple[Any, Any, Any]) -> tuple[fs.Spells, Settings]:
    rows = ["engine,entry_hours,exit_hours,ending,confirmed,cause"]
    for i, (entry, last, failed) in enumerate(zip(*lives, strict=True)):
        end = "removed,yes,crankshaft" if failed else "running,,"
        rows.append(f"A-{i + 101},{entry},{last},{end}")
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    (folder / "lives.csv").write_text("\n".join(rows), encoding="utf-8")
    study = fs.read_study(folder)
    records = fs.read_records(study)
    built = fs.build_spells(study, records, fs.audit_records(study, records))
    return built.spells, study.settings


@pytest.mark.parametrize("made", [few, many])
def test_arrays_give_the_digits_of_a_folder(made: Any, tmp_path: Path) -> None:
    entry, last, failed = made()
    spells, settings = through_folder(tmp_path, (entry, last, failed))
    assert spells.n_failed == failed.sum()
    lives = fs.Spells.of(entry, last, failed, cause=np.where(failed, "crankshaft", ""))
    asked = {"claimed_h": 900, "accepted": 0.2, "level": 0.8}
    others = fs.make_settings(targets={"risk_per_check": 0.01}, cost={"ratio": 6.0})
    fit = fs.fit_weibull(spells) if spells.n_failed else None
    want = fs.advise_hours(spells, fit, settings)
    got = fs.advise(lives, **asked, settings=others)
    for f in {f.name for f in fields(want)} - {"cautions", "verdict"}:
        assert getattr(got, f) == getattr(want, f), f
    assert got.verdict is not None
    assert want.verdict is not None
    assert got.verdict.reliability == want.verdict.reliability
    assert got.level == 0.8
    codes = [c.code for c in got.cautions]
    assert codes == [
        c.code
        for c in (*collect_cautions(spells, fit, settings, want), *caution_curve(fit, settings))
    ]
    assert ("few-failures" in codes) == (made is few)
    assert got.verdict.word == want.verdict.word
    claim = fs.advise_claim(spells, settings, by=())
    asking = fs.claim(lives, **asked, settings=others)
    quoted = {"subsets": (), "n_engines": asking.n_engines}
    for f in ("provisos", "may_quote"):
        quoted[f] = getattr(asking, f)
    assert replace(asking, subsets=()) == replace(claim, **quoted)
    assert set(asking.provisos) == {c.proviso for c in got.cautions if c.proviso}
    for told in (str(got), str(asking)):
        assert told.endswith("\n".join(STANDING_NOTICE))
    assert fs.plan(lives, **asked).sentence == fs.plan_evidence(spells, settings).sentence


def test_settings_have_defaults_and_what_is_given_goes_before_them() -> None:
    lives = fs.Spells.of(0, range(50, 1500, 10), False)
    assert Settings() == fs.make_settings()
    assert fs.advise(lives).verdict is None
    assert fs.advise(lives) == fs.advise(lives, settings=Settings())
    by_key = fs.make_settings(
        study={"claimed_interval_h": 600.0, "confidence": 0.5},
        targets={"accepted_failure_at_claim": 0.03},
    )
    assert fs.claim(lives, settings=by_key) == fs.claim(lives, 600, accepted=0.03, level=0.5)
    assert fs.claim(lives, 700, settings=by_key).hours == 700.0
    with pytest.raises(SettingError, match="No hours are claimed"):
        fs.claim(lives)


def test_keys_given_in_python_are_checked_as_those_of_a_file() -> None:
    with pytest.raises(SettingError) as told:
        fs.make_settings(
            targets={"reliability": 95, "relability": 0.9}, target={"reliability": 0.9}
        )
    assert len(told.value.problems) == 3
    assert "targets.reliability" in str(told.value)
    with pytest.raises(SettingError, match=r"targets: .*"):
        fs.make_settings(targets=0.95)


def test_a_fit_of_other_lives_is_refused() -> None:
    lives = fs.Spells.of(0, range(100, 1600, 50), [k % 5 == 3 for k in range(30)])
    others = fs.Spells.of(0, range(150, 1650, 50), [k % 5 == 3 for k in range(30)])
    for ask in (fs.advise, fs.claim, fs.plan):
        with pytest.raises(ArgumentError, match=r"^fit was made from"):
            ask(lives, claimed_h=900, fit=fs.fit_weibull(others))
