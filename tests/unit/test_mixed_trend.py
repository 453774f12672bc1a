"""Mixed trends: against statsmodels, against simulated truth, and against odd readings."""

import warnings

import numpy as np
import pytest
from condition_sims import cylinders

from fleetstats.core.errors import FitError
from fleetstats.survival.regression.grades import fit_grades
from fleetstats.survival.regression.mixed_trend import Readings, fit_mixed_trend


def replaced(r, value):
    return Readings(
        value=value, hours=r.hours, engine=r.engine, segment=r.segment, check=r.check, cold=r.cold
    )


def test_plain_fit_agrees_with_statsmodels():
    """The same model as variance components in statsmodels' mixed linear model (REML)."""
    pytest.importorskip("statsmodels", reason="a second opinion for the tests only")
    r = cylinders(np.random.default_rng(4), engines=18, checks=5)
    ours = fit_mixed_trend(r, robust=False)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pandas as pd
        import statsmodels.formula.api as smf

        frame = pd.DataFrame(
            {"y": r.value, "h": r.hours, "e": r.engine, "s": r.segment, "c": r.check}
        )
        frame["h"] /= 100.0
        theirs = smf.mixedlm(
            "y ~ h",
            frame,
            groups="e",
            re_formula="1",
            vc_formula={"a": "0 + C(s)", "b": "0 + C(s):h", "c": "0 + C(c)"},
        ).fit(reml=True)
    assert ours.log_likelihood == pytest.approx(theirs.llf, abs=1e-4)
    assert ours.fixed[0] == pytest.approx(theirs.fe_params["Intercept"], rel=1e-5)
    assert 100 * ours.fixed[1] == pytest.approx(theirs.fe_params["h"], rel=1e-3)
    assert ours.sd["noise"] ** 2 == pytest.approx(theirs.scale, rel=1e-3)


def test_simulated_truth_is_recovered():
    fit = fit_mixed_trend(cylinders(np.random.default_rng(1), engines=40, checks=8))
    assert fit.fixed[1] == pytest.approx(-0.006, abs=3 * fit.fixed_se[1])
    assert fit.sd["check"] == pytest.approx(1.5, rel=0.15)
    assert fit.sd["cylinder"] == pytest.approx(1.5, rel=0.25)
    assert fit.sd["engine"] == pytest.approx(2.0, rel=0.35)
    assert fit.sd["slope"] == pytest.approx(0.004, rel=0.4)


def test_prediction_bands_hold_new_readings():
    """The chance of reading below a limit, asked at the truth's own next readings, is uniform."""
    places = []
    for seed in range(4):
        r = cylinders(np.random.default_rng(seed), engines=20, checks=7, df=4, check_sd=4.0)
        last = np.array([r.hours[r.engine == e].max() for e in range(20)])
        keep = r.hours < last[r.engine]
        fit = fit_mixed_trend(
            Readings(**{f: getattr(r, f)[keep] for f in
                        ("value", "hours", "engine", "segment", "check", "cold")})
        )  # fmt: skip
        for i in np.flatnonzero(~keep)[::4]:  # one cylinder of each held-out check
            p = fit.predict(int(r.segment[i]), r.hours[i])
            places.append(float(p.chance_below(float(r.value[i]))[0]))
    u = np.array(places)
    assert np.mean((u > 0.05) & (u < 0.95)) == pytest.approx(0.90, abs=3 * np.sqrt(0.09 / len(u)))
    assert np.median(u) == pytest.approx(0.5, abs=3 * 0.5 / np.sqrt(len(u)))


