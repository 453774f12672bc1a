"""The claim for an engine of another source beside that for the engines in the records."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from advice_fleets import made_settings
from between_pools import pool

from fleetstats.advice.judge import judge_another, judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.chapters.answer.beside import MOST_ROWS, compose_beside
from fleetstats.chapters.between_sources import advise_sources, are_apart, compare_groups_of
from fleetstats.chapters.claim import advise_claim
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.groups.between import fit_between
from fleetstats.survival.groups.compare_each import verdict_of
from fleetstats.survival.groups.groups import split_groups
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.cautions import rank_of


def made(k: int, *, sources: int = 5, engines: int = 30, tau: float = 0.3) -> Spells:
    return pool(np.random.default_rng([21, k]), sources, engines, tau)[0]


def bad_and_good() -> Spells:
    """One source that fails at 300 to 900 h, and two that run on to 1,500 h."""
    ends = np.r_[np.linspace(300.0, 900.0, 40), np.linspace(600.0, 1500.0, 200)]
    failed = np.r_[np.arange(40) % 2, np.arange(200) % 40 == 7]
    name = np.r_[np.full(40, "bad"), np.where(np.arange(200) % 2, "good", "fair")]
    return Spells.of(0.0, ends, failed, source=name, unit=[f"E-{i}" for i in range(240)])


def results(spells: Spells, settings: Settings) -> SimpleNamespace:
    chapters = {
        "between-sources": advise_sources(spells, settings),
        "claim": advise_claim(spells, settings),
    }
    return SimpleNamespace(chapters=chapters, settings=settings)


def test_a_new_source_s_chance_and_its_life_are_one_answer() -> None:
    """At the age that is the lower limit of the B10, at most 10 % fail: one question, two ways."""
    spells = made(1)
    new = fit_between(spells, level=0.90, p=0.10, rivals=()).new
    ages = (new.life_low_h, new.life_h, new.life_high_h)
    low, mid, high = fit_between(spells, level=0.90, rivals=(), hours=ages).chances
    assert low.failure_high == pytest.approx(0.10, abs=1e-6)
    assert mid.failure == pytest.approx(0.10, abs=1e-6)
    assert high.failure_low == pytest.approx(0.10, abs=1e-6)
    assert low.failure_low < low.failure < low.failure_high


def test_the_chance_of_a_new_source_by_drawing_sources() -> None:
    """Half a million sources drawn from the posterior cells, against the quantiles' equation."""
    from fleetstats.survival.groups.between_grid import integrate, prepare_source

    spells = made(2)
    unit = spells.oldest_h
    parts = [spells.of_group("source", n) for n in np.unique(spells.source).tolist()]
    grid = integrate(
        [prepare_source(p, unit) for p in parts], prior_tau=0.5, prior_shape=(2.0, 0.6)
    )
    rng = np.random.default_rng(3)
    cell = rng.choice(len(grid.weight), 500_000, p=grid.weight)
    scale = unit * np.exp(rng.normal(grid.mu[cell], grid.tau[cell]))
    chance = -np.expm1(-((800.0 / scale) ** np.exp(grid.log_shape[cell])))
    got = grid.chance_quantile([0.05, 0.5, 0.95], float(np.log(800.0 / unit)))
    # standard error of a drawn quantile's probability: 0.0003 at both ends, 0.0007 in the middle
    place = [(chance <= x).mean() for x in got]
    assert place == pytest.approx([0.05, 0.5, 0.95], abs=0.003)


