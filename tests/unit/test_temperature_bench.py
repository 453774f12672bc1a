"""The bench by temperature: Celsius and kelvin are one answer, and service may lie below zero."""

import datetime as dt
import math

import numpy as np
import pytest

from fleetstats.chapters.bench.compute import judge_bench
from fleetstats.chapters.bench.section import compose_bench
from fleetstats.core.errors import SettingError
from fleetstats.records.condition.bench_records import BenchRow
from fleetstats.spells import Spells
from fleetstats.study.condition_settings import BenchKeys
from fleetstats.study.settings import Settings, StudyKeys
from fleetstats.survival.stress.stress_life import BOLTZMANN_EV
from fleetstats.vocabulary.finding import Origin

EV, SHAPE, HOURS_100C = 0.7, 2.0, 400.0
FIELD = Spells.of([0.0, 0.0], [300.0, 500.0], [False, False])


def judged(unit, *, at=20.0, seed=3):
    rng = np.random.default_rng(seed)
    add = 273.15 if unit == "K" else 0.0
    rows = []
    for celsius in (100.0, 120.0, 140.0):
        fall = EV / BOLTZMANN_EV * (1 / (celsius + 273.15) - 1 / 373.15)
        for life in HOURS_100C * math.exp(fall) * rng.weibull(SHAPE, 8):
            rows.append(
                BenchRow(
                    origin=Origin(file="b.csv", row=2),
                    specimen="K",
                    stress=celsius + add,
                    life=min(life, 600.0),
                    failed=life < 600.0,
                )
            )
    keys = BenchKeys(
        relation="arrhenius", temperature_unit=unit, service_stress=at + add,
        stress_name=f"temperature, {unit}",
    )  # fmt: skip
    study = StudyKeys(title="t", analysis_date=dt.date(2026, 9, 30), claimed_interval_h=1200.0)
    return judge_bench(rows, FIELD, Settings(study=study, bench=keys))


@pytest.fixture(scope="module")
def both():
    return judged("C"), judged("K")


def test_celsius_and_kelvin_give_one_answer(both):
    c, k = both
    for name in ("estimate", "low", "high"):
        assert getattr(c.life_h, name) == pytest.approx(getattr(k.life_h, name), rel=1e-9)
        assert getattr(c.margin, name) == pytest.approx(getattr(k.margin, name), rel=1e-9)
    assert [x.stress for x in c.levels] == [100.0, 120.0, 140.0]
    assert [x.stress for x in k.levels] == pytest.approx([373.15, 393.15, 413.15])
    assert (c.service_stress, k.service_stress) == (20.0, pytest.approx(293.15))
    assert c.curve_stress == pytest.approx(k.curve_stress - 273.15)
    assert c.distance == pytest.approx(k.distance)
    assert c.sentences[1:] == k.sentences[1:]
    assert c.cautions[0].limit == "tested 100 to 140"


def test_the_law_and_the_margin_are_said_in_their_units(both):
    c, _ = both
    assert -c.slope == pytest.approx(EV, abs=0.25)
    assert "activation energy of" in c.sentences[0]
    assert "eV" in c.sentences[0]
    (margin,) = [s for s in c.sentences if s.startswith("Temperature margin for 1,200 h")]
    assert " K above that of service" in margin
    true = HOURS_100C * math.exp(EV / BOLTZMANN_EV * (1 / 293.15 - 1 / 373.15))
    true *= (-math.log(0.9)) ** (1 / SHAPE)
    assert c.life_h.low < true < (c.life_h.high or math.inf)
    compose_bench(c)


def test_service_below_zero_celsius_is_a_temperature_like_others(both):
    cold = judged("C", at=-10.0)
    assert cold.service_stress == -10.0
    assert cold.life_h.estimate > both[0].life_h.estimate
    compose_bench(cold)


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ('relation = "arrhenius"\nservice_stress = -300', "must be above -273.15"),
        ('relation = "arrhenius"\ntemperature_unit = "K"\nservice_stress = -5', "must be above 0"),
        ("service_stress = 0", "must be above 0"),
        ('temperature_unit = "F"', 'must be one of "C", "K"'),
    ],
)
def test_what_no_temperature_can_be_is_told(make_study, lines, says):
    with pytest.raises(SettingError) as told:
        make_study(settings=f"[bench]\n{lines}\n")
    assert says in str(told.value)


def test_a_bench_file_may_hold_temperatures_below_zero(make_study):
    from fleetstats.studies.single import run_single

    bench = "specimen,temperature,hours,ended\n" + "".join(
        f"S{i},{t},{h},failed\n"
        for i, (t, h) in enumerate([(-20, 900), (-20, 700), (40, 300), (40, 200), (80, 90)])
    )
    records = '\n[[records]]\nfile = "lives.csv"\n\n[[records]]\nfile = "b.csv"\nshape = "bench"\n'
    records += '[records.columns]\nstress = "temperature"\n'
    study = make_study(
        settings='[bench]\nrelation = "arrhenius"\nservice_stress = 15\n',
        records=records,
        more={"b.csv": bench},
    )
    told = run_single(study, ("bench",), lambda _stage: None)["bench"]
    assert [x.stress for x in told.levels] == [-20.0, 40.0, 80.0]
    assert told.life_h is not None
