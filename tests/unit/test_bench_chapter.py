"""The bench's answer: joined only where the mode is the same, and warned of where it is far."""

import datetime as dt

import numpy as np
import pytest

from fleetstats.chapters.bench.compute import judge_bench
from fleetstats.chapters.bench.section import compose_bench
from fleetstats.document.words import FORBIDDEN
from fleetstats.records.condition.bench_records import BenchRow
from fleetstats.spells import Event, Spells
from fleetstats.study.condition_settings import BenchKeys
from fleetstats.study.settings import Settings, StudyKeys
from fleetstats.vocabulary.finding import Origin

SHAPE, POWER, SCALE_300 = 2.2, 9.0, 3.0e6
PER_H = 8_000.0


def settings(**keys):
    keys = {
        "life_unit": "cycles",
        "service_stress": 230.0,
        "cycles_per_hour": PER_H,
        "mode": "fillet",
        "field_causes": ("crankshaft",),
        "field_mode_proof": "fractography",
    } | keys
    study = StudyKeys(title="t", analysis_date=dt.date(2026, 9, 30), claimed_interval_h=1200.0)
    return Settings(study=study, bench=BenchKeys(**keys))


def runs(seed=1, *, levels=(280.0, 320.0, 360.0), n=10, cut=1e7, proof="fractography"):
    rng = np.random.default_rng(seed)
    out = []
    for s in levels:
        for t in SCALE_300 * (300.0 / s) ** POWER * rng.weibull(SHAPE, n):
            failed = t < cut
            out.append(
                BenchRow(
                    origin=Origin(file="b.csv", row=2),
                    specimen="K",
                    stress=s,
                    life=min(t, cut),
                    failed=bool(failed),
                    mode="fillet" if failed else "",
                    mode_proven_by=proof if failed else "",
                )
            )
    return out


def field(n, hours, failed=0, cause="crankshaft"):
    event = np.where(np.arange(n) < failed, Event.FAILED, Event.CENSORED)
    return Spells.of(np.zeros(n), np.full(n, hours), event, cause=np.where(event == 1, cause, ""))


def scale_h(stress):
    return SCALE_300 * (300.0 / stress) ** POWER / PER_H


def test_life_at_service_stress_holds_the_truth_and_margin_follows():
    b = judge_bench(runs(), field(50, 300.0), settings())
    truth = scale_h(230.0) * (-np.log(0.9)) ** (1 / SHAPE)
    assert b.p == 0.1
    assert b.life_h.low < truth < b.life_h.high
    assert b.slope == pytest.approx(-POWER, rel=0.25)
    assert b.shape == pytest.approx(SHAPE, rel=0.3)
    # Margin: allowed over service stress, (life / required) ** (1 / power) at the estimate.
    want = (b.life_h.estimate / 1200.0) ** (-1.0 / b.slope)
    assert b.margin.estimate == pytest.approx(want, rel=1e-6)
    assert b.margin.low < b.margin.estimate < b.margin.high
    assert b.distance == pytest.approx(np.log(280 / 230) / np.log(360 / 280), rel=1e-9)
    assert "bench-stress" in [c.code for c in b.cautions]


def test_service_within_the_tested_range_is_no_extrapolation():
    b = judge_bench(runs(), field(50, 300.0), settings(service_stress=300.0))
    assert b.distance == 0.0
    assert "bench-stress" not in [c.code for c in b.cautions]
    assert not any("extrapolation" in t for t in b.sentences)


def test_run_outs_are_censored():
    some = judge_bench(runs(cut=2.5e6), field(50, 300.0), settings())
    assert some.n_run_out > 0
    as_failures = [
        BenchRow(origin=r.origin, specimen="K", stress=r.stress, life=r.life, failed=True,
                 mode="fillet", mode_proven_by="x")
        for r in runs(cut=2.5e6)
    ]  # fmt: skip
    wrong = judge_bench(as_failures, field(50, 300.0), settings())
    truth = scale_h(230.0) * (-np.log(0.9)) ** (1 / SHAPE)
    assert abs(np.log(some.life_h.estimate / truth)) < abs(np.log(wrong.life_h.estimate / truth))


def test_cycles_per_hour_move_the_life_over_their_range():
    keys = {"cycles_per_hour_low": 4_000.0, "cycles_per_hour_high": 16_000.0}
    b = judge_bench(runs(), field(50, 300.0), settings(**keys))
    assert b.life_range_h == pytest.approx((0.5 * b.life_h.low, 2.0 * b.life_h.low))
    assert [f.per_h for f in b.fields] == [4_000.0, 8_000.0, 16_000.0]
    assert b.fields[0].expected < b.fields[1].expected < b.fields[2].expected


@pytest.mark.parametrize(
    ("rows", "keys", "says"),
    [
        (runs(proof=""), {}, "bench failures is not established"),
        (runs(), {"field_mode_proof": ""}, "how the field failures were shown"),
        (runs(), {"mode": ""}, "does not name"),
    ],
)
def test_not_joined_unless_the_mode_is_shown_on_both_sides(rows, keys, says):
    b = judge_bench(rows, field(50, 300.0), settings(**keys))
    assert not b.joined
    assert says in b.not_joined
    assert all(f.joint_life_h is None for f in b.fields)
    assert "bench-mode" in [c.code for c in b.cautions]
    assert any(says in t for t in b.sentences)


def test_joined_where_it_is_and_sharper_for_it():
    b = judge_bench(runs(), field(400, 700.0, failed=8), settings())
    assert b.joined
    f = b.fields[0]
    assert f.agrees == "not-contradicted"
    alone, both = b.life_h, f.joint_life_h
    assert both.high / both.low < alone.high / alone.low


