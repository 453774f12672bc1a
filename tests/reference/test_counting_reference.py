"""Curves that assume no family, against R's survfit and direct counts (sources in ``data/``)."""

from __future__ import annotations

import math

import numpy as np
import pytest
from cases_support import expected, one_cause, spells, tolerance

from fleetstats.spells import Event
from fleetstats.survival import (
    estimate_cumulative_hazard,
    estimate_incidence,
    estimate_outer_band,
    estimate_product_limit,
    estimate_turnbull,
)
from fleetstats.survival.counting.exposure import poisson_limits
from fleetstats.survival.counting.plotting import estimate_median_ranks, estimate_rank_line


@pytest.mark.parametrize(
    ("name", "table", "ages"),
    [
        ("late-fleet-a-km", "late_fleet_a", (600, 900, 1200, 1500)),
        ("cage-km", "bearing_cage_fleet", (500, 1010, 1510)),
    ],
)
def test_product_limit_and_cumulative_hazard(name: str, table: str, ages: tuple[int, ...]) -> None:
    want, lives = expected(name), spells(table)
    curve = estimate_product_limit(lives, level=0.95, least_at_risk=1)
    hazard = estimate_cumulative_hazard(lives, least_at_risk=1)
    assert curve.n_failed.sum() == want["number_of_failures"]
    for t in ages:
        low, high = curve.limits_at(t)
        at_risk = curve.at_risk[np.searchsorted(curve.hours, t, side="right") - 1]
        got = {
            "S": curve.at(t),
            "greenwood_se": curve.std_error_at(t),
            "loglog_lower95": low,
            "loglog_upper95": high,
            "nelson_aalen": hazard.at(t),
            "nelson_aalen_se": hazard.std_error_at(t),
            "at_risk_at_last_event": at_risk,
        }
        for key, value in got.items():
            assert float(value) == pytest.approx(want[f"at{t}_{key}"], rel=tolerance(name)), (
                t,
                key,
            )


def test_product_limit_trap_of_thin_risk_sets() -> None:
    """Channing House men: counted from the start the curve is 0 for good; started where five were
    at risk it is not, and says so."""
    want, lives = expected("channing-men"), spells("channing_men")
    plain = estimate_product_limit(lives, least_at_risk=1)
    np.testing.assert_array_equal(plain.at(want["at_months"]), want["km_at"])
    hazard = estimate_cumulative_hazard(lives, least_at_risk=1)
    np.testing.assert_allclose(hazard.at(want["at_months"]), want["na_at"], rtol=1e-10)
    # R counts those at risk at the next age in its table, which holds every end of life.
    steps = np.unique(lives.exit_upper)
    ahead = steps[np.searchsorted(steps, want["at_months"], side="left")]
    np.testing.assert_array_equal(lives.at_risk(ahead), want["n_risk_at"])
    careful = estimate_product_limit(lives)
    assert careful.start_h > 0.0
    assert careful.at(960.0) > 0.3
    assert [c.code for c in careful.cautions] == ["late-entry"]


def test_turnbull_of_cosmesis() -> None:
    want = expected("cosmesis-1-turnbull")
    curve = estimate_turnbull(spells("cosmesis_1"))
    assert curve.log_likelihood == pytest.approx(want["loglik"], rel=1e-10)
    assert curve.breach < 1e-9
    for t in (10, 20, 30, 40):
        assert float(curve.at(t)) == pytest.approx(want[f"S({t})"], rel=1e-9)
    first = expected("cosmesis-1")
    np.testing.assert_allclose(curve.at(first["turnbull_at"]), first["turnbull_surv"], rtol=1e-9)


def test_turnbull_of_wheels() -> None:
    """Current status: the estimate is an isotonic regression."""
    curve = estimate_turnbull(spells("turbine_wheels"))
    for key, value in expected("wheels-turnbull").items():
        assert 1.0 - float(curve.at(float(key[2:-1]))) == pytest.approx(value, abs=1e-9), key


def test_incidence_of_shock_absorbers() -> None:
    want, lives = expected("shock-modes-aj"), spells("shock_absorber")
    table = estimate_incidence(lives, lives.cause)
    for t in (13150, 20900, 27490):
        for mode in ("mode1", "mode2"):
            stem = f"CIF_{mode}({t})"
            got = {
                stem: table.at(mode, t),
                f"{stem}_se_delta": table.std_error_at(mode, t),
                f"{stem}_se_infinitesimal_jackknife": table.std_error_at(
                    mode, t, method="jackknife"
                ),
            }
            for key, value in got.items():
                assert float(value) == pytest.approx(want[key], rel=1e-8), key


