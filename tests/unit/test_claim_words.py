"""The sentence that may be quoted, the one that may not, and what the first failures say."""

import numpy as np
import pytest
from advice_fleets import made_fleet, made_settings, reference_fleet

from fleetstats.bands.in_use import ask_band
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.claim.compute import advise_claim
from fleetstats.chapters.claim.first_failures import weigh_first_failures
from fleetstats.core import SettingError
from fleetstats.core.errors import ArgumentError
from fleetstats.spells import Spells
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.wording import at_least, at_most


def claim(fleet, *args, **kwargs):
    tables = kwargs.pop("tables", {})
    return advise_claim(fleet, made_settings(**tables), *args, fit=try_fit(fleet), **kwargs)


def test_quote_of_the_reference_fleet_carries_bound_exposure_and_end():
    c = claim(reference_fleet(), reliability=0.95)
    assert c.state == "supported"
    for part in ("260 engines", "195,000 h", "47 of them", "no engine failures reported",
                 "95 % confidence", at_most(c.failure_high), "1,200 h", "2.6 %",
                 "any Weibull shape from 1 to 4", "1,401 h", "2 unreported failures"):  # fmt: skip
        assert part in c.may_quote, part
    assert "None failed" in c.may_not_quote
    assert "safe" not in c.may_quote + c.may_not_quote


def test_past_the_evidence_nothing_may_be_quoted_about_the_hours():
    c = claim(reference_fleet(), 2000.0, 0.5)
    assert c.state == "not-yet-shown"
    assert c.extrapolated
    assert repr(c).startswith("Not yet shown, past the evidence: ")
    assert "none of them at 2,000 h" in c.may_quote
    assert "say nothing that may be quoted about 2,000 h" in c.may_quote
    assert "%" not in c.may_quote.split("They carry")[0]
    assert c.shown_to_h <= c.supported_h


def test_many_failures_are_quoted_by_the_band_of_the_data():
    fleet = made_fleet()
    c = claim(fleet)
    # the worst over the shapes left open is the profile's bound, a little more careful
    assert 1 - c.chosen.low == pytest.approx(c.failure_high, rel=0.05)
    assert "for every Weibull shape that the records leave open" in c.may_quote
    shape = ask_band(fleet, try_fit(fleet), Quantity.shape(), made_settings())
    assert [r.shape for r in c.rows] == pytest.approx(
        [shape.low, shape.estimate, shape.high],
        rel=3e-3,  # shown to three digits
    )
    assert "17 % of our engines have failed, so 83 % will reach" in c.may_not_quote


def test_engines_are_called_younger_only_where_most_are():
    fleet = made_fleet()
    early, late = (claim(fleet, float(np.quantile(fleet.exit_lower, q))) for q in (0.3, 0.7))
    assert late.n_reached < late.n_engines / 2 < early.n_reached
    assert "Most engines in the records are younger than that; a share of" in late.may_not_quote
    assert "Most engines" not in early.may_not_quote
    assert early.may_not_quote.endswith("; a share of engines is not a chance of reaching an age.")


def test_without_a_failure_the_least_favourable_shape_is_quoted_and_with_few_no_more_than_that():
    none, few = (claim(f) for f in (reference_fleet(), made_fleet(scale_h=9000.0, seed=3)))
    for c in (none, few):
        assert c.worst.failure_high >= max(r.failure_high for r in c.rows) - 1e-12
    assert none.failure_high == pytest.approx(none.worst.failure_high, rel=0.02)
    assert few.n_failed > 0
    assert few.failure_high < few.worst.failure_high


def test_subsets_show_less_than_the_whole():
    fleet = reference_fleet().replace(
        source=np.where(np.arange(260) % 2, "a", "b"), build=np.full(260, "std")
    )
    c = claim(fleet)
    assert [(s.group, s.name) for s in c.subsets] == [("source", "a"), ("source", "b")]
    assert all(s.failure_high > c.worst.failure_high for s in c.subsets)
    assert sum(s.n_engines for s in c.subsets) == 260
    assert claim(fleet, by=()).subsets == ()


@pytest.mark.parametrize(
    ("wrong", "named"),
    [((-5.0,), "hours"), ((float("nan"),), "hours"), ((1200.0, 1.0), "reliability")],
)
def test_impossible_claims_are_refused(wrong, named):
    with pytest.raises(ArgumentError, match=f"^{named} = "):
        claim(reference_fleet(), *wrong)


def test_a_claim_needs_hours():
    with pytest.raises(SettingError, match="claimed_interval_h"):
        advise_claim(reference_fleet(), made_settings(claim=None))


