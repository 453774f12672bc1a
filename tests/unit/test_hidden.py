"""What is hidden: each axis moves the advice as it must, and turns where it says."""

import math

import numpy as np
import pytest
from advice_fleets import made_fleet, made_rows, made_settings, reference_fleet

from fleetstats.advice.quoted import quoted_interval
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.hidden.compute import estimate_hidden
from fleetstats.chapters.hidden.findings_hazard import removed_weight, tipping_ratio
from fleetstats.spells import Event, Spells
from fleetstats.spells.scenarios import (
    censor,
    doubtful_rows,
    fail_at_end,
    ignore_entry,
    scale_hours,
)
from fleetstats.survival.weibull.fit_weibull import try_fit


def hidden(fleet, rows=None, unknown=0, **tables):
    tables.setdefault("targets", {"reliability": 0.95})
    return estimate_hidden(
        fleet, try_fit(fleet), made_settings(**tables), rows=rows, n_fate_unknown=unknown
    )


def of(h, axis):
    return [s for s in h.scenarios if s.axis == axis]


@pytest.fixture(scope="module")
def few():
    """Two failures among 250, late entries, some removals on a finding."""
    fleet = made_fleet(scale_h=9000.0, seed=3)
    event = np.array(fleet.event)
    event[np.flatnonzero(event == 0)[::15]] = Event.FINDING
    return fleet.replace(event=event)


@pytest.fixture(scope="module")
def answer(few):
    rows = made_rows(few, ending=["lost" if i % 12 == 5 else "running" for i in range(len(few))])
    return hidden(few, rows, unknown=2)


def test_base_is_the_advice_as_it_stands(few, answer):
    want = quoted_interval(
        few, try_fit(few), Quantity.life(0.05), made_settings(targets={"reliability": 0.95})
    )
    assert answer.base_hours == pytest.approx(want.low, rel=1e-12)
    assert answer.shown
    assert all(s.change_h == s.hours_low - answer.base_hours for s in answer.scenarios)


def test_more_hidden_failures_never_show_more(answer):
    tried = of(answer, "unreported")
    assert len(tried) == 4
    hours = [answer.base_hours, *(s.hours_low for s in tried)]
    assert hours == sorted(hours, reverse=True)
    shown = [s.reliability_low for s in tried]
    assert shown == sorted(shown, reverse=True)


def test_one_two_three_and_five_failures_are_supposed_unreported(answer):
    assert [s.label.split(",")[0] for s in of(answer, "unreported")] == [
        f"up to {k} unreported failure{'s' * (k > 1)}" for k in (1, 2, 3, 5)
    ]


def test_hours_are_supposed_misread_by_a_twentieth_and_a_tenth_each_way(answer):
    assert [s.label for s in of(answer, "misread")] == [
        f"hours truly {share} % {way} than read"
        for share, way in ((10, "less"), (5, "less"), (5, "more"), (10, "more"))
    ]


def test_findings_are_supposed_up_to_five_times_as_near_to_failure(answer):
    told = " ".join(s.label for s in of(answer, "findings"))
    for ratio in ("1.5", "2", "3", "5"):
        assert f" {ratio} times" in told, told


def test_reporting_share_divides_the_bound(few, answer):
    settings = made_settings(targets={"reliability": 0.95})
    low = quoted_interval(few, try_fit(few), Quantity.reliability(1200.0), settings).low
    for s, q in zip(of(answer, "reporting"), (0.9, 0.75, 0.5), strict=True):
        assert s.reliability_low == pytest.approx(low ** (1 / q), rel=1e-12)
    q = answer.reporting_share
    assert low ** (1 / q) == pytest.approx(0.95, rel=1e-9)


def test_findings_all_none_and_the_ratio_that_turns(few, answer):
    check = answer.findings
    assert check.low <= check.middle <= check.high
    low = answer.scenarios[0].reliability_low
    settings = made_settings(targets={"reliability": 0.95})
    low = quoted_interval(few, try_fit(few), Quantity.reliability(1200.0), settings).low
    factor = 1 + (check.hazard_ratio - 1) * check.removed_weight
    assert low**factor == pytest.approx(0.95, rel=1e-9)
    hours = [s.hours_low for s in of(answer, "findings")]
    assert hours == sorted(hours, reverse=True)


