"""A stated assumption on the shape never takes the place of the records in a verdict.

Fleets are invented, their truth stated. The law is logic, with no outside source: what the records
alone contradict is never called supported, whatever shape a study states; and without a statement
nothing is refused on that account.
"""

from __future__ import annotations

import dataclasses
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from advice_fleets import made_fleet, made_rows, made_settings
from test_one_verdict import made, quick_roads

from fleetstats.advice.advise import advise_hours
from fleetstats.advice.doubts.doubt import is_outside
from fleetstats.advice.doubts.prior_weight import weigh_prior, without_assumption
from fleetstats.advice.doubts.values import PriorWeight
from fleetstats.advice.judge import is_supported, judge_claim
from fleetstats.advice.key_figures import advising
from fleetstats.advice.quoted import Quoter, reliability_low
from fleetstats.advice.tipping import count_hidden
from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.answer.words import say_verdict
from fleetstats.chapters.cautions import collect_cautions
from fleetstats.chapters.claim import advise_claim
from fleetstats.chapters.clocks_and_dates.compute import run_rows
from fleetstats.chapters.hidden.compute import estimate_hidden
from fleetstats.chapters.page_grid.compute import WORDS, chapter_tabulated
from fleetstats.chapters.plan.compute import plan_evidence
from fleetstats.spells import Spells
from fleetstats.studies.analyse import analyse
from fleetstats.study.settings import Settings
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.cautions import FIRST, rank_of

STEEP = {"prior_shape_median": 9.0, "prior_shape_log_sd": 0.03}
STATED: list[dict[str, Any]] = [
    STEEP,
    STEEP | {"method": "posterior"},
    {"shapes": (6.0,), "prior_shape_median": 6.0, "prior_shape_log_sd": 0.1},
    {"shapes": (8.0, 9.0)},
    {"prior_shape_median": 0.2, "prior_shape_log_sd": 0.05},
]
ACCEPTED = 0.08


def many(**evidence: Any) -> tuple[Spells, Settings]:
    """Return 200 engines of which 35 failed, by a truth of shape 2; claimed are 800 h."""
    fleet = made_fleet(200, shape=2.0, scale_h=2500.0, seed=3)
    assert fleet.n_failed == 35
    settings = made_settings(
        claim=800.0, evidence=evidence, targets={"reliability": 1.0 - ACCEPTED}
    )
    return fleet, settings


def five(**evidence: Any) -> tuple[Spells, Settings]:
    """Return 40 engines of which 5 failed: too few for the count to stop a prior by itself."""
    fleet = made_fleet(40, shape=2.0, scale_h=2500.0, seed=1)
    assert fleet.n_failed == 5
    return fleet, many(**evidence)[1]


@pytest.mark.parametrize("evidence", STATED[:3])
def test_a_steep_prior_does_not_turn_a_contradicted_claim_into_a_supported_one(
    evidence: dict[str, Any],
) -> None:
    fleet, plain = many()
    fit = try_fit(fleet)
    assert judge_claim(Quoter.of(fleet, fit, plain), 800.0, 1.0 - ACCEPTED).word == "contradicted"
    _, settings = many(**evidence)
    lives = Quoter.of(fleet, fit, settings)
    r = lives.interval(Quantity.reliability(800.0))
    judged = judge_claim(lives, 800.0, 1.0 - ACCEPTED)
    assert judged.word == "not-yet-shown"
    carried = 1.0 - (r.low or 0.0) < ACCEPTED  # the bound alone would carry the word
    doubt = "estimate-outside" if is_outside(r) else "prior-moved"
    assert judged.refused == (doubt if carried else "")
    assert not is_supported(lives, 800.0, 1.0 - ACCEPTED)


@pytest.mark.parametrize("evidence", STATED)
def test_what_the_records_alone_contradict_is_never_supported(evidence: dict[str, Any]) -> None:
    supported = refused = 0
    for i in range(24):
        fleet, settings = made(i)
        stated = dataclasses.replace(
            settings, evidence=dataclasses.replace(settings.evidence, **evidence)
        )
        claim, target = settings.study.claimed_interval_h, settings.targets.reliability
        assert claim is not None
        fit = try_fit(fleet)
        alone = judge_claim(
            Quoter.of(fleet, fit, without_assumption(settings, method="profile")), claim, target
        )
        judged = judge_claim(Quoter.of(fleet, fit, stated), claim, target)
        refused += bool(judged.refused)
        supported += judged.word == "supported"
        if alone.word == "contradicted":
            assert judged.word != "supported", i
        if alone.word == "supported" and fleet.n_failed >= 5:
            assert judged.word != "contradicted", i
    assert supported + refused >= 2  # the law is tried