def one_failure(age):
    fleet = reference_fleet()
    i = int(np.argmin(np.abs(fleet.exit_upper - age)))
    event = np.zeros(260)
    event[i] = 1
    return Spells.of(0, fleet.exit_upper, event, cause=np.where(event == 1, "bearing", ""))


def first(fleet):
    return weigh_first_failures(fleet, made_settings(), hours=1200.0, accepted=0.05)


def test_one_failure_with_and_without():
    f = first(one_failure(400.0))
    assert f.causes == ("bearing",)
    assert f.failure_high_without == pytest.approx(
        claim(reference_fleet()).failure_high,
        rel=0.01,  # one of 260 engines was seen for less
    )
    assert f.failure_high_with > f.failure_high_without
    assert f"from {at_most(f.failure_high_without)} to" in f.sentence


def test_each_age_carries_its_own_cause():
    ages = np.array([1037.0, 551.0, 900.0, 729.0, 729.0, 1200.0])
    names = ["cam follower", "exhaust valve", "", "piston", "oil pump", ""]
    fleet = Spells.of(0, ages, [1, 1, 0, 1, 1, 0], cause=names)
    f = first(fleet)
    want = [(551.0, "exhaust valve"), (729.0, "piston"), (729.0, "oil pump"),
            (1037.0, "cam follower")]  # fmt: skip
    assert list(zip(f.ages_h.tolist(), f.causes, strict=True)) == want
    assert (
        "4 failures (551 h: exhaust valve; 729 h: piston; 729 h: oil pump; 1,037 h: cam follower)"
        in f.sentence
    )


def test_a_row_for_two_failures_gives_its_cause_to_both():
    fleet = Spells.of(0, [800.0, 400.0, 900.0], [1, 1, 0], cause=["piston", "valve", ""],
                      weight=[2.0, 1.0, 50.0])  # fmt: skip
    f = first(fleet)
    assert f.ages_h.tolist() == [400.0, 800.0, 800.0]
    assert f.causes == ("valve", "piston", "piston")


def test_age_of_a_failure_is_read_against_exposure_by_hand():
    # all engines seen from new to 1,000 h but the one that failed at 250 h; at shape 1 the share
    # of hours before 250 h is (10 · 250) / (9 · 1000 + 250) = 0.27027; at shape 3 far less
    fleet = Spells.of(0, [250.0] + [1000.0] * 9, [1] + [0] * 9)
    patterns = {p.name: p for p in first(fleet).patterns}
    assert patterns["chance"].chance_so_early == pytest.approx(2500 / 9250, rel=1e-12)
    early3 = 10 * 0.25**3 / (9 + 0.25**3)
    assert patterns["wear-out"].chance_so_early == pytest.approx(early3, rel=1e-12)
    assert patterns["chance"].support == 1.0
    # likelihood of shape b: b · 0.25^(b-1) / A(b), against shape 1
    want = 3 * 0.25**2 / (9 + 0.25**3) / (1 / 9.25)
    assert patterns["wear-out"].support == pytest.approx(want, rel=1e-9)
    assert "speak against wear-out" in first(fleet).sentence


def test_late_failures_speak_for_wear_out():
    fleet = Spells.of(0, [1400.0] * 3 + [1450.0] * 4 + [900.0] * 100, [1] * 3 + [0] * 104)
    assert "wear-out is the first question" in first(fleet).sentence


def test_first_failures_only_for_one_to_four():
    assert first(reference_fleet()) is None
    assert first(made_fleet()) is None


def test_chance_of_so_many_if_the_accepted_chance_were_true():
    f = first(one_failure(400.0))
    # shape 1 holds most whole lives: 162.5 at -ln 0.95, less what the failed engine lost
    assert f.chance_if_accepted == pytest.approx(1 - np.exp(-162.5 * -np.log(0.95)), rel=1e-6)


def test_a_contradicted_claim_is_quoted_with_the_bound_that_contradicts_it() -> None:
    rng = np.random.default_rng(4)
    life, stop = 900 * rng.weibull(3.0, 120), rng.uniform(300, 1400, 120)
    spells = Spells.of(0.0, np.minimum(life, stop), life < stop)
    c = claim(spells, 800.0)
    assert c.state == "contradicted"
    assert 1.0 - c.target < c.failure_low < c.failure_high
    assert f"At least {at_least(c.failure_low)} do (one-sided lower bound)" in c.may_quote
    far = claim(spells, 2000.0)
    assert far.state == "contradicted"
    assert f"at least {at_least(far.failure_low)} meet this failure by" in far.may_quote
