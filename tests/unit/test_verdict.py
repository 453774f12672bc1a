"""The verdict's rule, line by line."""

import numpy as np
import pytest
from advice_fleets import made_fleet, made_settings, reference_fleet

from fleetstats.advice import tipping
from fleetstats.advice.advise import advise_hours
from fleetstats.advice.judge import _by_shape
from fleetstats.advice.quoted import Quoter, quoted_interval
from fleetstats.advice.tipping import add_hidden, add_spread, hidden_ages, least_count
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.claim.compute import advise_claim
from fleetstats.core.units import text_percent
from fleetstats.spells import Spells
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.wording import at_most


def verdict(fleet, claim=1200.0, **tables):
    return advise_hours(fleet, try_fit(fleet), made_settings(claim=claim, **tables)).verdict


def test_supported_with_what_it_rests_on():
    v = verdict(reference_fleet(), targets={"reliability": 0.95})
    assert v.word == "supported"
    assert v.n_reached == 47
    assert v.exposure_past_h > 5000
    assert v.hidden_to_turn == 2
    assert "2 unreported failures would turn this" in v.sentence
    assert not v.extrapolated
    assert f"the upper bound is {at_most(1.0 - v.reliability.low)} (" in v.sentence


def test_no_claim_no_verdict():
    assert verdict(reference_fleet(), claim=None) is None


def test_a_claim_past_the_evidence_is_never_supported():
    v = verdict(reference_fleet(), claim=1430.0, targets={"reliability": 0.5})
    assert v.reliability.low > 0.5
    assert v.word == "not-yet-shown"
    assert v.extrapolated
    assert "extrapolation" in v.sentence


def test_a_claim_past_the_evidence_is_contradicted_where_its_end_contradicts_already():
    # nearly all fail before 1,000 h: ever fewer can reach the 1,500 h that none was watched for
    fleet = made_fleet(shape=3.0, scale_h=700.0, seed=3, late=0.0)
    settings = made_settings(claim=1500.0)
    advice = advise_hours(fleet, try_fit(fleet), settings)
    v, reach = advice.verdict, advice.horizon.supported_h
    assert reach < 1500.0
    end = quoted_interval(fleet, try_fit(fleet), Quantity.reliability(reach), settings)
    assert end.high < 0.9
    assert v.word == "contradicted"
    assert v.extrapolated
    # what is said is what the end of the evidence shows, not the extrapolated figure
    assert v.reliability.high == end.high
    assert f"do by {reach:,.0f} h already" in v.sentence
    claim = advise_claim(fleet, settings, fit=try_fit(fleet))
    assert claim.state == "contradicted"
    assert f"by {reach:,.0f} h already" in claim.may_quote


def test_a_claim_where_the_evidence_ends_is_within_it():
    fleet = reference_fleet()
    reach = advise_hours(fleet, None, made_settings(claim=None), curves=False).horizon.supported_h
    assert not verdict(fleet, claim=reach).extrapolated
    assert verdict(fleet, claim=reach + 0.5).extrapolated


@pytest.mark.parametrize(("failed", "word"), [(9, "not-yet-shown"), (10, "hours-do-not-tell")])
def test_a_shape_that_holds_one_is_read_from_ten_failures_on(failed, word):
    assert _by_shape("not-shown", failed, extrapolated=False)[0] == word


def test_failures_all_at_one_age_contradict_a_later_claim():
    fleet = Spells.of(0.0, np.full(12, 800.0), np.ones(12))
    assert verdict(fleet).word == "contradicted"
    claim = advise_claim(fleet, made_settings())
    assert "100 % of our engines have failed" in claim.may_not_quote


def test_contradicted_and_not_yet_shown():
    fleet = made_fleet(shape=3.0, scale_h=1200.0, seed=3)
    assert verdict(fleet).word == "contradicted"
    near = made_fleet(shape=2.5, scale_h=3000.0, seed=6)
    v = verdict(near)
    assert v.reliability.low < 0.9 < v.reliability.high
    assert v.word == "not-yet-shown"
    assert v.hidden_to_turn is None
    room = f"leave room for up to {at_most(1.0 - v.reliability.low)} ("
    assert room in v.sentence
    assert f"(estimated {text_percent(1.0 - v.reliability.estimate)})" in v.sentence


def test_hours_do_not_tell_when_risk_does_not_rise():
    v = verdict(made_fleet(shape=1.0, scale_h=9000.0, seed=2))
    assert v.word == "hours-do-not-tell"


@pytest.mark.parametrize("fleet", [reference_fleet(), made_fleet(scale_h=4500.0, seed=8)])
def test_hidden_to_turn_is_the_least_number_that_turns(fleet):
    settings = made_settings()
    v = verdict(fleet)
    assert v.word == "supported"
    k = v.hidden_to_turn

    recorded = Quoter.of(fleet, try_fit(fleet), settings)

    def low(n, placing):
        # ages that were made up say nothing against the curve of the fleet as recorded
        more = add_hidden(fleet, hidden_ages(n, 1200.0, placing))
        lives = Quoter.of(more, try_fit(more), settings, recorded=recorded)
        return lives.interval(Quantity.reliability(1200.0)).low

    placings = ("early", "spread", "late")
    assert all(low(k - 1, p) >= 0.9 for p in placings)
    if fleet.n_failed >= 5:  # with fewer the known-shape count may be the smaller
        assert any(low(k, p) < 0.9 for p in placings)


def test_very_many_unreported_failures_stand_at_ages_of_their_own_no_more():
    """What they do to a bound is what as many single ones do, to a thousandth."""
    fleet = made_fleet(scale_h=4500.0, seed=8)
    k = 4 * tipping.MOST_APART + 7
    some, each = (add_spread(fleet, k, 1200.0), add_hidden(fleet, hidden_ages(k, 1200.0, "spread")))
    assert len(some) == len(fleet) + tipping.MOST_APART
    assert some.n_failed == each.n_failed == fleet.n_failed + k
    few = add_spread(fleet, 5, 1200.0)
    assert (
        few.exit_upper.tolist()
        == add_hidden(fleet, hidden_ages(5, 1200.0, "spread")).exit_upper.tolist()
    )
    a, b = (Quoter.of(x, try_fit(x), made_settings()) for x in (some, each))
    for what in (Quantity.reliability(300.0), Quantity.life(0.1)):
        assert a.interval(what).low == pytest.approx(b.interval(what).low, rel=1e-3)


def test_least_count_finds_the_first_and_gives_up():
    assert least_count(lambda k: k >= 37) == 37
    assert least_count(lambda k: True) == 0
    assert least_count(lambda k: False, 64) is None
    for first in (1, 2, 32, 64, 512):  # where it begins changes how often is asked alone
        assert least_count(lambda k: k >= 37, first=first) == 37
        assert least_count(lambda k: k >= 1, first=first) == 1
        assert least_count(lambda k: True, first=first) == 0
    assert least_count(lambda k: k > 1024, 1024, first=1024) is None


def test_supported_word_is_never_a_promise():
    text = verdict(reference_fleet()).sentence
    assert "safe" not in text
    assert text.startswith("The records support")