def test_nothing_is_refused_where_nothing_is_stated() -> None:
    """The default prior is weak and measured (see the calibration), so no word hangs on it."""
    for i in range(60):
        fleet, settings = made(i)
        claim = settings.study.claimed_interval_h
        assert claim is not None
        lives = Quoter.of(fleet, try_fit(fleet), settings)
        judged = judge_claim(lives, claim, settings.targets.reliability)
        assert judged.refused == ""
        assert weigh_prior(lives, claim) is None


@pytest.mark.parametrize("evidence", [STEEP, STATED[2]])
def test_a_refused_word_is_refused_by_every_road(evidence: dict[str, Any]) -> None:
    fleet, settings = many(**evidence)
    fit, target = try_fit(fleet), 1.0 - ACCEPTED
    assert set(quick_roads(fleet, settings).values()) == {"not-yet-shown"}
    build = np.where(np.arange(len(fleet)) % 2 == 0, "one", "two")
    parts = advise_claim(fleet.replace(build=build), settings, by=("build",)).subsets
    for s in parts:
        part = fleet.select(build == s.name)
        assert s.state == judge_claim(Quoter.of(part, try_fit(part), settings), 800.0, target).word
        assert s.state != "supported"
    assert advising(settings, resamples=100)(fleet).verdict == "not-yet-shown"
    rerun = run_rows("all", made_rows(fleet), settings)
    assert rerun is not None
    assert rerun.verdict == "not-yet-shown"
    hidden = estimate_hidden(fleet, fit, settings)
    assert hidden.shown is False
    assert not any(s.shown for s in hidden.scenarios)
    assert plan_evidence(fleet, settings, fit=fit).state == "planned"
    assert count_hidden(fleet, fit, settings, hours=800.0, accepted=ACCEPTED).least == 0
    advice = advise_hours(fleet, fit, settings, curves=False)
    base: Any = SimpleNamespace(spells=fleet, fit=fit, settings=settings, advice=advice)
    tab = chapter_tabulated(base, {})
    cell = next(r for r in tab.readings if r.part == "word")
    assert WORDS[cell.words.index(str(tab.look_up(cell)[0]))] == "not-yet-shown"


def test_weight_is_the_bound_asked_again_without_the_statement() -> None:
    """Asked two ways: as a weight, and by studies that state nothing."""
    for evidence in STATED[:3]:
        fleet, settings = many(**evidence)
        fit, what = try_fit(fleet), Quantity.reliability(800.0)
        w = weigh_prior(Quoter.of(fleet, fit, settings), 800.0)
        assert w is not None
        method = evidence.get("method", "auto")
        usual = Quoter.of(fleet, fit, many(method=method)[1]).interval(what)
        alone = Quoter.of(fleet, fit, many(method="profile")[1]).interval(what)
        assert w.high_default == 1.0 - (usual.low or 0.0)
        assert (w.high_alone, w.low_alone) == (1.0 - (alone.low or 0), 1.0 - (alone.high or 0))
        assert w.alone == "by their likelihood"


def test_with_few_failures_the_records_alone_are_the_worst_of_the_shapes_left_open() -> None:
    fleet = made_fleet(40, shape=2.0, scale_h=2500.0, seed=3)
    assert fleet.n_failed == 3
    wide = made_settings(claim=1000.0, targets={"reliability": 0.95})
    narrow = made_settings(
        claim=1000.0, targets={"reliability": 0.95},
        evidence={"shapes": (6.0,), "prior_shape_median": 6.0, "prior_shape_log_sd": 0.1},
    )  # fmt: skip
    fit, what = try_fit(fleet), Quantity.reliability(1000.0)
    lives = Quoter.of(fleet, fit, narrow)
    w = weigh_prior(lives, 1000.0)
    assert w is not None
    assert w.high_alone == 1.0 - reliability_low(fleet, wide, 1000.0, 0.95)
    usual = Quoter.of(fleet, fit, wide).interval(what)
    assert w.high_default >= w.high_alone == pytest.approx(1.0 - (usual.low or 0.0), abs=1e-3)
    assert w.high < 0.05 < w.high_alone
    judged = judge_claim(lives, 1000.0, 0.95)
    assert (judged.word, judged.refused) == ("not-yet-shown", "prior-moved")
    # a stated prior stands in place of the range, so that it alone is refused as well
    prior = made_settings(claim=1000.0, targets={"reliability": 0.95}, evidence=STEEP)
    by_prior = judge_claim(Quoter.of(fleet, fit, prior), 1000.0, 0.95)
    assert (by_prior.word, by_prior.refused) == ("not-yet-shown", "prior-moved")


