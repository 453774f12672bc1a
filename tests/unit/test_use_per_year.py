"""Engines flown little against much, and which clock a cause follows."""

import os
from collections import Counter

import numpy as np
import pytest

from fleetstats.chapters.use_per_year.compute import known_use, weigh_use
from fleetstats.chapters.use_per_year.words import say_clocks, say_ratio, say_times
from fleetstats.core.seeds import stream
from fleetstats.spells.calendar import CalendarAges
from fleetstats.spells.spells import Spells
from fleetstats.survival.clocks.which_clock import tell_clock
from fleetstats.survival.groups.equal_ages import compare_equal_ages
from fleetstats.survival.weibull.fit_weibull import fit_weibull, weibull_log_likelihood

FLEETS = 1000 if os.environ.get("FLEETSTATS_FULL") else 120
"""Made-up fleets a cell; set FLEETSTATS_FULL for the rates that the report of this work quotes."""


def made(truth: str, spread: float, n: int, seed: int, number: int) -> CalendarAges:
    """Return a fleet with use spread log-normally about 150 h a year, cut off after 15 years.

    By years: Weibull, shape 3, scale 12 years. By hours: shape 2.5, scale 1,500 h. A third is
    heard of only after up to 3 years. Invented figures.
    """
    rng = stream(seed, f"clocks {truth} {spread} {n}", number)
    use = 150.0 * np.exp(spread * rng.standard_normal(n))
    born = rng.uniform(0, 14, n)
    years = {
        "years": lambda: 12.0 * rng.weibull(3.0, n),
        "hours": lambda: 1500.0 * rng.weibull(2.5, n) / use,
        "random": lambda: 4000.0 * rng.weibull(1.0, n) / use,
    }[truth]()
    entry = np.where(rng.random(n) < 0.3, rng.uniform(0, 3, n), 0.0)
    end = 15.0 - born
    seen = (years > entry) & (end > entry)
    use, entry, stop, failed = use[seen], entry[seen], np.minimum(years, end)[seen], years <= end
    cause = np.where(failed[seen], "seals", "")
    return CalendarAges(
        spells=Spells.of(entry * use, stop * use, failed[seen], cause=cause),
        entry_years=entry,
        exit_years=stop,
        row=np.arange(int(seen.sum())),
        n_undated=0,
    )


def clock_of(cal: CalendarAges):
    s = cal.spells
    return tell_clock((s.entry, s.exit_upper), (cal.entry_years, cal.exit_years), s.failed)


@pytest.mark.parametrize(("truth", "right"), [("hours", 0.8), ("years", 0.8)])
@pytest.mark.parametrize("n", [60, 150])
def test_a_cause_is_told_by_its_own_clock_and_rarely_by_another(truth, right, n):
    """Use spread by half: told rightly in most fleets, wrongly in at most 5 % (within chance)."""
    told = Counter(clock_of(made(truth, 0.5, n, 1, i)).word for i in range(FLEETS))
    wrong = FLEETS - told[truth] - told["not-told"]
    assert told[truth] >= right * FLEETS
    assert wrong <= 0.05 * FLEETS + 2.0 * np.sqrt(0.05 * 0.95 * FLEETS)


@pytest.mark.parametrize("truth", ["hours", "years"])
def test_where_all_are_flown_alike_little_is_said(truth):
    told = Counter(clock_of(made(truth, 0.1, 60, 2, i)).word for i in range(FLEETS))
    assert told["not-told"] >= 0.7 * FLEETS
    assert FLEETS - told[truth] - told["not-told"] <= 0.05 * FLEETS + 5


def test_a_steady_risk_by_the_hour_is_never_said_to_go_by_years():
    told = Counter(clock_of(made("random", 0.5, 150, 3, i)).word for i in range(FLEETS))
    assert told["years"] + told["both"] <= 0.05 * FLEETS + 5
    assert told["hours"] > 0.4 * FLEETS


def test_likelihoods_compare_as_densities_of_one_thing():
    """If all fly alike the clocks are one clock in other units, and no likelihood differs."""
    rng = stream(4, "one clock")
    years = 10.0 * rng.weibull(2.0, 50)
    told = tell_clock((np.zeros(50), 137.0 * years), (np.zeros(50), years), rng.random(50) < 0.5)
    assert np.ptp(told.log_likelihood) < 1e-6
    assert (told.word, told.low, told.high) == ("not-told", 0.0, 1.0)


def test_the_likelihood_by_hours_is_that_of_the_fit_by_years_of_flying():
    """On w = 0: Weibull density of hours (the fitter's own) times each engine's use a year."""
    cal = made("hours", 0.5, 60, 5, 0)
    told, s = clock_of(cal), cal.spells
    fit = fit_weibull(s)
    own = weibull_log_likelihood(
        fit.shape, fit.scale_h, s.entry, s.exit_lower, s.exit_upper, s.failed
    )
    own += float(np.log(cal.hours_per_year[s.failed]).sum())
    assert told.log_likelihood[0] == pytest.approx(own, abs=1e-6)


def test_little_use_beside_much():
    """A cause by years strikes the little flown earlier in hours, and alike in years."""
    cal = made("years", 0.5, 400, 6, 0)
    use = weigh_use(known_use(cal), level=0.90)
    assert use.at_hours.low > 1.0
    assert use.at_years.low < 1.0 < use.at_years.high
    little = cal.hours_per_year < use.median_h
    assert use.at_hours.n == compare_equal_ages(cal.spells, little).n
    assert "At equal hours the half flown less failed" in use.sentence
    assert use.sentence.count("no difference is shown") == 1
    assert [c.code for c in use.cautions] == ["goes-by-years"]
    assert "go by years, not hours" in use.cautions[0].proviso
    assert say_clocks(use.clocks) == "Seals is described better by years than by hours."
    assert "likelier on years" in say_times(use.clocks[0].clock)


def test_nothing_is_said_of_few_failures_or_one_side():
    s = Spells.of(0, [100.0] * 10 + [200.0] * 10, [1] * 2 + [0] * 18, cause=["seals"] * 20)
    cal = CalendarAges(spells=s, entry_years=np.zeros(20), exit_years=np.ones(20),
                       row=np.arange(20), n_undated=0)  # fmt: skip
    use = weigh_use(cal, level=0.90)
    assert use.clocks[0].clock is None
    assert "1 cause had fewer than 5 failures" in say_clocks(use.clocks)
    only = say_ratio(compare_equal_ages(s, np.arange(20) < 10), "hours")
    assert only.startswith("At equal hours only the half flown less failed (90 % limits")
    none = say_ratio(compare_equal_ages(s, np.arange(20) >= 10), "years")
    assert none.startswith("At equal years only the half flown more failed")
    assert none.endswith("no difference is shown.")
