"""A life far beyond all others is named; the longest of an honest fleet is not.

The lives are drawn from known laws; how often one is named is measured here.
"""

from __future__ import annotations

import numpy as np
import pytest
from advice_fleets import made_settings

from fleetstats.advice.advise import advise_hours
from fleetstats.chapters.cautions import collect_cautions
from fleetstats.chapters.cautions.doubtful import caution_far
from fleetstats.records.audit.far_lives import far_beyond
from fleetstats.spells import Spells
from fleetstats.spells.build import build_spells
from fleetstats.spells.bulk.bulk import build_bulk
from fleetstats.survival.weibull.fit_weibull import try_fit

HEAD = "engine,exit_hours,ending,in_service_date,last_reading_date\n"
ROWS = "".join(
    f"K6-{k:03d},{90.7 + 61.3 * k:.1f},running,201{k % 7}-03-{k + 1:02d},2025-06-{k + 1:02d}\n"
    for k in range(20)
)
"""Twenty engines of 90.7 to 1,255.4 h."""

FAR = "K6-900,12791,running,2003-01-01,2025-06-01\n"


def told(audit, code="hours-far"):
    return [f for f in audit.findings if f.code == code]


@pytest.mark.parametrize(
    ("hours", "far"),
    [
        # ten times the longest of three others, and not quite
        ([100, 200, 300, 3000], [False, False, False, True]),
        ([100, 200, 300, 2999], [False] * 4),
        ([100, 200, 2000], [False] * 3),
        # ten others: three times the longest of them, five times what nine of them reach
        ([*range(100, 200, 10), 900], [False] * 10 + [True]),
        ([*range(100, 200, 10), 899], [False] * 11),
        ([100] * 9 + [400, 1201], [False] * 10 + [True]),
        ([100] * 9 + [400, 1199], [False] * 11),
        # of nine, ten times
        ([*range(100, 190, 10), 1000], [False] * 10),
        # two of forty are one in twenty, of thirty they are a kind of their own
        ([100] * 38 + [900, 901], [False] * 38 + [True, True]),
        ([100] * 28 + [900, 901], [False] * 30),
        ([0, 0, 0, 5], [False] * 4),
        ([7], [False]),
        ([], []),
    ],
)
def test_by_hand(hours, far):
    x = np.array(hours, dtype=np.float64)
    assert far_beyond(x).far.tolist() == far
    # equal lives in one row of weight say the same
    values, weight = np.unique(x, return_counts=True)
    by_weight = dict(zip(values, far_beyond(values, weight.astype(float)).far, strict=True))
    assert [bool(by_weight[v]) for v in x] == far


def test_how_often_the_longest_of_an_honest_fleet_is_named():
    """Exponential lives: 1.2 % of fleets of 12, 0.15 % of 30; with wear-out none of 2,000.

    Measured with 4,000 fleets each; the limits here allow four standard errors.
    """
    rng = np.random.default_rng(20)

    def share(n: int, draw: object) -> float:
        return float(np.mean([far_beyond(draw(n)).far.any() for _ in range(2000)]))  # type: ignore[operator]

    assert share(12, lambda n: rng.exponential(500.0, n)) < 0.022
    assert share(30, lambda n: rng.exponential(500.0, n)) < 0.006
    assert share(300, lambda n: rng.exponential(500.0, n)) < 0.004
    assert share(30, lambda n: 1500.0 * rng.weibull(2.0, n)) == 0.0
    assert share(30, lambda n: rng.uniform(0.0, 2000.0, n)) == 0.0


def test_a_digit_too_many_is_named_and_used_unless_the_study_says(audited):
    rows = HEAD + ROWS + FAR
    _, _, audit = audited(rows)
    (f,) = told(audit)
    assert (f.severity, f.row, f.column, f.action) == ("warning", 22, "exit_hours", "accept")
    assert "10.2 times the longest of the rest, 1,255.4 h" in f.message
    assert audit.n_used == 21
    _, _, audit = audited(rows, '[treat]\nhours-far = "set-aside"\n')
    assert audit.reasons == {"hours-far": 1}
    assert not told(audited(HEAD + ROWS)[2])


