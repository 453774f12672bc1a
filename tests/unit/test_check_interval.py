"""The verdict on the check interval: words follow numbers, and what is not covered is named."""

import dataclasses
import datetime as dt

import numpy as np
import pytest
from condition_sims import check_lives

from fleetstats.chapters.checks.compute import advise_check_interval
from fleetstats.chapters.checks.lives import build_check_lives
from fleetstats.chapters.checks.section import compose_check_interval
from fleetstats.core.errors import SpellError
from fleetstats.core.units import text_percent
from fleetstats.document.words import FORBIDDEN
from fleetstats.records.condition.checks import CheckRow
from fleetstats.records.life import LifeRow
from fleetstats.study.condition_settings import DelayKeys
from fleetstats.study.settings import CheckKeys, QuestionKeys, Settings, StudyKeys, TargetKeys
from fleetstats.survival.delay.delay import CLEAN, FAILED, FOUND, slip_share
from fleetstats.vocabulary.finding import Origin

AT = Origin(file="rows.csv", row=2)


def settings(**tables):
    return Settings(study=StudyKeys(title="t", analysis_date=dt.date(2026, 9, 30)), **tables)


def life(end, ending="running", *, cause="", entry=0.0, good=None, start=0.0, confirmed=None):
    return LifeRow(
        origin=AT,
        engine="E-1",
        exit_h=end,
        ending=ending,
        cause=cause,
        entry_h=entry,
        last_good_h=good,
        life_start_h=start,
        confirmed=confirmed,
    )


def check(hours, result="clean", *, mode="", action="repaired"):
    return CheckRow(origin=AT, engine="e 1", hours_h=hours, result=result, mode=mode, action=action)


def ends(lives):
    return [
        (float(a), float(b), float(c), int(k))
        for a, b, c, k in zip(lives.start_h, lives.entry_h, lives.exit_h, lives.ending, strict=True)
    ]


def test_a_life_is_cut_where_a_fault_was_mended():
    checks = [check(50), check(101, "found", mode="valve"), check(150), check(240)]
    lives = build_check_lives([life(260)], checks, settings())
    assert ends(lives) == [(0, 0, 101, FOUND), (101, 101, 260, CLEAN)]
    assert list(lives.checks(0)) == [50, 101]
    assert list(lives.checks(1)) == [150, 240]
    assert list(lives.mode) == ["valve", ""]


def test_a_fault_left_in_place_leaves_the_hours_out_until_it_is_mended():
    checks = [check(100, "found", action="monitor"), check(150), check(200, "found"), check(250)]
    lives = build_check_lives([life(300)], checks, settings())
    assert ends(lives) == [(0, 0, 100, FOUND), (200, 200, 300, CLEAN)]


def test_a_second_look_at_the_visit_that_found_a_fault_is_no_check_of_the_mended_engine():
    """A leak-down test that passes at the hours at which the plug was found bad."""
    checks = [check(100, "found", mode="valve"), check(100), check(150)]
    lives = build_check_lives([life(260)], checks, settings())
    assert ends(lives) == [(0, 0, 100, FOUND), (100, 100, 260, CLEAN)]
    assert list(lives.checks(1)) == [150]


def test_lives_that_cannot_be_name_their_file_and_row():
    with pytest.raises(SpellError, match=r"^rows\.csv row 2: Life of unit 'E-1'"):
        build_check_lives([life(100, entry=120)], [], settings())


def test_a_failure_outweighs_what_was_looked_at_afterwards():
    rows = [life(120, "failed", cause="piston")]
    lives = build_check_lives(rows, [check(50), check(120, "found")], settings())
    assert ends(lives) == [(0, 0, 120, FAILED)]
    assert lives.mode[0] == "piston"


def test_delayed_entry_keeps_the_checks_before_it():
    lives = build_check_lives([life(300, entry=160)], [check(100), check(200)], settings())
    assert ends(lives) == [(0, 160, 300, CLEAN)]
    assert list(lives.checks(0)) == [100, 200]


