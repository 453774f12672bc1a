"""Lives told again under other ids are named; honest coincidences of rounded hours are not.

Fleets are drawn from stated laws; how often chance is taken for copying is measured here.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from advice_fleets import made_settings
from scipy.stats import poisson

from fleetstats.advice.advise import advise_hours
from fleetstats.advice.judge import judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.chapters.cautions import collect_cautions
from fleetstats.chapters.cautions.doubtful import caution_copies
from fleetstats.core.units import text_decided
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.audit.copied import find_copies, poisson_tail
from fleetstats.records.audit.near_names import alike_findings, slip_findings
from fleetstats.records.life import LifeRow
from fleetstats.records.readers import read_records
from fleetstats.records.reading import Reading
from fleetstats.records.rules import judge_endings
from fleetstats.spells.build import spells_for
from fleetstats.study.study import read_study
from fleetstats.vocabulary.finding import Origin
from fleetstats.vocabulary.ids import look_alike, normalise_id

SETTINGS = made_settings(claim=800.0, targets={"accepted_failure_at_claim": 0.1})


def fleet(
    n: int, seed: int, step_h: float = 0.1, *, new: bool = True, read_days: int = 12
) -> list[LifeRow]:
    """Return engines running at hours rounded to a step; `read_days` 0 leaves readings undated."""
    rng = np.random.default_rng(seed)
    rows = []
    for i in range(n):
        hours = max(step_h, round(rng.uniform(0.0, 1500.0) / step_h) * step_h)
        day = dt.date(2015, 1, 1) + dt.timedelta(int(rng.integers(1200)))
        read = dt.date(2025, 6, 1) + dt.timedelta(int(rng.integers(max(read_days, 1))))
        rows.append(
            LifeRow(
                origin=Origin(file="a.csv", row=i + 2), engine=f"K6-{i:04d}",
                exit_h=round(hours, 4), ending="running", in_service=day if new else None,
                last_reading=read if read_days else None,
            )
        )  # fmt: skip
    return rows


def copied(rows: list[LifeRow], n: int, name: str = "MUH") -> list[LifeRow]:
    """Return the rows and the first `n` of them again under other ids."""
    return rows + [
        replace(x, engine=f"{name}-{700 + 13 * i}", origin=Origin(file="b.csv", row=i + 2))
        for i, x in enumerate(rows[:n])
    ]


@pytest.mark.parametrize("step_h", [0.1, 1.0, 10.0])
@pytest.mark.parametrize(
    "law",
    [
        {}, {"read_days": 0, "new": False}, {"new": False}, {"new": False, "read_days": 1},
    ],
)  # fmt: skip
@pytest.mark.parametrize("n", [60, 300])
def test_honest_fleets_are_left_alone(n, law, step_h):
    """40 fleets of each kind, where whole fleets were read on one day too; 1 in 1,000 is allowed,
    and 1 in 100 for ids one slip apart: more than 1 and 4 of 40 have a chance below 0.1 %."""
    found = [find_copies(fleet(n, s, step_h, **law), SETTINGS).pairs for s in range(40)]
    cases = [{case for *_, case in pairs} for pairs in found]
    assert sum("" in c for c in cases) <= 1
    assert sum("slip" in c for c in cases) <= 4


@pytest.mark.parametrize(
    ("law", "n", "all_told"),
    [
        ({}, 62, True),
        ({}, 3, True),
        ({"new": False}, 62, True),
        # without any date some meet by chance, in the fleet itself too
        ({"new": False, "read_days": 0}, 62, False),
        ({"step_h": 1.0}, 62, True),
        ({"step_h": 10.0}, 62, True),
    ],
)
def test_copies_are_named(law, n, all_told):
    rows = copied(fleet(120, 4, **law), n)
    found = find_copies(rows, SETTINGS)
    pairs = {(j, i) for j, i, _ in found.pairs}
    true = {(120 + i, i) for i in range(n)}
    assert len(pairs - true) <= (0 if all_told else 3)
    assert pairs >= true if all_told else len(pairs & true) > 0.8 * n
    assert found.by_chance[""] < (0.5 if all_told else 3.0)


def test_one_life_told_sixty_times_is_named():
    rows = fleet(120, 4)
    more = [
        replace(rows[0], engine=f"MUH-{700 + 13 * i}", origin=Origin(file="b.csv", row=i))
        for i in range(60)
    ]
    found = find_copies(rows + more, SETTINGS)
    assert {j for j, *_ in found.pairs} == set(range(120, 180))


def test_many_at_a_round_limit_are_no_copies():
    """Forty engines come out for overhaul at 1,200 h, without dates: that is the programme."""
    rows = fleet(60, 4, new=False, read_days=0)
    due = [
        replace(rows[0], engine=f"D-{100 + 7 * i}", exit_h=1200.0, ending="planned-overhaul")
        for i in range(40)
    ]
    assert find_copies(rows + due, SETTINGS).pairs == ()


def test_one_slip_in_a_running_engines_id_is_named_by_the_audit(audited):
    head = "engine,exit_hours,ending,in_service_date,last_reading_date\n"
    rows = "".join(
        f"{e},{h},running,{new},{read}\n"
        for e, h, new, read in [
            ("K6-0274", 612.4, "2016-04-02", "2025-05-03"),
            ("K6-0247", 612.4, "2016-04-02", "2025-05-03"),
            ("K6-0311", 955.1, "2014-02-12", "2025-05-03"),
            ("K6-0312", 955.9, "2014-02-12", "2025-06-03"),
        ]
    )
    _, _, audit = audited(head + rows)
    (f,) = [f for f in audit.findings if f.code == "copied-life"]
    assert (f.engine, f.row, f.severity, f.action) == ("K6-0247", 3, "warning", "accept")
    assert "one slip apart" in f.message
    assert f.related == ("lives.csv row 2",)
    _, _, audit = audited(head + rows, '[treat]\ncopied-life = "set-aside"\n')
    assert audit.reasons == {"copied-life": 1}
    assert [x.engine for x in audit.used] == ["K6-0274", "K6-0311", "K6-0312"]


def test_logs_told_again_under_other_ids_are_named(audited):
    log = "engine,date,hours,kind\n"
    for name in ("K", "MUH"):
        for i in range(8):
            log += (
                f"{name}-{i},201{i}-03-04,0,installed\n{name}-{i},2018-11-05,{7 + 11 * i},check\n"
            )
            log += f"{name}-{i},2025-05-0{i + 1},{333.3 + 71.7 * i:.1f},reading\n"
    records = '\n[[records]]\nfile = "lives.csv"\nshape = "log"\n'
    _, _, audit = audited(log, records=records)
    found = [f for f in audit.findings if f.code == "copied-life"]
    assert {f.engine for f in found} == {f"MUH-{i}" for i in range(8)} - set()


@pytest.mark.parametrize(
    ("a", "b", "alike"),
    [
        ("K6-0274", "K6-O274", True), ("E-101", "E-lO1", True), ("AS-12", "A5-12", True),
        ("E-1B", "E-18", True), ("ZX7", "2X7", True), ("E-101", "E-102", False),
        ("E-101", "F-101", False), ("K6-0274", "K6 274", None),
    ],
)  # fmt: skip
def test_signs_that_look_alike(a, b, alike):
    """None: one id to the tool already."""
    rows = [
        LifeRow(origin=Origin(file="a.csv", row=2), engine=a, exit_h=900.0, ending="running"),
        LifeRow(origin=Origin(file="a.csv", row=3), engine=b, exit_h=50.0, ending="running"),
    ]
    assert (look_alike(a) == look_alike(b)) == (alike is not False)
    assert (normalise_id(a) == normalise_id(b)) == (alike is None)
    found = alike_findings(rows)
    assert [f.code for f, _ in found] == (["ids-alike"] if alike else [])
    if alike:
        assert a in found[0][0].message
        assert b in found[0][0].message


def test_an_engine_that_two_returns_have_under_ids_one_slip_apart_is_named():
    club = [
        LifeRow(
            origin=Origin(file="club.csv", row=i + 2), engine=f"K6-{1012 + 37 * i}",
            exit_h=300.0 + 41.0 * i, ending="running", in_service=dt.date(2015, 1, 1 + i),
            last_reading=dt.date(2025, 6, 1),
        )
        for i in range(30)
    ]  # fmt: skip
    told = club[5]
    slip = replace(
        told, engine="K6-1179", origin=Origin(file="shop.csv", row=2), exit_h=told.exit_h - 60.0,
        last_reading=dt.date(2024, 6, 1),
    )  # fmt: skip
    assert told.engine == "K6-1197"
    ((f, at),) = slip_findings([*club, slip])
    assert (f.code, f.engine, at) == ("ids-alike", "K6-1179", 30)
    assert "one slip apart, both in service since 2015-01-06" in f.message
    # another day, hours that run backwards, a return that names both, or one return alone: nothing
    for other in (
        replace(slip, in_service=dt.date(2016, 1, 1)),
        replace(slip, exit_h=told.exit_h + 10.0),
        replace(slip, origin=Origin(file="club.csv", row=99)),
    ):
        assert slip_findings([*club, other]) == []
    both = replace(told, origin=Origin(file="shop.csv", row=3), last_reading=dt.date(2024, 7, 1))
    assert slip_findings([*club, slip, both]) == []
    # the shop's row on the other was merged into the club's
    shop = Reading(file="shop.csv", shape="lives", engines=("K6-1179", "K6-1197"))
    assert slip_findings([*club, slip], [shop]) == []


@pytest.mark.parametrize("batch", [False, True])
def test_fleets_numbered_one_by_one_are_left_alone(batch):
    """Every third engine is told by the shop alone, and every id is near others."""
    rows = []
    for k in range(300):
        day = dt.date(2012, 1, 1) + dt.timedelta(100 * (k // 10) if batch else 13 * k)
        file = "shop.csv" if k % 3 == 0 else "club.csv"
        rows.append(
            LifeRow(
                origin=Origin(file=file, row=k + 2), engine=f"K6-{100 + k}",
                exit_h=40.0 + 17.0 * (k * 7 % 60), ending="running", in_service=day,
                last_reading=dt.date(2025, 1 + k % 6, 3),
            )
        )  # fmt: skip
    assert slip_findings(rows) == []


@pytest.mark.parametrize(("seen", "mean"), [(1, 0.01), (3, 0.2), (62, 1.5), (7, 7.0)])
def test_the_tail_of_chance_is_exact(seen, mean):
    assert poisson_tail(seen, mean) == pytest.approx(poisson.sf(seen - 1, mean), rel=1e-12)


def test_the_caution_says_what_one_of_each_would_say():
    rows = copied(fleet(120, 4), 62)
    spells = spells_for(tuple(rows), tuple(judge_endings(rows, SETTINGS)), SETTINGS)
    advice = advise_hours(spells, None, SETTINGS, curves=False)
    (c,) = caution_copies(spells, rows, SETTINGS, advice)
    assert c.proviso == "62 lives repeat the hours and dates of another engine"
    # the first 120 alone are the fleet
    alone = Quoter.of(spells.select(np.arange(120)), None, SETTINGS)
    p = judge_claim(alone, 800.0, 0.9).failure_high
    assert c.limit == (
        f"at most {text_decided(p, edge='high', digits=2)} fail by 800 h with one of each"
    )
    both = judge_claim(Quoter.of(spells, None, SETTINGS), 800.0, 0.9).failure_high
    assert both < 0.75 * p
    assert caution_copies(spells.select(np.arange(120)), rows[:120], SETTINGS, advice) == []
    # one copy among 120 is named by the audit and moves no bound
    few = rows[:121]
    assert len(find_copies(few, SETTINGS).pairs) == 1
    assert caution_copies(spells.select(np.arange(121)), few, SETTINGS, advice) == []


def test_the_list_of_cautions_holds_it(make_study, audited):
    head = "engine,exit_hours,ending,in_service_date,last_reading_date\n"
    rows = "".join(
        f"{x.engine},{x.exit_h},running,{x.in_service},{x.last_reading}\n"
        for x in copied(fleet(60, 9), 50)
    )
    study, records, audit = audited(head + rows, "claimed_interval_h = 800\n")
    from fleetstats.spells.build import build_spells

    built = build_spells(study, records, audit)
    advice = advise_hours(built.spells, None, study.settings, curves=False)
    found = collect_cautions(built.spells, None, study.settings, advice, built=built)
    assert [c.code for c in found if c.code == "copied-lives"] == ["copied-lives"]


def test_hours_in_words_that_two_rows_share_are_no_copy_by_themselves(tmp_path: Path) -> None:
    """ "approx 830" is a way of speaking; with the engine's own days the same it is compared."""

    def found(*more: str) -> set[str]:
        rows = [f"K-{i},{437.3 + 61.7 * i:.1f},running,2025-{i % 9 + 1:02d}-11,{2000 + i}-01-05"
                for i in range(20)]  # fmt: skip
        lines = ["engine,exit_hours,ending,last_reading_date,in_service_date", *rows, *more]
        (tmp_path / "lives.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        (tmp_path / "study.toml").write_text(
            '[study]\ntitle = "made"\nanalysis_date = 2025-12-31\n'
            '[[records]]\nfile = "lives.csv"\nsource = "a"\n',
            encoding="utf-8",
        )
        study = read_study(tmp_path)
        audit = audit_records(study, read_records(study))
        return {f.code for f in audit.findings}

    words, day = "approx 834.7 h", "2025-11-30"
    apart = found(f"P-17,{words},running,{day},", f"R-58,{words},running,{day},")
    assert "copied-life" not in apart
    alike = found(
        f"P-17,{words},running,{day},2011-04-02", f"R-58,{words},running,{day},2011-04-02"
    )
    assert "copied-life" in alike
