"""Entry check and growth on a handful of lives, every step worked out."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fleetstats.chapters.growth.compute import advise_growth, calendar_order
from fleetstats.core.errors import FitError
from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.survival.counting.entry_check import drop_settling, estimate_entry_check
from fleetstats.survival.groups.growth import (
    estimate_growth,
    grouped_power_shape,
    poisson_limits,
    rate_factor,
)
from fleetstats.vocabulary.finding import Origin


def test_conditional_tau() -> None:
    """Six lives; at each failure the entry of the one that failed among those at risk.

    (0, 5] failed   at risk at 5: entries 0, 0, 2, 4          later 2, equal 1, earlier 0: +2
    (2, 7] failed   at risk at 7: entries 0, 2, 4, 6          later 2, earlier 1: +1
    (4, 9] failed   at risk at 9: entries 0, 4, 6, 8          later 2, earlier 1: +1
    (0, 10] failed  at risk at 10: entries 0, 6, 8            later 2: +2
    (6, 12] failed  at risk at 12: entries 6, 8               later 1: +1
    (8, 13] running
    Score 7 over 2 + 3 + 3 + 2 + 1 = 11 ordered pairs.
    """
    spells = Spells.of([0, 2, 4, 0, 6, 8], [5, 7, 9, 10, 12, 13], [1, 1, 1, 1, 1, 0])
    check = estimate_entry_check(spells, seed=1)
    assert check.n_pairs == 11
    assert check.tau == pytest.approx(7 / 11)
    assert check.n_compared == 5
    assert check.share_late == pytest.approx(4 / 6)
    # All 4 * 4 * 4 * 3 * 2 = 384 equally likely scores, counted one by one: the signs are
    # (2, 2, -1, -3), (3, 1, -1, -3) twice, (2, 0, -2) and (1, -1).
    sets = [(2, 2, -1, -3), (3, 1, -1, -3), (3, 1, -1, -3), (2, 0, -2), (1, -1)]
    sums = np.zeros(1)
    for s in sets:
        sums = (sums[:, None] + np.array(s)).ravel()
    assert len(sums) == 384
    exact = np.mean(np.abs(sums) >= 7)
    # 4,000 draws: three standard errors.
    assert check.p_value == pytest.approx(exact, abs=3 * math.sqrt(exact * (1 - exact) / 4000))


def test_entry_check_says_when_it_cannot() -> None:
    new = Spells.of([0, 0], [5, 6], [1, 0])
    assert estimate_entry_check(new).reading == "no-late-entry"
    few = Spells.of([0, 2], [5, 6], [1, 0])
    assert estimate_entry_check(few).reading == "too-few"
    assert "5 are needed" in estimate_entry_check(few).sentence


def test_settling_hours_are_left_out() -> None:
    """Joined at 300, failed at 350: gone. Joined at 300, seen to 500: from 400. New: as it is."""
    spells = Spells.of([0, 300, 300], [80, 350, 500], [1, 1, 0])
    kept = drop_settling(spells, 100.0)
    assert kept.entry.tolist() == [0, 400]
    assert kept.exit_upper.tolist() == [80, 500]


@pytest.mark.parametrize(
    ("count", "low", "high"), [(0, 0.0, 2.996), (1, 0.0513, 4.744), (5, 1.970, 10.513)]
)
def test_poisson_limits(count: int, low: float, high: float) -> None:
    """Garwood's table at 90 % two-sided: 0, 1 and 5 events; upper values as in the usual tables."""
    got = poisson_limits(count, 0.90)
    assert got == pytest.approx((low, high), abs=6e-4)


def test_two_builds_have_a_closed_form() -> None:
    """8 seen of 4 expected, then 6 of 12: the factor is (6/12)/(8/4) = 1/4.

    Twice the log-likelihood gain over factor 1: 2 (8 ln(8/14 * 16/4) + 6 ln(6/14 * 16/12)).
    """
    factor, low, high, p = rate_factor([8, 6], [4, 12], level=0.90)
    assert factor == pytest.approx(1 / 4, rel=1e-6)
    gain = 2 * (8 * math.log(8 / 14 * 16 / 4) + 6 * math.log(6 / 14 * 16 / 12))
    assert p == pytest.approx(math.erfc(math.sqrt(gain / 2)), rel=1e-6)
    for edge in (low, high):
        share = edge * 12 / (4 + edge * 12)
        value = 8 * math.log(1 - share) + 6 * math.log(share)
        best = 8 * math.log(8 / 14) + 6 * math.log(6 / 14)
        assert 2 * (best - value) == pytest.approx(1.6448536**2, rel=1e-5)