def test_hours_since_overhaul_shift_the_checks():
    lives = build_check_lives([life(300, start=1000)], [check(900), check(1100)], settings())
    assert list(lives.checks(0)) == [100]


def test_causes_that_say_nothing_and_faults_not_confirmed_only_end_the_watch():
    for row in (
        life(90, "failed", cause="Prop strike"),
        life(90, "failed", cause="piston", confirmed=False),
    ):
        assert ends(build_check_lives([row], [check(50)], settings())) == [(0, 0, 90, CLEAN)]


def test_without_check_records_checks_are_assumed_only_where_allowed():
    rows = [life(180, "found-at-check", cause="valve", good=130.0), life(120, "failed")]
    lives = build_check_lives(rows, [], settings())
    assert lives.assumed.all()
    assert list(lives.checks(0)) == [30, 80, 130, 180]
    assert list(lives.checks(1)) == [50, 100]
    strict = settings(delay=DelayKeys(assume_checks=False))
    assert len(build_check_lives(rows, [], strict)) == 0


@pytest.fixture(scope="module")
def many():
    rng = np.random.default_rng(2)
    lives = check_lives(rng, n=70, faults_per_h=1 / 700, mean_h=150.0, to_h=(300.0, 800.0))
    mode = np.where(lives.ending > 0, np.where(np.arange(len(lives)) % 5, "valve", "crank"), "")
    return dataclasses.replace(lives, mode=mode)


@pytest.fixture(scope="module")
def plain(many):
    return advise_check_interval(many, settings())


def test_verdicts_follow_the_band(many):
    words = {}
    for share in (0.05, 0.22, 0.60):
        s = settings(delay=DelayKeys(accepted_share=share))
        words[share] = advise_check_interval(many, s).verdict
    assert words == {0.05: "contradicted", 0.22: "not-yet-shown", 0.60: "supported"}


def test_without_a_stated_target_nothing_is_judged(plain):
    a = plain
    assert a.verdict == "no-target"
    assert [x.target for x in a.longest] == [0.05, 0.10, 0.20, 0.30]
    assert not any(x.stated for x in a.longest)
    assert "described here, not judged" in a.sentences[0]


def test_the_longest_interval_keeps_the_target_on_the_careful_edge(many):
    s = settings(delay=DelayKeys(accepted_share=0.4), targets=TargetKeys(risk_per_check=0.01))
    a = advise_check_interval(many, s)
    risk, share = a.longest
    assert np.interp(share.hours.low, a.intervals_h, a.slip_high) == pytest.approx(0.4, abs=0.005)
    careful = np.interp(risk.hours.low, a.intervals_h, a.per_1000_h_high)
    assert careful * risk.hours.low / 1000.0 == pytest.approx(0.01, rel=0.02)
    assert share.hours.low < share.hours.estimate
    strict = settings(delay=DelayKeys(accepted_share=0.15))
    b = advise_check_interval(many, strict)
    edge = b.longest[0].hours.high
    assert np.interp(edge, b.intervals_h, b.slip_low) == pytest.approx(0.15, abs=0.005)
    # As many as 30 in 100 may never be seen, and those fail at any interval.
    assert b.longest[0].hours.low == 0.0
    assert any("no interval is short enough on the careful edge" in t for t in b.sentences)
    assert "warning-law" in [c.code for c in b.cautions]
    one_law = settings(delay=DelayKeys(accepted_share=0.15, delay="exponential"))
    c = advise_check_interval(many, one_law)
    assert c.laws == ()
    assert c.longest[0].hours.low > 10.0
    assert "warning-law" not in [x.code for x in c.cautions]


