"""Hours that were carried to the analysis date are counted apart, and no claim hangs on them.

Records are invented. The law is logic, with no outside source: a reading that nobody took is no
evidence, so what is supported with such hours and not without them is not supported.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import pytest
from advice_fleets import made_fleet, made_settings

from fleetstats.advice.doubts.assumed_hours import as_read, failure_high_as_read
from fleetstats.advice.judge import is_supported, judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.claim import advise_claim
from fleetstats.chapters.clocks_and_dates.compute import run_rows
from fleetstats.records.clocks.usage import carry_readings
from fleetstats.records.cutoff import rows_as_of
from fleetstats.spells import Spells
from fleetstats.spells.build import build_spells
from fleetstats.spells.running import find_running
from fleetstats.spells.scenarios import scale_hours
from fleetstats.spells.splits import split_life
from fleetstats.studies.analyse import analyse, read_lives_of
from fleetstats.study.settings import HoursKeys
from fleetstats.survival.weibull.fit_weibull import try_fit

TARGET, CLAIM = 0.9, 900.0
CARRY = "[hours]\ncarry_to_analysis_date = true\n"
ASKED = f"claimed_interval_h = {CLAIM}\n"


def stale_rows(n: int = 60, read_h: float = 600.0, on: str = "2022-01-01") -> str:
    """Return engines new in 2018, read last at `read_h` to 200 h more, and never again."""
    lines = ["engine,entry_hours,exit_hours,ending,in_service_date,last_reading_date"]
    for i in range(n):
        lines.append(f"E-{i},0,{read_h + 200.0 * i / n:.1f},running,2018-01-01,{on}")
    return "\n".join(lines) + "\n"


def studied(make_study: Any, rows: str, *, carry: bool) -> Any:
    more = f"[targets]\nreliability = {TARGET}\n[merge]\nreturns = false\n"
    return make_study(rows, ASKED + (CARRY if carry else "") + more)


def test_support_that_hangs_on_hours_nobody_read_is_refused_on_every_face(make_study: Any) -> None:
    results = analyse(studied(make_study, stale_rows(), carry=True))
    verdict, claim = results.advice.verdict, results.chapters["claim"]
    assert isinstance(verdict.reliability.low, float)
    assert verdict.reliability.low >= TARGET  # the hours carried would carry the word
    assert not verdict.extrapolated
    for v in (verdict, claim):
        assert v.refused == "assumed-hours"  # type: ignore[attr-defined]
        assert v.assumed_h == pytest.approx(results.records.hours_carried)  # type: ignore[attr-defined]
        assert v.failure_high_as_read == 1.0  # type: ignore[attr-defined]  # not one reading there
    assert verdict.word == claim.state == "not-yet-shown"  # type: ignore[attr-defined]
    hours = f"{results.records.hours_carried:,.0f} h"
    said = f"of which {hours} were assumed, not seen"
    assert said in claim.may_quote  # type: ignore[attr-defined]
    assert f"{hours} were assumed, not seen" in verdict.sentence
    (caution,) = [c for c in results.advice.cautions if c.text.startswith("Hours since the last")]
    assert caution.code == "stale-hours"
    assert caution.value.startswith(hours.removesuffix(" h"))
    assert caution.proviso == f"{hours} of the exposure were assumed, not seen"
    told = results.to_dict()["advice"]["verdict"]
    assert (told["refused"], told["assumed_h"]) == ("assumed-hours", verdict.assumed_h)


def test_the_bound_without_them_is_that_of_the_study_that_does_not_carry(make_study: Any) -> None:
    """Asked both ways: beside the carried study, and by a study that carries nothing."""
    rows = stale_rows(read_h=880.0)
    with_them = analyse(studied(make_study, rows, carry=True))
    without = analyse(studied(make_study, rows, carry=False))
    a, b = with_them.advice.verdict, without.advice.verdict
    assert a is not None
    assert b is not None
    assert a.failure_high_as_read == pytest.approx(1.0 - (b.reliability.low or 0.0), rel=1e-12)
    assert b.failure_high_as_read is None
    assert b.assumed_h == 0.0
    assert (a.word, b.word) == ("supported", "supported")  # it stands without them
    assert with_them.troubles == without.troubles == ()
    assert with_them.spells.as_read() == without.spells
    cautions = [c.proviso for c in with_them.advice.cautions if "assumed, not seen" in c.proviso]
    assert len(cautions) == 1  # and says in its own sentence that some were assumed


def fleet_with_assumed(seed: int, share: float) -> Spells:
    """Return a fleet from stated truth whose running engines have a share of hours assumed."""
    fleet = made_fleet(60, shape=2.0, scale_h=4000.0, seed=seed, late=0.2)
    run = fleet.exit_upper - fleet.entry
    return fleet.replace(assumed_h=np.where(fleet.failed, 0.0, share * run))


def test_no_word_is_better_for_hours_that_were_assumed() -> None:
    refused = supported = 0
    for i in range(40):
        fleet = fleet_with_assumed(i, share=[0.1, 0.3, 0.6][i % 3])
        settings = made_settings(claim=600.0, targets={"reliability": TARGET})
        lives = Quoter.of(fleet, try_fit(fleet), settings)
        read = fleet.as_read()
        alone = Quoter.of(read, try_fit(read), settings)
        judged, bare = (judge_claim(x, 600.0, TARGET) for x in (lives, alone))
        refused += judged.refused == "assumed-hours"
        supported += judged.word == "supported"
        if judged.word == "supported":
            assert bare.word == "supported", i
        if judged.refused == "assumed-hours":
            assert bare.word != "supported", i
        assert is_supported(lives, 600.0, TARGET) == (judged.word == "supported")
        same = advise_claim(fleet, settings, by=())
        assert (same.state, same.refused) == (judged.word, judged.refused)
        high = failure_high_as_read(lives, 600.0)
        low = alone.interval(Quantity.reliability(600.0)).low or 0.0
        assert high == (1.0 if alone.reach_h < 600.0 else 1.0 - low)
    assert refused >= 5
    assert supported >= 5


def test_a_reading_at_the_claimed_hours_stays_at_risk_there() -> None:
    for added in (0.1, 1 / 3, 123.456):
        end = np.full(12, 900.0 + added)
        lives = Spells.of(0.0, end, np.zeros(12)).replace(assumed_h=np.full(12, added))
        assert float(lives.as_read().at_risk(900.0)[0]) == 12.0
        assert lives.as_read().horizon_h() == 900.0


def test_where_nothing_was_assumed_nothing_is_asked_twice() -> None:
    fleet = made_fleet(30)
    lives = Quoter.of(fleet, try_fit(fleet), made_settings())
    assert as_read(lives) is None
    assert failure_high_as_read(lives, 500.0) is None
    assert fleet.as_read() is fleet
    all_of_it = Spells.of(0.0, [500.0, 700.0], [0, 0]).replace(assumed_h=[500.0, 700.0])
    nothing = Quoter.of(all_of_it, None, made_settings())
    assert as_read(nothing) is None
    assert failure_high_as_read(nothing, 500.0) == 1.0


def test_spells_keep_assumed_hours_at_their_ends() -> None:
    one = Spells.of(100.0, [500.0], [0]).replace(assumed_h=[150.0])
    cut = one.split_at(400.0)
    assert cut.hours_assumed == one.hours_assumed == 150.0
    assert sorted(zip(cut.entry, cut.assumed_h, strict=True)) == [(100.0, 50.0), (400.0, 100.0)]
    assert cut.as_read().exposure_h == one.as_read().exposure_h == 250.0
    assert scale_hours(one, 2.0).as_read().exposure_h == 500.0
    two = one.join(one.replace(assumed_h=[0.0]))
    assert len(two.collapse()) == 2  # lives seen and lives assumed are not the same
    assert two.select([1]).hours_assumed == 0.0
    assert one.replace(entry=[400.0]).assumed_h.tolist() == [100.0]  # all that is left is assumed
    with pytest.raises(Exception, match="assumed_h"):
        one.replace(assumed_h=[400.1])
    with pytest.raises(Exception, match="assumed_h"):
        one.replace(assumed_h=[-1.0])


def test_rows_keep_them_through_clocks_modifications_and_earlier_dates(make_study: Any) -> None:
    study = studied(make_study, stale_rows(4), carry=True)
    records, audit, built = read_lives_of(study)
    row = records.rows[0]
    assert row.exit_h - row.carried_h == pytest.approx(600.0)
    assert built.spells.hours_assumed == pytest.approx(records.hours_carried)
    assert build_spells(study, records, audit).spells == built.spells
    for at in (500.0, 600.0, 700.0):
        parts = split_life(row, at, "later")
        assert sum(x.carried_h for x in parts) == pytest.approx(row.carried_h)
        assert sum(x.exit_h - x.entry_h for x in parts) == pytest.approx(row.exit_h)
        assert all(0.0 <= x.carried_h <= x.exit_h - x.entry_h for x in parts)
    # a year earlier nobody had read more than was read: the hours carried since are no part of it
    (then,) = rows_as_of([row], dt.date(2024, 1, 1)).rows
    assert (then.exit_h, then.carried_h) == (pytest.approx(600.0), 0.0)
    (half,) = rows_as_of([row], dt.date(2020, 1, 1)).rows
    assert half.exit_h == pytest.approx(300.0, rel=0.01)
    rerun = run_rows("all", built.rows, study.settings)
    assert rerun is not None
    assert rerun.verdict == "not-yet-shown"


def test_hours_of_a_running_engine_are_carried_once(make_study: Any) -> None:
    study = studied(make_study, stale_rows(1), carry=True)
    records, _, built = read_lives_of(study)
    (engine,) = find_running(built.rows, study.settings)
    assert engine.age_h == pytest.approx(records.rows[0].exit_h, rel=1e-3)
    bare = studied(make_study, stale_rows(1), carry=False)
    (as_told,) = find_running(read_lives_of(bare)[2].rows, bare.settings)
    assert engine.use_h == pytest.approx(as_told.use_h)
    carrying = made_settings(hours={"carry_to_analysis_date": True})
    assert isinstance(carrying.hours, HoursKeys)
    assert carry_readings((), carrying).hours_added == 0.0
