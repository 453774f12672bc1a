"""The scan for a date of change, its shares and its ratio, held to sums that can be done by hand.

Source of the checks: each failure's share is a count of lives at risk; the ratio with one share is
the binomial's; common practice, no other source.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from fleetstats.core.errors import FitError
from fleetstats.survival.change.evidence import mix_changes, weigh_change
from fleetstats.survival.change.fleets import (
    BUCKETS,
    MANY,
    SLOTS,
    TOGETHER,
    count_fleets,
    draw_slots,
    mean_shares,
    months_of,
)
from fleetstats.survival.change.power import change_power
from fleetstats.survival.change.ratio import likelihood_ratio, log_sums, ratio_by_count
from fleetstats.survival.change.scan import scan_change
from fleetstats.survival.change.shares import Lines, month_edges, month_shares


def lines_of(*rows):
    """Return lines of (entry h, end h, entry day, end day), one life each."""
    a = np.array(rows, dtype=float)
    return Lines(
        entry_h=a[:, 0], end_h=a[:, 1], entry_day=a[:, 2], end_day=a[:, 3], weight=np.ones(len(a))
    )


def test_a_failure_falls_on_each_life_at_risk_at_its_age_alike():
    # at 100 h: A on day 100 (it fails), B on day 300, C on day 500; D was never 100 h old
    lives = lines_of((0, 100, 0, 100), (0, 200, 200, 400), (50, 200, 450, 600), (0, 90, 0, 90))
    told = month_shares(lives, [0], [0.0, 250.0, 450.0, 600.0])
    assert told.share.tolist() == [pytest.approx([1 / 3, 1 / 3, 1 / 3])]
    assert told.month.tolist() == [0]
    assert told.share_after().tolist() == [pytest.approx([2 / 3, 1 / 3])]


def test_months_end_on_their_last_day_and_short_ends_join_their_neighbour():
    first, last = dt.date(2024, 1, 20).toordinal(), dt.date(2024, 4, 10).toordinal()
    inner = month_edges(first, last)[1:-1]
    assert [dt.date.fromordinal(int(d) + 1) for d in inner] == [dt.date(2024, 3, 1)]


def test_one_share_for_all_gives_the_ratio_of_the_binomial():
    share = np.full((10, 1), 0.2)
    table = ratio_by_count(share)[0]
    exact = likelihood_ratio(np.arange(11.0), 10.0, 0.2)
    assert table[:10] == pytest.approx(exact[:10], abs=0.01)  # the grid of factors is that fine
    assert exact[2] == pytest.approx(0.0, abs=1e-12)
    assert exact[10] == pytest.approx(10 * np.log(5.0))
    assert table[10] == pytest.approx(exact[10], rel=1e-3)  # the best factor has no end


def test_an_age_reached_on_one_side_only_tells_nothing():
    some = np.array([[0.1], [0.2], [0.3]])
    more = np.array([[0.1], [0.2], [0.3], [1.0]])
    assert ratio_by_count(more)[0][1:] == pytest.approx(ratio_by_count(some)[0])


def even_fleet(rng, n=80, years=10, factor=1.0, after=0.8, rate=1.0):
    """Return lives all born on one age pattern, failures of a rate that changes at a share."""
    day0, span = 730_000.0, years * 365.0
    born = day0 + rng.uniform(-1000, span * 0.9, n)
    start = np.maximum(born, day0)
    step = rng.exponential(size=n) * 4000.0 / rate
    change = day0 + after * span
    before = np.maximum(change - start, 0.0)
    fails = np.where(step <= before, start + step, start + before + (step - before) / factor)
    end = np.minimum(fails, day0 + span)
    lives = Lines(entry_h=(start - born) + 1, end_h=(end - born) + 1.5, entry_day=start,
                  end_day=end + 0.5, weight=np.ones(n))  # fmt: skip
    failed = np.flatnonzero(fails < day0 + span)
    return month_shares(lives, failed, month_edges(day0, day0 + span)), change


def test_a_strong_change_is_found_at_its_date_and_its_factor_held():
    shares, change = even_fleet(np.random.default_rng(3), n=200, factor=8.0)
    told = scan_change(shares, seed=1, n=399)
    assert told is not None
    assert told.p_value == pytest.approx(1 / 400)
    assert told.day_low <= change <= told.day_high
    assert told.low < 8.0 < told.high
    assert told.rose


def test_chances_of_a_fleet_that_did_not_change_are_even():
    rng = np.random.default_rng(8)
    p = [scan_change(even_fleet(rng)[0], seed=i, n=99).p_value for i in range(150)]
    # 5 % of 150 with three standard errors; and the middle is where it belongs
    assert np.mean(np.array(p) <= 0.05) <= 0.105
    assert 0.38 <= np.mean(np.array(p) <= 0.5) <= 0.62


def test_draws_do_not_depend_on_other_subjects_and_come_from_the_seed():
    shares, _ = even_fleet(np.random.default_rng(3))
    a, b = (scan_change(shares, seed=4, name="x", n=199) for _ in range(2))
    assert a == b


def test_the_mixture_takes_the_side_of_the_evidence():
    rng = np.random.default_rng(5)
    still, moved = even_fleet(rng)[0], even_fleet(rng, n=200, factor=8.0)[0]
    calm = mix_changes([weigh_change(still, len(still))], 2000, np.random.default_rng(0))
    loud = mix_changes([weigh_change(moved, len(moved))], 2000, np.random.default_rng(0))
    assert calm.none > 0.5
    assert abs(calm.mean - 1.0) < 0.25
    assert loud.none < 0.01
    assert loud.mean > 1.5


def test_power_rises_with_the_factor_and_says_where_no_number_would_do():
    two, five = (change_power(30.0, 6.0, f, 5.0) for f in (2.0, 5.0))
    assert two.chance < five.chance
    assert two.needed > 6
    assert change_power(0.3, 0.1, 2.0, 6.0).needed is None
    # the number it names is the least with which the chance is reached
    n = two.needed
    assert change_power(30.0, n / 2.0, 2.0, 5.0).chance >= 0.8
    assert change_power(30.0, (n - 2) / 2.0, 2.0, 5.0).chance < 0.8


def test_a_line_that_does_not_rise_is_refused():
    with pytest.raises(FitError, match="rise"):
        lines_of((0, 100, 50, 50))


def rough_shares(rng, k, m):
    """Return shares with months that no failure can fall on, tiny ones and heavy ones."""
    share = rng.gamma(0.2, size=(k, m)) * (rng.random((k, m)) < 0.7) + 1e-300
    share[0] = 0.0
    share[0, m // 2] = 1.0
    return share / share.sum(axis=1, keepdims=True)


@pytest.mark.parametrize("m", [2, 7, 300])
def test_a_month_found_by_buckets_is_the_month_found_by_search(m):
    rng = np.random.default_rng(m)
    chance = np.cumsum(rough_shares(rng, 40, m), axis=1)
    chance[1] = np.round(chance[1] * BUCKETS) / BUCKETS  # edges on the ends of buckets
    # on and beside every edge, on the ends of buckets, at both ends, and anywhere
    edges = np.concatenate([chance, np.nextafter(chance, 0.0), np.nextafter(chance, 1.0)], axis=1)
    ends = np.broadcast_to(np.arange(BUCKETS) / BUCKETS, (40, BUCKETS))
    drawn = np.concatenate([edges, ends, rng.random((40, 500))], axis=1)
    drawn = np.clip(drawn, 0.0, np.nextafter(1.0, 0.0))
    for row, x, month in zip(chance, drawn, months_of(chance, drawn), strict=True):
        searched = np.searchsorted(row, x * row[-1], side="right")
        assert np.array_equal(month, np.minimum(searched, m - 1))


@pytest.mark.parametrize(("k", "n"), [(1, 1), (700, 1999), (20, 30_000), (300, 3)])
def test_fleets_are_those_of_one_draw_after_another(k, n):
    share = rough_shares(np.random.default_rng(k), k, 31)
    told = np.zeros((n, 31), dtype=int)
    one_by_one = np.random.default_rng(5)
    for chance in np.cumsum(share, axis=1):
        month = np.searchsorted(chance, one_by_one.random(n) * chance[-1], side="right")
        told[np.arange(n), np.minimum(month, 30)] += 1
    assert np.array_equal(count_fleets(share, n, np.random.default_rng(5)), told)


def many_shares(k: int) -> np.ndarray:
    """Return shares that glide from early months to late ones, as those of rising ages do."""
    at = np.linspace(2.0, 9.0, k)[:, None]
    share = np.exp(-0.5 * ((np.arange(12.0) - at) / 1.5) ** 2)
    share[:, 0] *= 1e-4  # a month in which hardly a failure was due
    return share / share.sum(axis=1, keepdims=True)


def test_fleets_drawn_together_have_the_law_of_fleets_drawn_one_by_one():
    # mean and variance of sums of independent draws: common knowledge, no source
    n, share = 6000, many_shares(MANY)
    told = count_fleets(share, n, np.random.default_rng(3))
    assert np.all(told.sum(axis=1) == MANY)
    after = np.cumsum(told, axis=1)[:, :-1]
    late = np.cumsum(share, axis=1)[:, :-1]
    mean, spread = late.sum(axis=0), np.sqrt((late * (1.0 - late)).sum(axis=0))
    assert np.all(np.abs(after.mean(axis=0) - mean) < 4.5 * spread / np.sqrt(n))
    assert after.std(axis=0)[1:] == pytest.approx(spread[1:], rel=0.05)
    # what is less than a slot of the tables is drawn as often as it is due
    assert 0 < mean[0] < MANY / 65_536 < 0.1
    assert after[:, 0].sum() == pytest.approx(mean[0] * n, abs=4.5 * np.sqrt(mean[0] * n))


@pytest.mark.parametrize(("n", "k"), [(1999, TOGETHER), (3, 5), (6, 1), (1, 8)])
def test_slots_drawn_by_the_word_are_those_drawn_one_by_one(n, k):
    words, single = np.random.default_rng(7), np.random.default_rng(7)
    for _ in range(2 if n * k % 4 == 0 else 1):
        told = single.integers(0, SLOTS, (n, k), dtype=np.uint16)
        assert np.array_equal(draw_slots(words, n, k), told)
    assert words.random() == single.random()


def test_failures_of_unlike_shares_are_not_drawn_together():
    share = many_shares(MANY)
    means, of = mean_shares(share)
    assert of.sum() == MANY
    assert of @ means == pytest.approx(share.sum(axis=0))
    # both kinds fall on the same month in the middle, and nothing else tells them apart
    unlike = np.zeros((MANY, 12))
    unlike[::2, [4, 6]] = 0.5
    unlike[1::2, [2, 8]] = 0.5
    assert mean_shares(unlike) is None
    told = count_fleets(unlike, 200, np.random.default_rng(1))
    assert np.all(told[:, [4, 6]].sum(axis=1) == MANY // 2)  # by their mean it would vary


@pytest.mark.parametrize("k", [0, 1, 15, 16, 1000])
def test_logs_of_products_sum_to_the_sums_of_logs(k):
    share = np.random.default_rng(k).random((k, 300))
    share[: k // 3] = 1.0
    share[k // 3 : k // 2] = 0.0
    factors = np.exp(np.linspace(-6.0, 10.0, 9))
    for f in (factors, np.append(factors, 1e300)):  # so great a factor is never multiplied
        told = [np.log1p(share * (g - 1.0)).sum(axis=0) for g in f.tolist()]
        assert log_sums(share, f) == pytest.approx(np.array(told), rel=1e-11, abs=1e-11)


@pytest.mark.parametrize(("before", "after", "factor"), [(3.0, 0.4, 5.0), (40.0, 6.0, 2.0)])
def test_the_chance_of_a_flag_is_summed_over_all_pairs_of_counts(before, after, factor) -> None:
    """Against every pair of Poisson counts, one by one (scipy)."""
    from scipy.stats import poisson

    critical, share = 2.5, after / (before + after)
    want = 0.0
    for rest in range(120):
        for k in range(120):
            told = float(likelihood_ratio(k, k + rest, share))
            if told >= critical and k > (k + rest) * share:
                want += poisson.pmf(rest, before) * poisson.pmf(k, factor * after)
    assert change_power(before, after, factor, critical).chance == pytest.approx(want, rel=1e-9)