def test_the_laws_that_were_averaged_are_said_with_their_figures(plain):
    names = [x.law for x in plain.laws]
    assert names == ["exponential", "weibull", "unseen-share"]
    assert sum(x.weight for x in plain.laws) == pytest.approx(1.0)
    told = next(t for t in plain.sentences if "averaged over 3 laws" in t)
    for x in plain.laws:
        assert f"weight {text_percent(x.weight)}" in told
        for i in (0, 2):
            assert text_percent(x.slip[i]) in told
    i = int(np.searchsorted(plain.intervals_h, 50.0))
    mean = sum(x.weight * x.slip[1] for x in plain.laws)
    assert plain.slip[i] == pytest.approx(mean, rel=1e-9)
    low, high = plain.unseen_share.low, plain.unseen_share.high
    assert low <= plain.unseen_share.estimate <= high
    assert high >= plain.n_failed / (plain.n_failed + plain.n_found)
    assert "of the faults may be such that no check sees them" in told
    rows = {b.key: b for b in compose_check_interval(plain).blocks if hasattr(b, "key")}
    assert len(rows["check-laws"].rows) == 3


def test_the_laws_agree_where_the_checks_were_made_and_part_beside(many, plain):
    """The question at another interval than the records' is where a law is needed."""
    made, half = plain.made_h, advise_check_interval(many, settings(check=CheckKeys(interval_h=25)))
    assert made == pytest.approx(50.0)
    assert half.made_h == made
    at_made = [x.slip_high[1] for x in plain.laws]
    assert max(at_made) < 1.1 * min(at_made)
    assert "warning-law" not in [c.code for c in plain.cautions]
    caution = next(c for c in half.cautions if c.code == "warning-law")
    highs = [x.slip_high[1] for x in half.laws]
    assert f"at most {text_percent(min(highs))} under one law" in caution.text
    assert f"{text_percent(max(highs))} under another" in caution.text


def test_modes_without_warning_are_named_and_do_not_count(many):
    s = settings(check=CheckKeys(undetectable_causes=("crank",)))
    a = advise_check_interval(many, s)
    by_name = {m.mode: m for m in a.modes}
    assert by_name["crank"].detectable == "no"
    assert by_name["crank"].slip is None
    assert a.n_found + a.n_failed == by_name["valve"].n_found + by_name["valve"].n_failed
    assert any("Not covered: crank" in t for t in a.sentences)
    assert "no-warning-mode" in [c.code for c in a.cautions]


def test_causes_that_are_not_in_question_stay_out(many):
    s = settings(question=QuestionKeys(causes=("Valve",)))
    a = advise_check_interval(many, s)
    by_name = {m.mode: m for m in a.modes}
    assert by_name["crank"].detectable == "not in question"
    assert a.n_found + a.n_failed == by_name["valve"].n_found + by_name["valve"].n_failed
    assert "no-warning-mode" not in [c.code for c in a.cautions]


@pytest.fixture(scope="module")
def ageing():
    """Faults that come faster with age: at 1,400 h nine times as often as at 350 h."""
    lives = check_lives(
        np.random.default_rng(6), n=120, faults_per_h=1 / 1000, mean_h=120.0,
        to_h=(300.0, 1500.0), arrival_shape=2.6,
    )  # fmt: skip
    return dataclasses.replace(lives, mode=np.where(lives.ending > 0, "valve", ""))


def test_a_mean_over_all_ages_does_not_support_where_faults_come_with_age(ageing, many):
    """The mean meets the target; engines at the claimed hours, by the truth, do not."""
    s = settings(targets=TargetKeys(risk_per_check=0.015))
    a = advise_check_interval(ageing, s)
    assert a.longest[0].hours.low > a.usual_h
    assert a.flatters_old
    assert a.verdict == "not-yet-shown"
    assert "the old ones are not judged by a mean" in a.sentences[0]
    assert "steady-faults" in [c.code for c in a.cautions]
    even = advise_check_interval(many, settings(targets=TargetKeys(risk_per_check=0.15)))
    assert (even.verdict, even.flatters_old) == ("supported", False)
    assert "steady-faults" not in [c.code for c in even.cautions]


