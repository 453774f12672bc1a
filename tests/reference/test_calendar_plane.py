"""The plane of age and calendar against libraries, in the same run.

Sources: lifelines' piecewise exponential fitter (its hazard in a piece is failures over exposure of
that piece, with late entry); statsmodels' Poisson regression with log exposure as offset; exact
limits of a Poisson count by chi-square quantiles (Garwood 1936) from scipy.
"""

import datetime as dt

import numpy as np
import pytest
from scipy.stats import chi2

from fleetstats.chapters.calendar_plane.compute import decimal_years, make_plane
from fleetstats.core.seeds import stream
from fleetstats.spells.days.dated import Dated
from fleetstats.spells.days.lexis import split_exposure
from fleetstats.spells.spells import Spells

START = dt.date(2018, 1, 1).toordinal()


def fleet(n: int = 400) -> Dated:
    """Return a made-up fleet: late entries, three years, a cause that strikes more often later."""
    rng = stream(3, "plane against libraries")
    entry = np.where(rng.random(n) < 0.3, rng.uniform(0, 300, n), 0.0)
    exit_ = entry + rng.uniform(20, 600, n)
    begin = START + np.floor(rng.uniform(1, 700, n))
    end = begin + np.ceil((exit_ - entry) / rng.uniform(0.4, 0.9, n)) + 1
    failed = rng.random(n) < 0.35
    return Dated.of(
        Spells.of(entry, exit_, failed, cause=np.where(failed, "valve", "")), begin, end
    )


def test_age_bands_are_the_pieces_of_a_piecewise_exponential():
    """Pieces by age: all calendar time together."""
    import lifelines

    d, cuts = fleet(), [150.0, 300.0, 450.0]
    _, exposure, failures = split_exposure(d, [0, *cuts, 1e5], [START - 1e5, START + 1e5])
    fitter = lifelines.PiecewiseExponentialFitter(breakpoints=cuts)
    fitter.fit(d.spells.exit_upper, d.spells.failed, entry=d.spells.entry)
    theirs = 1.0 / fitter.params_.to_numpy()
    assert (failures / exposure)[0, :, 0] == pytest.approx(theirs, rel=2e-3)


def test_calendar_periods_are_the_pieces_of_one_over_days():
    """Pieces by day: exposure in days, which an engine that flies a steady hour a day shows."""
    import lifelines

    d = fleet()
    days = d.exit_day - d.entry_day
    one_a_day = Dated.of(Spells.of(0, days, d.spells.failed), d.entry_day, d.exit_day)
    cuts = [START + 400.0, START + 800.0, START + 1100.0]
    _, exposure, failures = split_exposure(one_a_day, [0, 1e5], [START, *cuts, START + 1e5])
    # in units of 500 days, near 1: their search stops on steps of fixed size
    fitter = lifelines.PiecewiseExponentialFitter(breakpoints=[(c - START) / 500 for c in cuts])
    fitter.fit((d.exit_day - START) / 500, d.spells.failed, entry=(d.entry_day - START) / 500)
    theirs = 1.0 / (500 * fitter.params_.to_numpy())
    assert (failures / exposure)[0, 0] == pytest.approx(theirs, rel=1e-3)


def test_expected_at_equal_age_is_that_of_a_poisson_regression_on_age():
    """With age bands alone its fitted counts by year are what the table expects."""
    import statsmodels.api as sm

    plane = make_plane(fleet(), level=0.90)
    whole = plane.cells[0]
    p, q = whole.exposure_h.shape
    band = np.repeat(np.arange(p), q)
    hours, failed = whole.exposure_h.ravel(), whole.failures.ravel()
    seen = hours > 0
    age = (band[seen, None] == np.unique(band[seen])).astype(float)
    fit = sm.GLM(failed[seen], age, family=sm.families.Poisson(), offset=np.log(hours[seen])).fit()
    theirs = np.bincount(np.tile(np.arange(q), p)[seen], weights=fit.fittedvalues, minlength=q)
    assert [x.expected for x in plane.lines] == pytest.approx(theirs, rel=1e-6, abs=1e-6)


def test_limits_of_each_cell_are_exact():
    whole = make_plane(fleet(), level=0.90).cells[0]
    low, high = whole.rate_limits_per_h
    x, h = whole.failures, whole.exposure_h
    with np.errstate(divide="ignore", invalid="ignore"):
        theirs = chi2.ppf(0.95, 2 * x + 2) / 2 / h
        lows = np.where(x > 0, chi2.ppf(0.05, 2 * x) / 2, 0.0) / h
    seen = h > 0
    assert high[seen] == pytest.approx(theirs[seen])
    assert low[seen] == pytest.approx(lows[seen])
    assert np.isnan(whole.rate_per_h[~seen]).all()


def test_the_plane_by_hand():
    """An hour a day: 366 h in 2020 and 50 h in the first 50 days of 2021, then failed."""
    begin, end = (dt.date(y, m, d).toordinal() for y, m, d in ((2019, 12, 31), (2021, 2, 19)))
    steady = Dated.of(Spells.of(0, [416.0], [True], cause=["valve"]), begin, [end])
    plane = make_plane(steady, level=0.90)
    assert plane.years.tolist() == [2019, 2020, 2021]
    assert [x.exposure_h for x in plane.lines] == pytest.approx([0.0, 366.0, 50.0])
    assert [x.n_failed for x in plane.lines] == [0.0, 0.0, 1.0]
    assert decimal_years(np.array([float(begin + 1)]))[0] == 2020.0
    assert decimal_years(np.array([begin + 184.5, begin + 0.5])).tolist() == pytest.approx(
        [2020.0 + 183.5 / 366, 2019.0 + 364.5 / 365], rel=1e-14
    )
    assert sum(c.exposure_h.sum() for c in plane.cells) == pytest.approx(416.0)
    assert "1 life ran 416 h from 2019 to 2021, with 1 failure in question" in plane.sentence