def test_a_rate_of_use_that_no_other_engine_has_is_named(audited):
    """5,000 h, four times the longest, in four years; the others fly some 100 h a year."""
    rows = HEAD + ROWS + "K6-900,5000,running,2021-06-01,2025-06-01\n"
    (f,) = told(audited(rows)[2])
    assert "1,250 h a year" in f.message
    # the same hours in thirty years are a long life and no odd one
    assert not told(audited(rows.replace("2021-06-01", "1995-06-01"))[2])
    # a hard-worked young engine carries no bound
    assert not told(audited(HEAD + ROWS + "K6-900,700,running,2024-05-25,2025-06-01\n")[2])
    # and a rate is none of a few weeks
    young = HEAD + ROWS + "K6-900,1300,running,2025-03-01,2025-06-01\n"
    assert not told(audited(young)[2])


@pytest.mark.parametrize("dates", ["2025-01-01,", "2025-01-01,2025-12-31"])
def test_more_hours_than_the_calendar_has_stops(audited, dates):
    """8,760 h a year at most, up to the analysis date where the reading has no date."""
    _, _, audit = audited(HEAD + ROWS + f"K6-900,8900,running,{dates}\n")
    assert [f.code for f in audit.stops] == ["hours-exceed-calendar"]
    _, _, audit = audited(HEAD + ROWS + f"K6-900,900,running,{dates}\n")
    assert audit.ok


def test_a_log_is_held_to_the_same(audited):
    """The hours of a log are lives before they are looked at."""
    log = "engine,date,hours,kind\n"
    for line in (ROWS + FAR).splitlines():
        engine, hours, _, new, last = line.split(",")
        log += f"{engine},{new},0,installed\n{engine},{last},{hours},reading\n"
    records = '\n[[records]]\nfile = "lives.csv"\nshape = "log"\n'
    (f,) = told(audited(log, records=records)[2])
    assert (f.engine, f.column) == ("K6-900", "hours")


@pytest.mark.parametrize(
    "extra",
    [
        FAR,
        "K6-900,5000,running,2021-06-01,2025-06-01\n",
        "K6-900,8900,running,2025-01-01,\n",
        "K6-900,12791 h,failed,,2025-06-01\nK6-900,13000,failed,,2025-06-01\n",
    ],
)
@pytest.mark.parametrize("action", ["set-aside", "accept"])
def test_by_chunks_as_by_rows(audited, extra, action):
    kinds = ("hours-far", "hours-exceed-calendar", "duplicate-life", "use-implausible")
    treat = "[treat]\n" + "".join(f'{k} = "{action}"\n' for k in kinds)
    study, _, audit = audited(HEAD + ROWS + extra, "[merge]\nreturns = false\n" + treat)
    bulk = build_bulk(study)
    assert bulk.counts == {c: sum(f.code == c for f in audit.findings) for c in bulk.counts}
    assert {f.code for f in audit.findings} == set(bulk.counts)
    assert (bulk.n_used, bulk.reasons) == (audit.n_used, audit.reasons)


@pytest.mark.parametrize("claim", [800.0, None])
def test_the_caution_is_given_where_the_life_carries_the_answer(audited, claim):
    head = "[targets]\nreliability = 0.9\n"
    claimed = f"claimed_interval_h = {claim}\n" if claim else ""
    study, records, audit = audited(HEAD + ROWS + FAR, claimed + head)
    built = build_spells(study, records, audit)
    advice = advise_hours(built.spells, None, study.settings, curves=False)
    (c,) = caution_far(built.spells, built.rows, study.settings, advice)
    assert c.proviso == "one life of 12,791 h is far beyond all others"
    assert "12,791 h" in c.text
    assert c.value != c.limit.removesuffix(" without")
    # the study's own list of cautions holds it, once
    found = collect_cautions(built.spells, None, study.settings, advice, built=built)
    assert [x for x in found if x.code == "far-life"] == [c]
    quiet = built.spells.select(built.spells.exit_upper < 2000.0)
    assert caution_far(quiet, (), study.settings, advice) == []


def test_the_caution_is_silent_where_the_life_moves_nothing():
    """Two hundred failures by 100 h contradict the claim with or without one long life."""
    settings = made_settings(claim=800.0)
    hours = np.append(np.linspace(20.0, 100.0, 200), 5_000.0)
    spells = Spells.of(0.0, hours, [1] * 200 + [0])
    advice = advise_hours(spells, try_fit(spells), settings, curves=False)
    assert far_beyond(hours).far[-1]
    assert caution_far(spells, (), settings, advice) == []