@pytest.mark.parametrize("k", range(8))
def test_no_word_on_another_source_is_firmer_than_that_on_the_records(k: int) -> None:
    """Law: what is in doubt of the records is in doubt of a source that is not among them."""
    spells = made(k, sources=3 + k % 4, engines=(10, 60)[k % 2], tau=(0.05, 0.5)[k // 4])
    for hours in (150.0, 500.0, 1000.0, 1900.0):
        settings = made_settings(claim=hours)
        told = advise_sources(spells, settings)
        own = judge_claim(Quoter.of(spells, try_fit(spells), settings), hours, 0.9)
        c = told.claim
        assert (c.these_state, c.these_failure_high) == (own.word, own.failure_high)
        if c.new_failure_high is None:
            assert c.new_state == "not-yet-shown"
            continue
        assert c.new_failure_high >= own.failure_high
        assert c.new_failure_low <= own.failure_low
        assert c.new_state in (own.word, "not-yet-shown")
        if c.new_state == "supported":
            assert c.new_failure_high <= 0.1
        if c.new_state == "contradicted":
            assert c.new_failure_low > 0.1


def test_each_word_on_another_source_can_be_said() -> None:
    """Thirty sources nearly alike: what is shown of them is shown of one more, both ways."""
    many = made(5, sources=30, engines=60, tau=0.02)
    said = {}
    for hours in (300.0, 700.0, 830.0, 870.0, 1400.0):
        c = advise_sources(many, made_settings(claim=hours)).claim
        said[hours] = (c.these_state, c.new_state)
    assert said == {
        300.0: ("supported", "supported"),
        700.0: ("supported", "not-yet-shown"),
        830.0: ("not-yet-shown", "not-yet-shown"),
        870.0: ("contradicted", "not-yet-shown"),
        1400.0: ("contradicted", "contradicted"),
    }


def test_failures_that_no_life_counts_keep_another_source_from_being_supported() -> None:
    many = made(5, sources=30, engines=60, tau=0.02)
    settings = made_settings(claim=300.0)
    own = judge_claim(Quoter.of(many, try_fit(many), settings), 300.0, 0.9)
    held = replace(own, n_left_out=1)
    assert own.word == held.word == "supported"
    assert judge_another(own, low=0.95, high=1.0).word == "supported"
    assert judge_another(held, low=0.95, high=1.0).word == "not-yet-shown"


def test_a_source_s_own_claim_is_contradicted_by_the_rule_of_the_whole() -> None:
    spells, settings = bad_and_good(), made_settings(claim=800.0)
    by = {s.name: s for s in advise_claim(spells, settings, by=("source",)).subsets}
    assert by["bad"].state == "contradicted"
    assert by["bad"].failure_low > 0.1
    for name, line in by.items():
        part = spells.of_group("source", name)
        alone = judge_claim(Quoter.of(part, try_fit(part), settings), 800.0, 0.9)
        assert line.state == alone.word
        assert line.failure_high == alone.failure_high


def test_a_source_with_few_failures_can_be_contradicted_too() -> None:
    """Four of 18 engines fail by 400 h: a chance of 5 % gives that in 1 of 90 (binomial)."""
    ends = np.r_[100.0, 200.0, 300.0, 400.0, np.full(14, 600.0), np.linspace(400.0, 1500.0, 400)]
    failed = np.r_[np.ones(4), np.zeros(414)]
    name = np.r_[np.full(18, "bad"), np.full(400, "good")]
    spells = Spells.of(0.0, ends, failed, source=name, unit=[f"E-{i}" for i in range(418)])
    settings = made_settings(claim=500.0, targets={"reliability": 0.95})
    (bad, good) = advise_claim(spells, settings, by=("source",)).subsets
    assert (bad.state, good.state) == ("contradicted", "supported")


def test_sources_that_differ_are_a_caution_of_the_first_rank_that_qualifies_a_claim() -> None:
    told = advise_sources(bad_and_good(), made_settings(claim=300.0))
    assert told.verdict == "outside"
    said = [c for c in told.cautions if c.code == "mixed-sources"]
    assert [c.proviso for c in said] == [
        "sources differ by more than the margin",
        "an engine of another source is not covered",
    ]
    assert rank_of("mixed-sources") == 1
    assert "bad" in said[0].text
    alike = advise_sources(made(9, sources=2, engines=2500, tau=0.0), made_settings(claim=300.0))
    assert alike.verdict == "inside"
    assert "mixed-sources" not in {c.code for c in alike.cautions}
    assert compose_beside(results(made(9, sources=2, engines=2500, tau=0.0), made_settings())) == ()


def test_the_first_screen_has_these_engines_another_source_and_each_alone() -> None:
    settings = made_settings(claim=800.0)
    got = results(bad_and_good(), settings)
    (section,) = [s for s in compose_beside(got) if s.key == "beside-sources"]
    _, table = section.blocks
    rows = {r[0]: r for r in table.rows}
    c = got.chapters["between-sources"].claim
    assert list(rows)[:2] == ["these engines, all sources", "an engine from a source like these"]
    assert set(list(rows)[2:]) == {"bad", "good", "fair"}
    assert rows["an engine from a source like these"][3] == c.new_failure_high
    assert rows["these engines, all sources"][3] == got.chapters["claim"].failure_high
    assert rows["bad"][4] == "contradicted"


def test_of_many_sources_the_first_screen_lists_those_of_which_most_may_fail() -> None:
    got = results(made(4, sources=MOST_ROWS + 4, engines=8, tau=0.4), made_settings(claim=500.0))
    (section,) = compose_beside(got)
    _, table = section.blocks
    highs = [r[3] for r in table.rows[2:]]
    each = sorted((s.failure_high for s in got.chapters["claim"].subsets), reverse=True)
    assert highs == each[:MOST_ROWS]
    assert f"Of {MOST_ROWS + 4} sources the {MOST_ROWS}" in table.see


def test_without_failures_in_two_sources_another_is_not_shown_and_the_reason_is_said() -> None:
    idle = Spells.of(0.0, np.linspace(50, 1400, 400), np.zeros(400), source=["a", "b"] * 200)
    got = results(idle, made_settings(claim=500.0))
    c = got.chapters["between-sources"].claim
    assert (c.these_state, c.new_state) == ("supported", "not-yet-shown")
    assert c.new_failure_high is None
    assert "at least two" in c.new_because
    (section,) = compose_beside(got)
    assert "Of a new source nothing is known" in section.blocks[1].see


def test_no_sources_no_chapter() -> None:
    one = made(1).replace(source=np.full(150, "a"))
    assert advise_sources(one, made_settings()) is None
    apart = made_settings(groups={"by": ("build",)})
    assert advise_sources(made(1), apart) is None


def test_the_first_screen_says_what_is_open_of_these_engines_and_of_the_prior() -> None:
    got = results(made(1, sources=3, engines=60, tau=0.02), made_settings(claim=300.0))
    claim = replace(got.chapters["claim"], provisos=("5 failures have no hours",))
    assert claim.state == "supported"
    got.chapters["claim"] = claim
    (section,) = compose_beside(got)
    _, table = section.blocks
    assert table.rows[0][4] == "supported, but 1 matter is open"
    assert "rests on a stated prior" in table.see


def test_the_plain_test_before_the_margin_hides_no_source_that_is_apart() -> None:
    settings = made_settings()
    fleets = [bad_and_good(), *(made(k, sources=3, tau=t) for k in range(4) for t in (0.0, 0.9))]
    told = [are_apart(f, "source", settings) for f in fleets]
    plain = [
        verdict_of(compare_groups_of(split_groups(f, "source"), settings)) == "outside"
        for f in fleets
    ]
    assert told == plain
    assert 0 < sum(told) < len(told)