def test_failures_at_one_end_leave_one_limit() -> None:
    factor, low, high, _ = rate_factor([4, 0, 0], [2, 2, 2], level=0.90)
    assert (factor, low) == (None, None)
    assert high < 1
    factor, low, high, _ = rate_factor([0, 0, 4], [2, 2, 2], level=0.90)
    assert (factor, high) == (None, None)
    assert low > 1


def test_young_build_is_not_praised_for_being_young() -> None:
    """One truth with wear-out; the later build is younger. Per hour it looks twice as good."""
    rng = np.random.default_rng(4)
    parts = []
    for build, most in (("A", 1800.0), ("B", 900.0)):
        life, stop = 1500 * rng.weibull(3, 200), rng.uniform(0.3 * most, most, 200)
        parts.append(
            Spells.of(np.zeros(200), np.minimum(life, stop), life <= stop, build=[build] * 200)
        )
    growth = estimate_growth(parts[0].join(parts[1]), ("A", "B"))
    a, b = growth.lines
    assert b.rate_per_1000_h < 0.5 * a.rate_per_1000_h
    assert growth.direction == "not-shown"
    assert b.low < 1 < b.high
    assert a.expected + b.expected == pytest.approx(a.n_failed + b.n_failed, rel=1e-6)


def test_true_growth_is_seen_and_few_failures_say_nothing() -> None:
    rng = np.random.default_rng(4)
    life = np.concatenate([s * rng.weibull(2, 100) for s in (800, 1300, 2000)])
    build = np.repeat(["A", "B", "C"], 100)
    spells = Spells.of(np.zeros(300), np.minimum(life, 900), life <= 900, build=build)
    growth = estimate_growth(spells, ("A", "B", "C"))
    assert growth.direction == "growth"
    assert growth.high < 1
    assert growth.power_shape < 1
    assert "fail less often" in growth.sentence
    back = estimate_growth(spells, ("C", "B", "A"))
    assert back.direction == "decline"
    assert back.factor == pytest.approx(1 / growth.factor, rel=1e-6)
    few = estimate_growth(spells.replace(event=np.arange(300) % 150 == 0), ("A", "B", "C"))
    assert few.direction == "too-few"
    assert few.sentence.startswith("Only 2 failures over 3 build standards;")
    none = estimate_growth(spells.replace(event=np.zeros(300, int)), ("A", "B", "C"))
    assert none.sentence.startswith("No failures over 3 build standards;")
    assert few.factor is None
    with pytest.raises(FitError, match="two build standards"):
        estimate_growth(spells, ("A", "Z"))


def test_grouped_power_law_tends_to_the_exact_one() -> None:
    """Counts in thin slices carry what the hours themselves do: shape n / sum ln(T / t)."""
    t = np.array([3.0, 10.0, 33.0, 60.0, 90.0])
    exact = 5 / np.log(100 / t).sum()
    ends = np.linspace(0, 100, 20001)[1:]
    counts = np.histogram(t, np.concatenate([[0], ends]))[0]
    assert grouped_power_shape(ends, counts) == pytest.approx(exact, rel=2e-4)
    with pytest.raises(FitError, match="last group"):
        grouped_power_shape([1, 2], [0, 3])


def test_builds_are_ordered_by_their_dates() -> None:
    import datetime as dt

    from advice_fleets import made_settings

    def row(build: str, year: int | None) -> LifeRow:
        return LifeRow(
            origin=Origin(file="a.csv"), engine="e", exit_h=1.0, ending="running", build=build,
            in_service=None if year is None else dt.date(year, 1, 1),
        )  # fmt: skip

    rows = (row("new", 2020), row("old", 2001), row("old", 2003), row("old", 2022), row("", 1990),
            row("undated", None))  # fmt: skip
    assert calendar_order(rows) == ("old", "new")
    spells = Spells.of(
        np.zeros(6), [1, 2, 3, 4, 5, 6], [1, 0, 0, 0, 0, 0],
        build=["new", "old", "old", "old", "", "undated"],
    )  # fmt: skip
    growth = advise_growth(spells, rows, made_settings())
    assert [x.build for x in growth.lines] == ["old", "new"]
    chosen = made_settings(groups={"build_order": ("undated", "old")})
    assert [x.build for x in advise_growth(spells, rows, chosen).lines] == ["undated", "old"]
    assert advise_growth(spells.select([0]), rows, made_settings()) is None
