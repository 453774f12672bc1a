"""The weakest points: each rule on both sides of it, their order, and what was not examined.

The move on the scale is checked against its own definition by hand; common practice, no source.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from made_studies import results_of

from fleetstats.advice.doubts.values import PriorWeight
from fleetstats.advice.equivalents import poisson_allowance
from fleetstats.advice.looks.look import ThisLook
from fleetstats.chapters.between_sources import BetweenSources, SourceClaim
from fleetstats.chapters.curve_fit import CurveFit
from fleetstats.chapters.groups import Pooled
from fleetstats.chapters.hidden import Hidden
from fleetstats.chapters.looks_made import LooksMade
from fleetstats.chapters.removals import RemovalKind, Removals
from fleetstats.chapters.unreported import Unreported
from fleetstats.chapters.weakest import points
from fleetstats.chapters.weakest.compute import LEAST, rank_points
from fleetstats.chapters.weakest.facts import Facts
from fleetstats.chapters.weakest.scale import BoundScale, log_hazard, with_factor
from fleetstats.chapters.weakest.section import moved_words
from fleetstats.chapters.weakest.words import curve_words, weakest_sentence
from fleetstats.survival.families.curve_check import CurveCheck

DISTANCE = log_hazard(0.05) - log_hazard(0.02)


def facts(
    chapters: dict[str, Any] | None = None,
    *,
    word: str = "supported",
    low: float | None = 0.98,
    estimate: float | None = None,
    **changed: Any,
) -> Facts:
    """Return a claim whose bound is 2 % where 5 % is accepted, with what a test changes."""
    r = results_of("quiet-fleet")
    v = r.advice.verdict
    assert v is not None
    reliability = replace(v.reliability, low=low, estimate=estimate)
    v = replace(v, word=word, accepted_failure=0.05, reliability=reliability, **changed)
    return Facts(verdict=v, horizon=r.advice.horizon, settings=r.settings,
                 chapters=chapters or {}, n_failed=0.0, scale=BoundScale.of(v))  # fmt: skip


def made(kind: Any, /, **fields: Any) -> Any:
    """Return a value of a kind with the fields that a rule reads; reading another fails."""
    out = object.__new__(kind)
    for name, x in fields.items():
        object.__setattr__(out, name, x)
    return out


def test_the_scale_by_hand() -> None:
    s = facts().scale
    assert s.known
    assert s.distance == pytest.approx(math.log(math.log(0.95) / math.log(0.98)))
    assert s.moved_to(0.05) == pytest.approx(1.0)
    assert s.moved_to(0.02) == pytest.approx(0.0, abs=1e-12)
    assert with_factor(0.02, math.log(0.95) / math.log(0.98)) == pytest.approx(0.05)
    assert not s.turned_at(0.05)
    assert s.turned_at(0.0501)
    open_ = facts(word="not-yet-shown", low=0.90).scale
    assert open_.turned_at(0.04)
    assert not open_.turned_at(0.06)
    assert not facts(extrapolated=True).scale.known
    assert not facts(low=None).scale.known


def test_hidden_failures_and_what_overlap_tells() -> None:
    alone = points.hidden_failures(facts(hidden_to_turn=4))
    assert alone is not None
    assert (alone.figure, alone.moved, alone.decides) == (4.0, 0.25, False)
    told = made(Unreported, state="answered", estimate=1.2, high=4)
    more = points.hidden_failures(facts({"unreported": told}, hidden_to_turn=4))
    assert more is not None
    assert (more.limit, more.moved, more.decides) == (4.0, 1.0, True)
    open_ = made(Unreported, state="answered", estimate=1.2, high=None)
    some = points.hidden_failures(facts({"unreported": open_}, hidden_to_turn=4))
    assert some is not None
    assert some.limit == 2.0
    assert points.hidden_failures(facts(hidden_to_turn=None)) is None
    assert points.hidden_failures(facts(word="not-yet-shown", hidden_to_turn=4)) is None


def rate(allowed: float, needed: float | None, state: str = "far-fewer") -> dict[str, Any]:
    base = SimpleNamespace(state=state, share_high=allowed)
    return {"hidden": made(Hidden, base_rate=base, reporting_share=needed)}


def test_a_public_rate() -> None:
    p = points.public_rate(facts(rate(0.25, 0.5)))
    assert p is not None
    assert (p.moved, p.decides) == (pytest.approx(2.0), True)
    less = points.public_rate(facts(rate(0.5, 0.25)))
    assert less is not None
    assert (less.moved, less.decides) == (pytest.approx(0.5), False)
    assert points.public_rate(facts(rate(0.25, 0.5, "in-keeping"))) is None
    assert points.public_rate(facts(rate(1.2, 0.5))) is None
    assert points.public_rate(facts(rate(0.25, None))) is None
    assert points.public_rate(facts(rate(0.25, 0.5), word="contradicted")) is None


def test_a_public_rate_beside_a_claim_that_is_not_shown_anyway() -> None:
    """It leads away from the accepted chance, and so it decides nothing."""
    p = points.public_rate(facts(rate(0.25, 3.0), word="not-yet-shown", low=0.90))
    assert p is not None
    assert not p.decides
    assert p.moved == pytest.approx(-math.log(4.0) / (log_hazard(0.10) - log_hazard(0.05)))
    assert "not shown even if all were" in p.sentence


def left(name: str, verdict: str, *, carries: bool = False, life: float = 1100.0) -> Any:
    return SimpleNamespace(kind="source", name=name, n_out=20, n_failed_out=0.0, turns=True,
                           carries=carries,
                           figure=SimpleNamespace(verdict=verdict, life_low_h=life))  # fmt: skip


def pool(*lines: Any) -> dict[str, Any]:
    base = SimpleNamespace(verdict="supported", life_low_h=1500.0)
    return {"pooling": made(Pooled, base=base, influence=lines)}


def test_one_source_that_carries_it() -> None:
    """Beyond chance first; then the one that moves the hours most; a band that turns is no word."""
    a, b = left("a", "not-yet-shown", life=600.0), left("b", "not-yet-shown", life=1100.0)
    p = points.carried(facts(pool(b, a)))
    assert p is not None
    assert "source a" in p.sentence
    assert p.moved == pytest.approx(math.log(1500 / 600) / math.log(1500 / 1200))
    assert (p.decides, p.by_size) == (False, True)
    by_chance = points.carried(facts(pool(a, left("c", "not-yet-shown", carries=True))))
    assert by_chance is not None
    assert "source c" in by_chance.sentence
    assert (by_chance.decides, by_chance.by_size) == (True, False)
    assert points.carried(facts(pool(left("d", "supported", carries=True)))) is None


def apart(verdict: str, high: float | None) -> dict[str, Any]:
    claim = made(SourceClaim, new_failure_high=high)
    return {"between-sources": made(BetweenSources, verdict=verdict, claim=claim)}


def test_another_source() -> None:
    p = points.another_source(facts(apart("cannot-tell", 0.07)))
    assert p is not None
    assert p.decides
    assert p.moved == pytest.approx((log_hazard(0.07) - log_hazard(0.02)) / DISTANCE)
    near = points.another_source(facts(apart("outside", 0.03)))
    assert near is not None
    assert not near.decides
    assert points.another_source(facts(apart("inside", 0.07))) is None
    assert points.another_source(facts(apart("outside", None))) is None


def kind(name: str, p_held: float | None, high: float, to_turn: int | None = None) -> Any:
    return made(RemovalKind, kind=name, expect="random", n=30.0, p_held=p_held,
                failure_high_all=high, to_turn=to_turn)  # fmt: skip


def test_removals_that_come_with_age() -> None:
    """Only kinds that look like wear-out count, however much the others would move."""
    told = made(Removals, kinds=(kind("strike", 1e-5, 0.09, 7), kind("sold", 0.5, 0.5, 2)))
    p = points.aged_removals(facts({"removals": told}))
    assert p is not None
    assert (p.figure, p.decides) == (0.09, True)
    assert "7 of them" in p.sentence
    calm = made(Removals, kinds=(kind("sold", 0.5, 0.5, 2), kind("lost", None, 0.5)))
    assert points.aged_removals(facts({"removals": calm})) is None


def test_failures_left_out_and_hours_assumed() -> None:
    beside = replace(facts().verdict.reliability, low=0.96)
    p = points.left_out(facts(with_left_out=beside, left_out="2 failures have no hours"))
    assert p is not None
    assert p.figure == pytest.approx(0.04)
    assert not p.decides
    turned = points.left_out(facts(word="not-yet-shown", with_left_out=beside))
    assert turned is not None
    assert turned.decides
    assert points.left_out(facts()) is None
    q = points.assumed_hours(facts(failure_high_as_read=0.06, assumed_h=500.0))
    assert q is not None
    assert q.decides
    assert points.assumed_hours(facts()) is None


def test_an_assumed_shape_that_helps() -> None:
    def weight(alone: float) -> PriorWeight:
        return PriorWeight(stated="x", hours=1200.0, high=0.02, high_default=0.02,
                           high_alone=alone, low=0.0, low_default=0.0, low_alone=0.0,
                           alone="x")  # fmt: skip

    p = points.assumed_shape(facts(prior_weight=weight(0.08)))
    assert p is not None
    assert (p.figure, p.decides) == (0.08, True)
    assert points.assumed_shape(facts(prior_weight=weight(0.01))) is None
    assert points.assumed_shape(facts()) is None


def test_since_a_date() -> None:
    from fleetstats.chapters.change import Changed
    from fleetstats.chapters.since import SinceAnswer, SinceRuns

    day = dt.date(2021, 1, 1)

    def answer(verdict: str, d: dt.date | None, high: float) -> Any:
        return made(SinceAnswer, day=d, failure_high=high, run=SimpleNamespace(verdict=verdict))

    runs = made(SinceRuns, answers=(answer("supported", None, 0.02),
                                    answer("not-yet-shown", day, 0.06)))  # fmt: skip
    p = points.since_date(facts({"since": runs}))
    assert p is not None
    assert "2021-01-01" in p.sentence
    assert "no rise is shown" in p.sentence
    assert (p.decides, p.by_size) == (False, True)
    same = made(SinceRuns, answers=(answer("supported", day, 0.04),))
    assert points.since_date(facts({"since": same})) is None
    line = SimpleNamespace(rose=True, flagged=True, asked=True, p_held=0.001,
                           change=SimpleNamespace(ratio=4.0))  # fmt: skip
    rose = made(Changed, lines=(line,), since=SimpleNamespace(day=day, failure_high=0.03))
    q = points.since_date(facts({"change": rose, "since": runs}))
    assert q is not None
    assert q.figure == 0.03  # a rise that is shown goes before dates that are only tried
    assert (q.decides, q.by_size) == (False, False)
    refused = facts({"change": rose}, word="not-yet-shown", refused="rate-rose")
    kept = points.since_date(refused)
    assert kept is not None
    assert kept.decides  # the word was refused for it, by a rule that asks for more than this bound
    assert points.since_date(facts({"change": rose}, word="contradicted")) is None


def test_looks_that_each_held_the_error_alone() -> None:
    """Two earlier looks: no failure bounds H by -log(error), so by -log(error / 3) over three."""
    p = points.looks_made(facts({"looks-made": LooksMade(earlier=(), n_earlier=2)}))
    assert p is not None
    factor = math.log(0.05 / 3) / math.log(0.05)
    assert p.figure == pytest.approx(1.0 - 0.98**factor)
    assert poisson_allowance(0.0, 0.95) == pytest.approx(-math.log(0.05))
    assert points.looks_made(facts({"looks-made": LooksMade(earlier=(), n_earlier=0)})) is None
    held = made(ThisLook, number=3, rule="spending")
    assert points.looks_made(facts(look=held)) is None
    alone = made(ThisLook, number=3, rule="single")
    q = points.looks_made(facts(look=alone))
    assert q is not None
    assert q.figure == pytest.approx(p.figure)


def check(p_value: float) -> dict[str, Any]:
    c = made(CurveCheck, p_value=p_value, low_h=[0.0, 600.0], high_h=[1200.0, 1200.0],
             n_failed=[10.0, 12.0], n_expected=[10.0, 4.0])  # fmt: skip
    return {"curve-fit": made(CurveFit, check=c)}


def test_a_curve_that_the_failures_contradict() -> None:
    p = points.curve(facts(check(1e-6)))
    assert p is not None
    assert (p.figure, p.limit) == (12.0, 4.0)
    assert p.moved == pytest.approx(math.log(3.0) / DISTANCE)
    assert p.decides
    assert points.curve(facts(check(0.5))) is None
    assert "12 engines failed" in curve_words(600.0, 1200.0, 12.0, 4.0)


def test_an_estimate_above_what_is_accepted() -> None:
    p = points.estimate_above(facts(word="not-yet-shown", low=0.85, estimate=0.93))
    assert p is not None
    assert p.decides
    assert "not likely" in p.sentence
    assert points.estimate_above(facts(word="not-yet-shown", low=0.85, estimate=0.96)) is None
    assert points.estimate_above(facts(estimate=0.93)) is None


def test_too_little_was_run() -> None:
    """An open claim says what keeps it open: the estimate, the end of the evidence, or this."""
    p = points.too_little(facts(word="not-yet-shown", low=0.85, estimate=0.96))
    assert p is not None
    assert (p.figure, p.moved, p.decides) == (pytest.approx(0.15), 1.0, True)
    assert "the estimate is 4 %: too few engine hours were run" in p.sentence
    assert points.too_little(facts(word="not-yet-shown", low=0.85)) is not None
    assert points.too_little(facts(word="not-yet-shown", low=0.85, estimate=0.93)) is None
    assert points.too_little(facts(word="not-yet-shown", refused="rate-rose")) is None
    assert points.too_little(facts()) is None


def against(high: float, n_failed: float, **changed: Any) -> Facts:
    f = facts(word="contradicted", **changed)
    v = replace(f.verdict, reliability=replace(f.verdict.reliability, high=high))
    return replace(f, verdict=v, scale=BoundScale.of(v), n_failed=n_failed)


def test_failures_that_contradict() -> None:
    """By Garwood's lower limits at 95 %: 5.425 after 10 failures, 3.981 after 8, 3.285 after 7."""
    f = against(1.0 - with_factor(0.05, 5.425 / 3.6), 10.0)
    p = points.counted_failures(f)
    assert p is not None
    assert (p.figure, p.limit, p.decides) == (3.0, 10.0, False)
    near = points.counted_failures(against(1.0 - with_factor(0.05, 5.425 / 5.0), 10.0))
    assert near is not None
    assert (near.figure, near.decides) == (1.0, True)
    assert points.poisson_floor(10.0, 0.05) == pytest.approx(5.425, abs=1e-3)
    assert points.poisson_floor(0.0, 0.05) == 0.0
    assert points.counted_failures(facts()) is None