def test_other_modes_end_a_run_without_counting():
    mixed = runs()
    odd = mixed[3]
    mixed[3] = BenchRow(
        origin=odd.origin, specimen="K", stress=odd.stress, life=odd.life, failed=True,
        mode="Web", mode_proven_by="x",
    )  # fmt: skip
    b = judge_bench(mixed, field(50, 300.0), settings())
    assert b.n_other_mode == 1
    assert b.n_failed == sum(r.failed for r in runs()) - 1
    assert b.n_run_out == sum(not r.failed for r in runs())


def test_quiet_field_hours_reject_a_pessimistic_bench():
    b = judge_bench(runs(), field(500, 3_500.0), settings())
    f = b.fields[0]
    assert f.seen == 0
    assert f.agrees == "field-lives-longer"
    assert f.chance_so_few < 0.05
    assert f.ratio.low > 1.0
    assert f.ratio.high is None
    assert f.p_value < 0.05
    assert f.joint_life_h is None
    assert any("speaks against" in t for t in b.sentences)


def test_early_field_failures_reject_an_optimistic_bench():
    b = judge_bench(runs(), field(300, 400.0, failed=40), settings())
    f = b.fields[0]
    assert f.agrees == "field-fails-sooner"
    assert f.chance_so_many < 0.05
    assert f.ratio.high < 1.0


def test_field_failures_of_other_causes_only_end_the_watch():
    b = judge_bench(runs(), field(300, 400.0, failed=12, cause="valve"), settings())
    assert b.fields[0].seen == 0


def test_one_stress_alone_says_what_is_missing():
    b = judge_bench(runs(levels=(320.0,)), field(50, 300.0), settings())
    assert b.life_h is None
    assert "failures at two stresses" in b.sentences[0]
    assert judge_bench([], field(50, 300.0), settings()) is None


def test_two_stresses_do_not_test_the_law():
    b = judge_bench(runs(levels=(280.0, 360.0)), field(50, 300.0), settings())
    assert b.law_p is None
    assert "bench-levels" in [c.code for c in b.cautions]
    assert "cannot be tested" in b.sentences[0]


def test_without_service_stress_or_cycles_nothing_is_said_of_hours():
    b = judge_bench(runs(), field(50, 300.0), settings(service_stress=None))
    assert b.life_h is None
    assert any("no service stress" in t for t in b.sentences)
    b = judge_bench(runs(), field(50, 300.0), settings(cycles_per_hour=None))
    assert b.life_h is None
    assert any("no cycles per hour" in t for t in b.sentences)


def test_the_section():
    b = judge_bench(runs(cut=4e6), field(50, 300.0), settings())
    section = compose_bench(b)
    text = " ".join(x.text for x in section.blocks if hasattr(x, "text"))
    assert not FORBIDDEN.search(text)
    figure = next(x for x in section.blocks if type(x).__name__ == "Figure")
    layers = figure.panels[0].layers
    far = [x for x in layers if x.kind == "line" and x.extrapolated_from is not None]
    near = [x for x in layers if x.kind == "line" and x.extrapolated_from is None]
    assert far[0].x[-1] == near[0].x[0] == 280.0
    assert far[0].x[0] == 230.0


def test_a_life_longer_than_engines_are_flown_has_no_digits() -> None:
    bench = judge_bench(runs(), field(40, 600.0), settings(service_stress=90.0))
    assert bench.life_h.estimate > 100_000
    told = next(x for x in bench.sentences if x.startswith("At service stress"))
    assert "by some age past 20,000 h, longer than engines are flown" in told
    assert "at least 20,000 h" in told
    assert "widths of the tested range outside it" in told
    near = judge_bench(runs(), field(40, 600.0), settings())
    assert "some age past" not in " ".join(near.sentences)


def test_expected_failures_are_those_of_the_law_that_is_printed():
    lives = field(300, 900.0, failed=1)
    b = judge_bench(runs(), lives, settings())
    f = next(x for x in b.fields if x.per_h == PER_H)
    scale = np.exp(b.intercept + b.slope * np.log(b.service_stress)) / PER_H
    assert f.expected == pytest.approx(300 * (900.0 / scale) ** b.shape)
    assert f.expected_low < f.expected < f.expected_high


def test_a_failure_that_the_law_makes_improbable_is_named():
    quiet = field(50, 300.0)
    early = Spells.of(
        [0.0], [20.0], [Event.FAILED], cause=np.array(["crankshaft"]), unit=np.array(["K-7"])
    )
    b = judge_bench(runs(), quiet.join(early), settings())
    named = [x.engine for x in b.fields[0].improbable]
    assert named == ["K-7"]
    assert any("K-7 at 20 h" in s for s in b.sentences)
    late = judge_bench(runs(), field(400, 700.0, failed=8), settings())
    assert late.fields[0].improbable == ()


def two_builds():
    a, c = field(200, 700.0, failed=4), field(100, 500.0)
    return a.replace(build=np.full(200, "standard")).join(c.replace(build=np.full(100, "light")))


def test_builds_are_compared_one_by_one_and_not_joined_unless_the_bench_has_one():
    b = judge_bench(runs(), two_builds(), settings())
    assert {f.build for f in b.fields} == {"standard", "light"}
    assert not b.joined
    assert "bench.build" in b.not_joined
    own = judge_bench(runs(), two_builds(), settings(build="Standard"))
    alone = judge_bench(runs(), field(200, 700.0, failed=4), settings())
    assert own.joined
    assert [f.expected for f in own.fields] == pytest.approx([f.expected for f in alone.fields])
    assert own.fields[0].joint_life_h.low == alone.fields[0].joint_life_h.low
    none = judge_bench(runs(), two_builds(), settings(build="third"))
    assert none.fields == ()
    assert any("No field life is of build third" in s for s in none.sentences)