def test_one_odd_reading_does_not_bend_a_trend():
    r = cylinders(np.random.default_rng(2), engines=15, checks=7)
    at = int(np.flatnonzero(r.segment == 5)[-1])
    value = r.value.copy()
    value[at] -= 25.0
    keep = np.arange(len(r)) != at
    without = fit_mixed_trend(
        Readings(**{f: getattr(r, f)[keep] for f in
                    ("value", "hours", "engine", "segment", "check", "cold")})
    )  # fmt: skip
    robust = fit_mixed_trend(replaced(r, value))
    plain = fit_mixed_trend(replaced(r, value), robust=False)
    h = 1300.0
    want = without.predict(5, h).level[0]
    bent = abs(plain.predict(5, h).level[0] - want)
    assert bent > 2.0
    # t tails bound a reading's pull, they do not end it: a tenth of the plain pull at most.
    assert abs(robust.predict(5, h).level[0] - want) < 0.1 * bent
    assert robust.weight[at] < 0.05
    assert abs(robust.residual[at]) > 15.0


def test_a_bad_day_is_the_checks_and_not_the_cylinders():
    r = cylinders(np.random.default_rng(3), engines=15, checks=7)
    bad = r.check == r.check[r.segment == 8].max()
    value = np.where(bad, r.value - 6.0, r.value)
    a, b = fit_mixed_trend(r), fit_mixed_trend(replaced(r, value))
    assert b.check_share[bad].mean() < a.check_share[bad].mean() - 3.0
    moved = b.predict(8, 1300.0).level[0] - a.predict(8, 1300.0).level[0]
    assert abs(moved) < 2.5  # a single trend through those points would fall by the whole 6


def test_hours_times_k_give_slopes_over_k():
    r = cylinders(np.random.default_rng(5), engines=10, checks=5)
    k = 60.0
    scaled = Readings(
        value=r.value,
        hours=k * r.hours,
        engine=r.engine,
        segment=r.segment,
        check=r.check,
        cold=r.cold,
    )
    a, b = fit_mixed_trend(r, robust=False), fit_mixed_trend(scaled, robust=False)
    assert b.log_likelihood == pytest.approx(a.log_likelihood - np.log(k), abs=2e-3)
    assert k * b.fixed[1] == pytest.approx(a.fixed[1], rel=1e-3)
    assert b.predict(3, 900.0 * k).level[0] == pytest.approx(a.predict(3, 900.0).level[0], rel=1e-4)


def test_cold_readings_have_a_level_of_their_own():
    r = cylinders(np.random.default_rng(6), engines=20, checks=6)
    cold = r.check % 3 == 0
    fit = fit_mixed_trend(
        Readings(
            value=r.value - 4.0 * cold,
            hours=r.hours,
            engine=r.engine,
            segment=r.segment,
            check=r.check,
            cold=cold,
        )
    )
    assert fit.names == ("level", "slope", "cold")
    assert fit.fixed[2] == pytest.approx(-4.0, abs=3 * fit.fixed_se[2])


def test_too_little_is_refused():
    r = cylinders(np.random.default_rng(7), engines=1, checks=1)
    with pytest.raises(FitError, match="do not make a trend"):
        fit_mixed_trend(r)


def test_grades_recover_their_odds():
    """Cumulative logit with cuts 0.2, 3, 6 and slope 0.03 per h (simulated)."""
    rng = np.random.default_rng(8)
    h = rng.uniform(5.0, 80.0, 4000)
    u = rng.logistic(size=4000)
    g = sum((u > c - 0.03 * h).astype(int) for c in (0.2, 3.0, 6.0))
    fit = fit_grades(g, h)
    assert fit.slope_per_h == pytest.approx(0.03, rel=0.1)
    assert fit.cut == pytest.approx([0.2, 3.0, 6.0], abs=0.35)
    assert fit.at_least(0, 50.0)[0] == 1.0
    assert fit.at_least(4, 50.0)[0] == 0.0
    want = 1 / (1 + np.exp(3.0 - 0.03 * 50.0))
    assert fit.at_least(2, 50.0)[0] == pytest.approx(want, rel=0.1)


def test_grades_parted_completely_stay_finite():
    fit = fit_grades([0] * 20 + [1] * 20, [10.0] * 20 + [60.0] * 20)
    assert np.isfinite(fit.slope_per_h)
    assert fit.at_least(1, 60.0)[0] > 0.9
    with pytest.raises(FitError, match="same grade"):
        fit_grades([1, 1], [5.0, 6.0])