@pytest.mark.parametrize("n", [1.0, 7.0, 40.5, 300.0])
def test_the_least_count_that_turns_is_the_first_of_all_counts(n: float) -> None:
    """Sought by halving, and by one count after another."""
    for bound in (0.0501, 0.08, 0.3, 0.9):
        f = against(1.0 - bound, n)
        full = points.poisson_floor(n, f.error)
        first = next(
            (k for k in range(1, int(n) + 1)
             if with_factor(f.scale.bound, points.poisson_floor(n - k, f.error) / full)
             <= f.scale.accepted),
            None,
        )  # fmt: skip
        p = points.counted_failures(f)
        assert (None if p is None else p.figure) == first


def test_a_contradicted_claim_is_held_to_its_lower_bound() -> None:
    """What makes it worse is no weak point of it; what could save it is."""
    assert points.left_out(against(0.90, 9.0, with_left_out=facts().verdict.reliability)) is None
    assert points.assumed_hours(against(0.90, 9.0, failure_high_as_read=0.3)) is None
    claim = made(SourceClaim, new_failure_low=0.03, new_failure_high=0.6)
    told = made(BetweenSources, verdict="outside", claim=claim)
    f = replace(against(0.90, 9.0), chapters={"between-sources": told})
    p = points.another_source(f)
    assert p is not None
    assert (p.figure, p.decides) == (0.03, True)
    assert "at least 3.0 % fail" in p.sentence
    looked = replace(f, chapters={"looks-made": LooksMade(earlier=(), n_earlier=2)})
    q = points.looks_made(looked)
    assert q is not None
    assert q.figure < 0.10
    assert against(0.90, 9.0, extrapolated=True).scale.known