def test_the_ratio_that_turns_stands_among_those_tried(answer):
    """The axis runs from 1 to the value that turns the verdict."""
    rows = of(answer, "findings")[:-1]  # the last counts all removals as failures
    assert [s.shown for s in rows] == sorted((s.shown for s in rows), reverse=True)
    turning = next(s for s in rows if not s.shown)
    assert f"{answer.findings.hazard_ratio:.3g} times" in turning.label


def test_removals_past_the_claim_move_the_hours_and_cannot_turn_the_claim():
    """A third of the engines leaves between the claim and the hours that 90 % reach."""
    fleet = made_fleet(n=400, shape=3.0, scale_h=2500.0, seed=11)
    event = np.array(fleet.event)
    late = np.flatnonzero((event == 0) & (fleet.exit_upper > 650.0))[::2]
    event[late] = Event.FINDING
    fleet = fleet.replace(event=event)
    h = hidden(fleet, claim=600.0, targets={"reliability": 0.9})
    assert h.base_hours > 750.0
    assert h.findings.removed_weight == pytest.approx(0.0, abs=1e-6)
    assert h.findings.hazard_ratio is None
    assert "times as likely" not in h.sentence
    five = next(s for s in of(h, "findings") if " 5 times" in s.label)
    weight = removed_weight(fleet, [try_fit(fleet).shape], h.base_hours)
    assert weight > 0.01
    life = Quantity.life(-math.expm1(math.log(0.9) / (1 + 4 * weight)))
    want = quoted_interval(fleet, try_fit(fleet), life, made_settings()).low
    assert five.hours_low == pytest.approx(want, rel=1e-9)
    assert five.change_h < -5.0


def test_lost_engines_all_failed_and_how_many_turn(few, answer):
    assert answer.lost.n_lost == 21
    k = answer.lost.to_turn
    assert k is not None
    assert 1 <= k <= 21
    (all_lost,) = of(answer, "lost")
    assert not all_lost.shown
    # with k the claim is lost for the worse order, with k - 1 for neither
    settings = made_settings(targets={"reliability": 0.95})
    lost = np.flatnonzero(np.arange(len(few)) % 12 == 5)
    lost = lost[np.argsort(few.exit_upper[lost], kind="stable")]

    def shown(which):
        mask = np.isin(np.arange(len(few)), which)
        changed = fail_at_end(few, mask)
        r = quoted_interval(changed, try_fit(changed), Quantity.reliability(1200.0), settings)
        return r.low >= 0.95

    assert not (shown(lost[:k]) and shown(lost[::-1][:k]))
    assert shown(lost[: k - 1])
    assert shown(lost[::-1][: k - 1])


def test_unknown_fates_count_as_failed(answer):
    (s,) = of(answer, "fate-unknown")
    assert s.n_failed == 4
    assert s.hours_low < answer.base_hours


def test_misreading_scales_the_hours(answer):
    less = of(answer, "misread")[0]
    assert less.hours_low == pytest.approx(0.9 * answer.base_hours, rel=1e-6)
    assert [s.hours_low for s in of(answer, "misread")] == sorted(
        s.hours_low for s in of(answer, "misread")
    )


def test_ignored_entry_flatters_and_stays_out_of_the_tornado(answer):
    (wrong,) = of(answer, "entry-ignored")
    assert wrong.hours_low > answer.base_hours
    assert "entry-ignored" not in {b.axis for b in answer.tornado}
    assert {b.axis for b in answer.tornado} >= {"unreported", "lost", "findings", "joiners"}


def test_tornado_is_sorted_and_holds_the_scenarios(answer):
    widths = [b.high_h - b.low_h for b in answer.tornado]
    assert widths == sorted(widths, reverse=True)
    for b in answer.tornado:
        mine = [s.hours_low for s in of(answer, b.axis)]
        assert b.low_h == min([*mine, answer.base_hours])
        assert b.high_h == max([*mine, answer.base_hours])


def test_sentence_names_what_turns(answer):
    k = answer.tipping.least
    assert f"{k} unreported failure" in answer.sentence
    assert "no longer be shown with" in answer.sentence