def test_incidence_of_mgus() -> None:
    want, lives = expected("mgus2-F"), spells("mgus2_F")
    table = estimate_incidence(lives, lives.cause)
    months = want["at_months"]
    np.testing.assert_allclose(table.at("1", months), want["cif1"], rtol=1e-9)
    np.testing.assert_allclose(table.at("2", months), want["cif2"], rtol=1e-9)
    for method in ("delta", "jackknife"):
        np.testing.assert_allclose(
            table.std_error_at("1", months, method=method), want["cif1_se"], rtol=1e-9
        )


def test_parametric_incidence_by_quadrature() -> None:
    """Each mode's share is the integral of its Weibull hazard times the reliability of both."""
    from scipy.integrate import quad

    from fleetstats.survival import fit_weibull

    want, lives = expected("shock-modes-weibull"), spells("shock_absorber")
    one, two = (fit_weibull(one_cause(lives, m)) for m in ("mode1", "mode2"))

    def share(mine: object, t: float) -> float:
        return float(
            quad(
                lambda u: float(mine.hazard(u) * one.reliability(u) * two.reliability(u)),  # type: ignore[attr-defined]
                0.0,
                t,
                epsrel=1e-10,
            )[0]
        )

    for t in (10000, 20000, 28000):
        for mode, fit in (("mode1", one), ("mode2", two)):
            assert share(fit, t) == pytest.approx(want[f"CIF_{mode}_parametric({t})"], rel=1e-6)


def test_outer_band_holds_the_product_limit() -> None:
    """Shock absorbers with mode 2 taken as removals on a finding: the band's edges are incidences
    of the reference case (Peterson 1976)."""
    want = expected("shock-modes-aj")
    lives = one_cause(spells("shock_absorber"), "mode1")
    found = lives.replace(
        event=np.where(lives.event == Event.COMPETING, int(Event.FINDING), lives.event)
    )
    band = estimate_outer_band(found)
    for t in (13150, 20900, 27490):
        middle, (low, high) = band.at(t), band.limits_at(t)
        failed, removed = want[f"CIF_mode1({t})"], want[f"CIF_mode2({t})"]
        assert float(high) == pytest.approx(1.0 - failed, rel=1e-9)
        assert float(low) == pytest.approx(1.0 - failed - removed, rel=1e-9)
        assert low < middle < high
    assert band.n_findings == 4
    assert band.n_failed == 7


@pytest.mark.parametrize(
    ("name", "table"), [("nist-median-rank", "nist_ten_of_twenty"), ("fan-median-rank", "genfan")]
)
def test_median_ranks(name: str, table: str) -> None:
    want, lives = expected(name), spells(table)
    for method in ("exact", "benard"):
        ranks = estimate_median_ranks(lives, method=method)
        assert ranks.n == want["n"]
        assert len(ranks.hours) == want["failures"]
        for key, value in want.items():
            if key.startswith("adjusted_rank_of_failure_"):
                assert ranks.rank[int(key.rsplit("_", 1)[1]) - 1] == pytest.approx(value, rel=1e-9)
        p = ranks.failure_probability
        assert p[0] == pytest.approx(want[f"{method}_median_rank_of_first_failure"], rel=1e-8)
        assert p[-1] == pytest.approx(want[f"{method}_median_rank_of_last_failure"], rel=1e-8)
        for direction in ("hours-on-rank", "rank-on-hours"):
            line = estimate_rank_line(lives, method=method, direction=direction)
            stem = direction.replace("-", "_")
            assert line.shape == pytest.approx(want[f"{method}_shape_{stem}"], rel=1e-8)
            assert line.scale_h == pytest.approx(want[f"{method}_scale_{stem}"], rel=1e-8)
            assert line.r_squared == pytest.approx(want[f"{method}_r_squared"], rel=1e-8)


def test_exact_median_ranks_of_complete_samples() -> None:
    """Johnson (1951): medians of beta(i, n - i + 1)."""
    from fleetstats.spells import Spells

    for n in (5, 10):
        want = expected("closed-forms")[f"median_rank_exact_{n}"]
        lives = Spells.of(np.zeros(n), np.arange(1.0, n + 1), np.ones(n))
        np.testing.assert_allclose(
            estimate_median_ranks(lives).failure_probability, want, rtol=1e-9
        )


def test_poisson_limits() -> None:
    """Garwood (1936), as R's poisson.test gives them."""
    want = expected("exact-bounds")
    for x in (0, 1, 4, 12):
        for level in (90, 95):
            low, high = poisson_limits(x, level=level / 100)
            assert float(low) == pytest.approx(want[f"poisson_lower{level}_x{x}"], abs=1e-9)
            assert float(high) == pytest.approx(want[f"poisson_upper{level}_x{x}"], rel=1e-8)
    assert math.isclose(
        float(poisson_limits(3, level=0.90)[1]),
        expected("closed-forms")["poisson_upper95"]["r3"],
        rel_tol=1e-9,
    )