def test_a_refused_word_is_held_to_the_bound_that_gave_it() -> None:
    """What crosses the accepted chance keeps the claim from being shown; the rest does not."""
    f = facts(apart("cannot-tell", 0.04), word="not-yet-shown", refused="rate-rose")
    p = points.another_source(f)
    assert p is not None
    assert not p.decides
    assert f.scale.word == "supported"
    q = points.another_source(replace(f, chapters=apart("cannot-tell", 0.06)))
    assert q is not None
    assert q.decides


def test_what_leads_away_from_the_accepted_chance_covers_nothing() -> None:
    p = points.another_source(facts(apart("outside", 0.6), word="not-yet-shown", low=0.85))
    assert p is not None
    assert p.moved < 0.0
    assert not p.decides
    assert moved_words(p) == "none: further off"
    assert moved_words(replace(p, moved=0.5)) == "50 %"


@pytest.mark.parametrize(
    ("n", "decide", "said"),
    [(3, 0, "none of them turns it by itself"), (1, 1, "it decides by itself"),
     (3, 1, "1 decides by itself"), (3, 2, "2 decide by themselves"),
     (2, 2, "all decide by themselves"), (0, 0, "does not show that there is none")],
)  # fmt: skip
def test_the_sentence_says_how_many_decide(n: int, decide: int, said: str) -> None:
    assert said in weakest_sentence(n, decide, claimed=True)


def test_a_claim_past_the_evidence() -> None:
    p = points.reach(facts(word="not-yet-shown", extrapolated=True))
    assert p is not None
    assert p.decides
    assert points.reach(facts(word="not-yet-shown")) is None


def test_what_decides_stands_first_then_what_moves_most() -> None:
    r = results_of("quiet-fleet")
    assert r.advice.verdict is not None
    ranked = rank_points(r, r.chapters)
    keys = [(not p.decides, p.by_size, -p.moved) for p in ranked]
    assert keys == sorted(keys)
    assert len(ranked) > 1
    assert any(not p.decides for p in ranked)
    assert all(p.decides or abs(p.moved) >= LEAST for p in ranked)
    hardly = apart("outside", 1.0 - (r.advice.verdict.reliability.low or 0.0) + 1e-5)
    assert rank_points(r, {**r.chapters, **hardly}) == ranked
    again = rank_points(r, dict(reversed(list(r.chapters.items()))))
    assert again == ranked
