"""Trends of cylinders, metal and oil: what is flagged, what is not claimed, what starts anew."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest

from fleetstats.chapters.ahead.chapter import signs_of_trends
from fleetstats.chapters.trends.compute import read_trends
from fleetstats.chapters.trends.leakdown_runs import find_runs, limit_of
from fleetstats.chapters.trends.plug_signs import read_plugs
from fleetstats.chapters.trends.section import compose_trends
from fleetstats.chapters.trends.words import _ahead
from fleetstats.document.words import FORBIDDEN
from fleetstats.records.condition.checks import CheckRow
from fleetstats.records.condition.leakdown import LeakRow
from fleetstats.study.condition_settings import LeakdownKeys
from fleetstats.study.settings import Settings, StudyKeys
from fleetstats.vocabulary.finding import Origin


def settings(**keys):
    study = StudyKeys(title="t", analysis_date=dt.date(2026, 9, 30))
    return Settings(study=study, leakdown=LeakdownKeys(**keys))


def row(engine, hours, cylinder, reading, *, line=2, **more):
    more.setdefault("supply", 80.0)
    return LeakRow(
        origin=Origin(file="l.csv", row=line),
        engine=engine,
        hours_h=hours,
        cylinder=str(cylinder),
        reading=reading,
        **more,
    )


def fleet(seed=0, *, engines=8, checks=6, fall=None, **more):
    """Readings near 75 that fall by 0.4 per 100 h; `fall` adds per 100 h to (engine, cylinder)."""
    rng = np.random.default_rng(seed)
    out = []
    for e in range(engines):
        for k in range(checks):
            shared = rng.normal(0.0, 1.0)
            for c in range(1, 5):
                extra = (fall or {}).get((f"E{e}", c), 0.0)
                h = 100.0 * (k + 1)
                y = 75.0 - (0.4 + extra) * h / 100.0 + shared + rng.normal(0.0, 0.8)
                out.append(row(f"E{e}", h, c, float(np.clip(round(y), 5, 80)), **more))
    return out


def one(trends, engine, cylinder):
    return next(c for c in trends.cylinders if (c.engine, c.cylinder) == (engine, str(cylinder)))


def test_a_falling_cylinder_comes_first_and_has_its_chance_and_hours():
    t = read_trends(fleet(fall={("E3", 2): 2.0}), [], settings())
    worst = t.cylinders[0]
    assert (worst.engine, worst.cylinder) == ("E3", "2")
    assert worst.state == "faster"
    assert worst.fall_per_100_h.low > t.fleet_fall_per_100_h.estimate
    others = [c.chance_below for c in t.cylinders[1:]]
    assert worst.chance_below > 5 * max(others)
    assert 0.0 < worst.to_limit_h.low < worst.to_limit_h.estimate
    calm = one(t, "E5", 1)
    assert calm.state == "as-the-fleet"
    assert calm.chance_below < 0.01
    assert calm.next_h == 650.0


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [(0.0, 0.0, "; its level is at the limit already."),
     (0.0, 90.0, "; its level is at the limit after 0 h to 90 h more."),
     (40.0, None, "; its level is at the limit after 40 h to no upper limit more.")],
)  # fmt: skip
def test_a_level_at_the_limit_is_not_said_to_be_ahead(low, high, said):
    until = SimpleNamespace(low=low, high=high)
    c = SimpleNamespace(engine="E-1", cylinder=2, chance_below=0.9, next_h=500.0, to_limit_h=until)
    assert _ahead(c).endswith(f"90 %{said}")


def test_too_few_checks_claim_no_trend():
    rows = fleet() + [row("F", 100.0 * k, c, 74.0) for k in (1, 2, 3) for c in (1, 2)]
    t = read_trends(rows, [], settings(min_readings=4))
    few = one(t, "F", 1)
    assert few.state == "too-few"
    assert few.fall_per_100_h is None
    assert few.chance_below is None
    assert few.to_limit_h is None
    assert few.n_checks == 3
    assert any("no trend is claimed" in s for s in t.sentences)


def test_a_repair_starts_a_cylinder_anew():
    rows = fleet()
    rows += [row("E0", 700.0, 1, 58.0, action="Valve Work")]
    rows += [row("E0", 700.0 + 100.0 * k, 1, 76.0) for k in range(1, 5)]
    run = find_runs([r for r in rows if r.engine == "E0" and r.cylinder == "1"], settings())
    assert [(r.since_h, len(r.rows), r.mended) for r in run] == [(0.0, 7, True), (700.0, 4, False)]
    t = read_trends(rows, [], settings())
    c = one(t, "E0", 1)
    assert c.since_h == 700.0
    assert c.n_checks == 4
    assert len(c.earlier) == 7
    assert not c.signs
    assert abs(c.fall_per_100_h.estimate) < 1.0


def test_a_cylinder_mended_at_its_last_check_asks_for_nothing():
    rows = [*fleet(), row("E0", 700.0, 1, 50.0, action="cylinder change")]
    c = one(read_trends(rows, [], settings()), "E0", 1)
    assert (c.state, c.signs, c.look_first, c.chance_below) == ("mended", (), False, None)


def test_a_retest_replaces_its_reading_and_both_are_counted():
    low = row("E0", 700.0, 1, 40.0, line=90, replaced_by=91)
    rows = [*fleet(), low, row("E0", 700.0, 1, 73.0, line=91)]
    t = read_trends(rows, [], settings())
    c = one(t, "E0", 1)
    assert c.last == 73.0
    assert 40.0 not in c.reading
    assert t.n_replaced == 1
    assert t.n_readings == len(rows)


def test_one_low_reading_asks_for_a_retest_and_two_for_a_look():
    once = [*fleet(), *[row("E0", 700.0, c, 57.0 if c == 1 else 73.0) for c in (1, 2, 3, 4)]]
    c = one(read_trends(once, [], settings(step_sd=50.0)), "E0", 1)
    assert "retest" in c.signs[0]
    assert not c.look_first
    twice = [*once, *[row("E0", 800.0, c, 56.0 if c == 1 else 73.0) for c in (1, 2, 3, 4)]]
    c = one(read_trends(twice, [], settings(step_sd=50.0)), "E0", 1)
    assert "two checks running" in c.signs[0]
    assert c.look_first


def test_a_deficit_against_the_other_cylinders_is_seen_where_the_whole_check_is_low():
    bad_day = [*fleet(), *[row("E0", 700.0, c, 66.0) for c in (1, 2, 3, 4)]]
    t = read_trends(bad_day, [], settings())
    assert not any(one(t, "E0", c).look_first for c in (1, 2, 3, 4))
    one_low = [*fleet(), *[row("E0", 700.0, c, 63.0 if c == 2 else 73.0) for c in (1, 2, 3, 4)]]
    c = one(read_trends(one_low, [], settings()), "E0", 2)
    assert c.look_first
    assert c.deficit == 10.0
    assert any("below the engine's other cylinders" in s for s in c.signs)
    assert any("sudden step" in s for s in c.signs)


def test_air_at_the_head_is_not_a_matter_of_trend():
    rows = [*fleet(), row("E0", 700.0, 1, 74.0, leak_path="cylinder head")]
    assert one(read_trends(rows, [], settings()), "E0", 1).look_first


@pytest.mark.parametrize(
    ("keys", "more", "want"),
    [
        ({}, {}, (60.0, "default")),
        ({"makers_limit": 62.0}, {}, (62.0, "maker")),
        ({"makers_limit": 62.0}, {"reference": 52.0}, (52.0, "reference")),
        ({"makers_limit": 62.0, "use_reference": False}, {"reference": 52.0}, (62.0, "maker")),
        ({}, {"reference": 65.0, "supply": 100.0}, (52.0, "reference")),
        ({"loss_limit": 0.2}, {}, (64.0, "default")),
    ],
)
def test_where_the_limit_comes_from(keys, more, want):
    """Common practice (80 psi, 25 % loss) holds only where the maker gives no data."""
    assert limit_of(row("E", 1.0, 1, 70.0, **more), settings(**keys)) == want


def test_the_default_limit_carries_its_condition():
    codes = [c.code for c in read_trends(fleet(), [], settings()).cautions]
    assert codes == ["limit-source"]
    assert not read_trends(fleet(), [], settings(makers_limit=60.0)).cautions


def test_readings_are_brought_to_the_study_supply():
    rows = [
        r if r.engine != "E0" else row("E0", r.hours_h, r.cylinder, r.reading / 2, supply=40.0)
        for r in fleet()
    ]
    a, b = read_trends(fleet(), [], settings()), read_trends(rows, [], settings())
    assert one(b, "E0", 1).reading == pytest.approx(one(a, "E0", 1).reading)


def test_only_engines_in_service_are_listed():
    t = read_trends(fleet(), [], settings(), {"E1", "E2"})
    assert {c.engine for c in t.cylinders} == {"E1", "E2"}
    assert t.n_readings == len(fleet())


def check(engine, hours, **more):
    return CheckRow(origin=Origin(file="c.csv", row=2), engine=engine, hours_h=hours, **more)


def test_metal_on_the_plug():
    rows = [
        *[check("A", h, method="plug", grade=g) for h, g in ((50, 0), (100, 2))],
        *[check("B", h, method="plug", grade=g) for h, g in ((50, 3), (100, 1))],
        *[check("C", h, method="plug", grade=g) for h, g in ((50, 1), (100, 3))],
        *[check("D", 100, method="plug", grade=4, result="found", action="repaired")],
        *[check("E", h, method="plug", grade=g) for h, g in ((50, 1), (100, 2))],
    ]
    signs, n = read_plugs(rows)
    assert n == 9
    assert [(s.engine, s.grade, s.jump) for s in signs] == [("C", 3, 2), ("A", 2, 2)]


def test_rare_metal_for_the_hours_since_the_oil_change():
    rng = np.random.default_rng(1)
    oil_hours, luck = rng.uniform(5, 80, 400), rng.logistic(size=400)
    rows = [
        check(f"N{i % 40}", 50.0 * (1 + i // 40), method="plug", oil_hours_h=oil,
              grade=int(u > 1.0 - 0.04 * oil) + int(u > 5.5 - 0.04 * oil))
        for i, (oil, u) in enumerate(zip(oil_hours, luck, strict=True))
    ]  # fmt: skip
    rows += [check("R", 700.0, grade=1), check("R", 750.0, method="plug", grade=2, oil_hours_h=5.0)]
    signs, _ = read_plugs(rows)
    mine = next(s for s in signs if s.engine == "R")
    truth = 1 / (1 + np.exp(5.5 - 0.04 * 5.0))
    # 14 checks have that grade: two standard errors of the log of a chance are about 2/√14 = 0.53.
    assert mine.chance_of_more == pytest.approx(truth, rel=0.6)
    assert mine.chance_of_more < 0.02
    assert "only 5 h after the oil change" in mine.sign


def test_oil_use_that_rises_is_named():
    rng = np.random.default_rng(2)
    rows = [
        check(f"E{e}", 50.0 * k, method="oil use",
              value=0.2 + 0.02 * rng.normal() + (0.05 * 0.5 * k if e == 3 else 0.0))
        for e in range(12) for k in range(1, 9)
    ]  # fmt: skip
    t = read_trends([], rows, settings())
    assert [o.engine for o in t.oils] == ["E3"]
    assert t.oils[0].rise_per_100_h.estimate == pytest.approx(0.05, rel=0.25)
    assert "rises by" in t.oils[0].sign
    assert t.n_oil == 96


def test_nothing_to_trend_is_nothing():
    assert read_trends([], [check("A", 50.0, result="clean")], settings()) is None


def test_signs_go_to_the_watch_list_by_engine():
    rows = [*fleet(fall={("E3", 2): 2.0}),
            *[row("E 3", 700.0, c, 55.0 if c == 2 else 73.0) for c in (1, 2, 3, 4)]]  # fmt: skip
    t = read_trends(rows, [check("e1", 50.0, method="plug", grade=4)], settings())
    signs = signs_of_trends(t)
    assert signs["E3"][0].weight == 3
    assert signs["E1"][0].weight == 3


def test_the_section():
    rows = fleet(fall={("E3", 2): 2.0})
    t = read_trends(rows, [check("e1", 50.0, method="plug", grade=4)], settings())
    section = compose_trends(t)
    figure = next(b for b in section.blocks if type(b).__name__ == "Figure")
    assert figure.panels[0].title == "E3"
    assert len(figure.panels) == 8
    text = " ".join(b.text for b in section.blocks if hasattr(b, "text"))
    assert not FORBIDDEN.search(text)
    table = next(b for b in section.blocks if getattr(b, "key", "") == "trends-cylinders")
    assert len(table.rows) == 32