def test_with_a_rate_that_changes_the_target_is_judged_at_the_claimed_hours(ageing):
    s = settings(delay=DelayKeys(arrival="weibull"), targets=TargetKeys(risk_per_check=0.015))
    young, old = (
        advise_check_interval(
            ageing,
            dataclasses.replace(s, study=dataclasses.replace(s.study, claimed_interval_h=hours)),
        ).longest[0]
        for hours in (500.0, 1400.0)
    )
    assert young.what == "chance of failing between two checks at 500 h"
    assert young.hours.low > 50.0 > old.hours.estimate
    # True rate at 1,400 h, to which a check interval of this length keeps 1.5 %.
    rate = 2.6 * (1400 / 1500) ** 1.6 / 1000
    t = np.linspace(1.0, 200.0, 2000)
    true = t[np.searchsorted(rate * t * slip_share(t, 120.0, detection=0.8), 0.015)]
    assert old.hours.low < true < old.hours.high


def test_costs_only_where_stated(many, plain):
    assert plain.cost_per_h is None
    s = settings(delay=DelayKeys(cost_check=200.0, cost_repair=1500.0, cost_failure=50_000.0))
    a = advise_check_interval(many, s)
    best, low, high = a.cheapest_h
    assert low < best < high
    at = int(np.searchsorted(a.intervals_h, 50.0))
    want = 0.0
    for law in a.fits[1].laws:
        slip = law.model.slip(50.0)
        cost = 200 / 50 + law.model.faults_per_h * (slip * 50_000 + (1 - slip) * 1500)
        want += law.weight * cost
    assert a.cost_per_h[at] == pytest.approx(want, rel=1e-9)
    assert np.all(a.cost_low <= a.cost_per_h)
    assert np.all(a.cost_per_h <= a.cost_high)


def test_few_failures_give_a_limit_and_no_estimate():
    lives = check_lives(np.random.default_rng(4), n=40, faults_per_h=1 / 3000, mean_h=900.0)
    assert lives.n_found > 0
    assert lives.n_failed < 3
    lives = dataclasses.replace(lives, mode=np.where(lives.ending > 0, "valve", ""))
    a = advise_check_interval(lives, settings())
    assert not a.identified
    assert any("cannot be estimated" in t for t in a.sentences)
    assert "few-failures" in [c.code for c in a.cautions]
    prior = settings(delay=DelayKeys(prior_mean_h=300.0, prior_source="same valve elsewhere"))
    b = advise_check_interval(lives, prior)
    assert b.slip_at_usual.high < a.slip_at_usual.high
    assert any("same valve elsewhere" in c.text for c in b.cautions)


def test_no_fault_at_all_bounds_the_rate_alone():
    lives = build_check_lives([life(1000.0)], [check(500)], settings())
    a = advise_check_interval(lives, settings())
    assert a.verdict == "not-enough-evidence"
    assert a.rate_high_per_1000_h == pytest.approx(2.9957, rel=1e-4)  # -log(0.05) in 1,000 h
    assert compose_check_interval(a).blocks[0].tone == "missing"


def test_detection_is_held_over_its_range_and_hardly_moves_the_share(plain):
    a = plain
    assert a.detection == (0.6, 0.8, 1.0)
    at50 = list(a.table_h).index(50.0)
    shares = a.slip_by_detection[:, at50]
    assert np.ptp(shares) < 0.03
    means = [f.model.mean_delay_h for f in a.fits]
    assert means[0] > 1.5 * means[2]


def test_the_section_says_nothing_that_is_forbidden(plain):
    section = compose_check_interval(plain)
    text = " ".join(b.text for b in section.blocks if hasattr(b, "text"))
    assert not FORBIDDEN.search(text)
    keys = [b.key for b in section.blocks if hasattr(b, "key")]
    assert keys == ["check-interval", "check-slip", "check-longest", "check-laws", "check-modes"]