def test_doubtful_events_all_or_none():
    fleet = made_fleet()
    causes = ["" if f and i % 3 == 0 else "bearing" for i, f in enumerate(fleet.failed)]
    rows = made_rows(fleet, cause=causes)
    doubtful = doubtful_rows(rows)
    assert 0 < doubtful.sum() < fleet.n_failed
    all_count, none = of(hidden(fleet, rows), "doubtful")
    assert all_count.n_failed == fleet.n_failed
    assert none.n_failed == fleet.n_failed - doubtful.sum()
    assert none.hours_low > all_count.hours_low


def test_doubt_follows_what_other_rows_say():
    fleet = Spells.of(0, [100.0, 200.0, 300.0], [1, 1, 0])
    said = made_rows(fleet, cause="bearing", confirmed=[True, None, None])
    assert doubtful_rows(said).tolist() == [False, True, False]
    silent = made_rows(fleet, cause="bearing")
    assert doubtful_rows(silent).tolist() == [False, False, False]
    unknown = made_rows(fleet, cause=["Unknown", "bearing", "unknown"])
    assert doubtful_rows(unknown).tolist() == [True, False, False]


def test_changed_fleets_are_what_they_say():
    fleet = Spells.of([0, 100, 0], [500, 800, 300], [1, 0, 1], exit_lower=[400, 800, 0])
    none = censor(fleet, fleet.failed)
    assert none.exit_upper.tolist() == [400, 800]  # the third was never seen good
    assert none.n_failed == 0
    assert ignore_entry(fleet).entry.tolist() == [0, 0, 0]
    assert scale_hours(fleet, 1.1).exit_lower == pytest.approx([440, 880, 0])
    assert fail_at_end(fleet, np.array([False, True, False])).n_failed == 3


def test_weight_of_removed_engines_by_hand():
    # half of ten engines are removed at 500 h, the rest run to 1,000 h; at shape 1 the share
    # removed is 1/2 over the second half of the hazard to 1,000 h: W = 0.25
    event = [Event.FINDING] * 5 + [Event.CENSORED] * 5
    fleet = Spells.of(0, [500.0] * 5 + [1000.0] * 5, event)
    assert removed_weight(fleet, [1.0], 1000.0) == pytest.approx(0.25, abs=1e-9)
    # at shape 2 the second half of the hours holds 3/4 of the hazard
    assert removed_weight(fleet, [2.0], 1000.0) == pytest.approx(0.375, abs=2e-3)  # 400 points
    assert removed_weight(fleet, [1.0, 2.0], 1000.0) == pytest.approx(0.375, abs=2e-3)
    assert tipping_ratio(math.exp(-0.1), math.exp(-0.2), 0.25) == pytest.approx(5.0)
    assert tipping_ratio(0.8, 0.9, 0.25) is None


def test_nothing_shown_is_nothing_to_upset():
    tiny = Spells.of(0, [10.0, 20.0], [1, 1])
    h = hidden(tiny, targets={"reliability": 0.999999})
    assert h.state in ("answered", "not-enough-evidence")
    lone = hidden(reference_fleet(), claim=None)
    assert lone.tipping is None
    assert lone.reporting_share is None
    assert all(s.shown is None for s in lone.scenarios)


def test_failures_left_out_by_the_definition_are_counted_after_all():
    """Three of another cause and one censored: by cause, and all; a running engine is not one."""
    fleet = made_fleet(scale_h=9000.0, seed=3)
    event = np.array(fleet.event)
    at = np.flatnonzero(event == 0)[[10, 40, 80, 120]]
    event[at[:3]] = Event.COMPETING
    fleet = fleet.replace(event=event)
    endings = ["failed" if i in at or fleet.failed[i] else "running" for i in range(len(fleet))]
    causes = ["turbocharger" if i in at[:3] else "prop strike" if i == at[3] else ""
              for i in range(len(fleet))]  # fmt: skip
    rows = made_rows(fleet, ending=endings, cause=causes)
    got = of(hidden(fleet, rows), "definition")
    assert [s.label for s in got] == [
        "3 failures (turbocharger) counted too",
        "1 failure (prop strike) counted too",
        "4 failures (all causes) counted too",
    ]
    assert [s.n_failed - fleet.n_failed for s in got] == [3, 1, 4]
    assert got[2].hours_low < got[0].hours_low < got[1].hours_low
    assert all(b.axis != "definition" for b in hidden(fleet, rows).tornado)
    assert of(hidden(fleet, made_rows(fleet)), "definition") == []
