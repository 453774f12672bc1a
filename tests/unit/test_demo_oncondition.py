"""The on-condition demo: the committed files are the generator's, and the bands hold its truth."""

from pathlib import Path

import numpy as np
import pytest

from fleetstats.chapters.registry import CHAPTERS
from fleetstats.demo import oncondition as truth
from fleetstats.demo.oncondition_study import oncondition_files
from fleetstats.studies.single import run_single
from fleetstats.study.study import read_study
from fleetstats.survival.delay.delay import slip_share

FOLDER = Path(__file__).parents[2] / "datasets" / "on-condition"


@pytest.fixture(scope="module")
def done():
    return run_single(
        read_study(FOLDER), tuple(k for k, c in CHAPTERS.items() if c.verb), lambda _stage: None
    )


def test_the_committed_files_are_the_generators():
    files = oncondition_files()
    assert {p.name for p in FOLDER.iterdir()} == set(files)
    for name, text in files.items():
        assert (FOLDER / name).read_text(encoding="utf-8") == text, name


def test_every_row_is_used(done):
    c = done["condition"]
    assert all(r.n_read == len(r.rows) and not r.set_aside for r in c.readings)
    assert not c.findings
    assert len(c.sources) == 3
    assert all(len(s.sha256) == 64 for s in c.sources)


def test_the_check_interval_holds_its_truth(done):
    a = done["check-interval"]
    slip = slip_share(truth.CHECK_H, truth.MEAN_DELAY_H, detection=truth.DETECTION)[0]
    assert a.slip_at_usual.low < slip < a.slip_at_usual.high
    assert a.mean_delay.low < truth.MEAN_DELAY_H < a.mean_delay.high
    horizon = a.fits[1].model.horizon_h
    faults = (horizon / truth.ARRIVAL_SCALE_H) ** truth.ARRIVAL_SHAPE
    rate = 1000.0 * faults / horizon * slip
    assert a.per_1000_at_usual.low < rate < a.per_1000_at_usual.high
    assert a.fits[1].model.arrival_shape == pytest.approx(truth.ARRIVAL_SHAPE, abs=0.4)
    assert [m.mode for m in a.modes if m.detectable == "no"] == [truth.NO_WARNING]
    assert a.cheapest_h is not None


def test_the_trends_hold_their_truth(done):
    t = done["trends"]
    fall = t.fleet_fall_per_100_h
    assert fall.low < truth.FALL_PER_100_H < fall.high
    assert t.noise["check"] == pytest.approx(truth.CHECK_SD, rel=0.15)
    assert t.noise["noise"] == pytest.approx(truth.NOISE, rel=0.15)
    assert t.n_replaced > 0
    assert all(c.limit_from == "maker" for c in t.cylinders)


def test_the_bench_holds_its_truth(done):
    b = done["bench"]
    assert b.joined
    life = truth.CRANK_SCALE_H * (-np.log(0.9)) ** (1 / truth.CRANK_SHAPE)
    assert b.life_h.low < life < b.life_h.high
    assert b.n_run_out > 0
    stated = next(f for f in b.fields if f.per_h == truth.CYCLES_PER_H)
    assert stated.agrees == "not-contradicted"


def test_outlook_forecast_and_backtest_stand_beside_them(done):
    o = done["outlook"]
    assert o.ranked[0].signs
    assert o.apart
    f = done["forecast"]
    assert f.failures.low <= f.failures.expected <= f.failures.high
    assert f.reserve.currency == "EUR"
    assert done["backtest"].verdict in ("inside", "fewer", "more")


def test_every_answer_is_plain_data_and_reads_well(done):
    import json

    for key, value in done.items():
        told = json.loads(json.dumps(value.to_dict(), allow_nan=False))
        assert told["schema"].startswith("fleetstats/"), key
        assert len(repr(value)) < 4000, key
        assert len(value.to_frame()) >= 1, key