@pytest.mark.parametrize(
    ("word", "high", "low", "makes", "carries"),
    [
        ("supported", 0.079, 0.0, True, True),  # moved by 21 % of 0.1
        ("supported", 0.081, 0.0, False, True),  # by 19 %
        ("supported", 0.0901, 0.0, False, False),  # does not reach what is accepted
        ("contradicted", 1.0, 0.097, True, True),  # moved by 21 % of 0.08
        ("contradicted", 1.0, 0.095, False, True),
        ("contradicted", 1.0, 0.0899, False, False),
    ],
)
def test_where_the_limit_of_a_fifth_falls(
    word: str, high: float, low: float, makes: bool, carries: bool
) -> None:
    w = PriorWeight(
        stated="", hours=1.0, high=high, high_default=0.1, high_alone=0.1, low=low,
        low_default=0.08, low_alone=0.08, alone="",
    )  # fmt: skip
    assert (w.makes(word, 0.09), w.carries(word, 0.09)) == (makes, carries)


def test_an_assumption_that_helps_a_word_which_stands_without_it_takes_nothing_away() -> None:
    w = PriorWeight(
        stated="", hours=1.0, high=0.01, high_default=0.05, high_alone=0.05, low=0.0,
        low_default=0.0, low_alone=0.0, alone="",
    )  # fmt: skip
    assert not w.makes("supported", 0.1)
    assert w.moved("supported") == pytest.approx(0.8)


def test_an_estimate_on_the_edge_of_its_band_is_within() -> None:
    def at(estimate: float | None) -> bool:
        return is_outside(
            Interval(name="r", estimate=estimate, low=0.9, high=0.95, level=0.9, method="",
                     unit="probability")
        )  # fmt: skip

    assert [at(x) for x in (None, 0.9, 0.92, 0.95)] == [False] * 4
    assert at(0.8999)
    assert at(0.9501)


@pytest.mark.parametrize("evidence", [STATED[1]])
def test_the_weight_stands_on_every_face(evidence: dict[str, Any], make_study: Any) -> None:
    fleet, settings = five(**evidence)
    advice = advise_hours(fleet, try_fit(fleet), settings, curves=False)
    verdict, claim = advice.verdict, advise_claim(fleet, settings)
    assert verdict is not None
    assert verdict.prior_weight == claim.prior_weight != None  # noqa: E711  (a value)
    for text in (verdict.sentence, str(claim)):
        assert "by the records alone" in text
        assert "under the default prior" in text
    assert verdict.because in verdict.sentence
    assert verdict.because in say_verdict(verdict)
    # nothing that is refused may be quoted: the figure under the steep prior is not in it
    assert "0.25" not in claim.may_quote
    assert "This does not show" in claim.may_quote
    found = collect_cautions(fleet, try_fit(fleet), settings, advice)
    mine = [c for c in found if c.code == "prior-against-data"]
    assert mine
    assert rank_of("prior-against-data") == FIRST
    rows = [
        f"E-{i},{fleet.entry[i]:.3f},{fleet.exit_upper[i]:.3f},"
        f"{'failed' if fleet.failed[i] else 'running'}"
        for i in range(len(fleet))
    ]
    said = "\n".join(f"{k} = {list(v) if isinstance(v, tuple) else repr(v)}"
                     for k, v in evidence.items())  # fmt: skip
    results = analyse(
        make_study(
            "\n".join(["engine,entry_hours,exit_hours,ending", *rows]) + "\n",
            f"claimed_interval_h = 800\n[targets]\nreliability = {1 - ACCEPTED}\n"
            f"[evidence]\n{said}\n[merge]\nreturns = false\n",
        )
    )
    told = results.to_dict()
    assert told["advice"]["verdict"]["word"] == "not-yet-shown"
    high = verdict.prior_weight.high_alone
    assert high > ACCEPTED
    assert told["advice"]["verdict"]["prior_weight"]["high_alone"] == pytest.approx(high, abs=0.002)
    assert told["chapters"]["claim"]["refused"] == told["advice"]["verdict"]["refused"] != ""
    assert any("by the records alone" in line for line in results.answer_lines())
