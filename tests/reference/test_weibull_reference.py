"""Weibull fits against values computed elsewhere: R's survival package and 40-digit likelihoods.

Each case names its own source in ``data/cases.json`` or ``data/more/cases.json``: bearing cages
(Abernethy 1983; Meeker & Escobar 1998), the NIST/SEMATECH e-Handbook 8.4.1, diesel fans (Nelson
1982), Channing House (Hyde 1977), breast cosmesis (Finkelstein & Wolfe 1985), turbine wheels
(Nelson 1982), shock absorbers (O'Connor 1985), mgus2 (Kyle et al. 2002).
"""

from __future__ import annotations

import numpy as np
import pytest
from cases_support import expected, one_cause, spells, tolerance

from fleetstats.spells import Spells
from fleetstats.survival import Fit, fit_weibull, weibull_log_likelihood

CASES = [
    ("bearing-cage", "bearing_cage"),
    ("nist-weibull", "nist_weibull"),
    ("channing-men", "channing_men"),
    ("cosmesis-1", "cosmesis_1"),
    ("fan-weibull", "genfan"),
    ("nist-weibull-more", "nist_ten_of_twenty"),
    ("cage-weibull-more", "bearing_cage_fleet"),
    ("late-fleet-a-weibull", "late_fleet_a"),
    ("wheels-weibull", "turbine_wheels"),
    ("mixed-fleet-a", "mixed_fleet_a"),
]

# The first file's values were reached by an optimiser that stops at about 1e-7; the second file's
# are right to 1e-9. Its stated tolerance stands where it is looser.
TIGHT = 1e-6


def figures(fit: Fit) -> dict[str, float]:
    """Return what the cases list, by their names."""
    out = {
        "shape": fit.shape,
        "scale": fit.scale_h,
        "loglik": fit.log_likelihood,
        "b10": float(fit.quantile(0.10)),
        "se_shape": fit.std_error("shape"),
        "se_scale": fit.std_error("scale_h"),
        "cov_shape_scale": float(fit.covariance[0, 1]),
    }
    for p in (1, 10, 50):
        life = float(fit.quantile(p / 100))
        out[f"B{p}"] = life
        out[f"se_B{p}"] = life_error(fit, p / 100)
    for hours in (200, 500, 600, 1000, 1200, 2000, 4000, 5000, 8000):
        out[f"R({hours})"] = float(fit.reliability(hours))
    return out


def life_error(fit: Fit, p: float) -> float:
    """Return the standard error of a life by the delta method, differentiated by hand."""
    log_h = np.log(-np.log1p(-p))
    life = fit.scale_h * np.exp(log_h / fit.shape)
    slope = np.array([-life * log_h / fit.shape**2, life / fit.scale_h])
    return float(np.sqrt(slope @ fit.covariance @ slope))


@pytest.mark.parametrize(("name", "table"), CASES, ids=[c[0] for c in CASES])
def test_fit(name: str, table: str) -> None:
    fit = fit_weibull(spells(table))
    got = figures(fit)
    wanted = {k: v for k, v in expected(name).items() if k in got and not isinstance(v, list)}
    assert {"shape", "scale", "loglik"} <= wanted.keys()
    for key, value in wanted.items():
        assert got[key] == pytest.approx(value, rel=min(TIGHT, tolerance(name))), key


def test_entry_is_not_ignored() -> None:
    """The case holds the answer of a program that drops entry ages; ours must not be that."""
    wrong = expected("late-fleet-a-ignoring-entry")
    late = spells("late_fleet_a")
    dropped = fit_weibull(late.replace(entry=np.zeros(len(late))))
    assert dropped.shape == pytest.approx(wrong["shape"], rel=1e-6)
    assert dropped.scale_h == pytest.approx(wrong["scale"], rel=1e-6)
    assert dropped.log_likelihood == pytest.approx(wrong["loglik"], rel=1e-6)
    assert abs(fit_weibull(late).shape - wrong["shape"]) > 0.4


def test_competing_causes_of_shock_absorbers() -> None:
    want = expected("shock-modes-weibull")
    lives = spells("shock_absorber")
    both = np.zeros(3)
    hours = np.array([10000.0, 20000.0, 28000.0])
    for mode in ("mode1", "mode2"):
        fit = fit_weibull(one_cause(lives, mode))
        got = figures(fit)
        for key in ("shape", "scale", "loglik", "se_shape", "se_scale", "B10"):
            assert got[key] == pytest.approx(want[f"{mode}_{key}"], rel=TIGHT), (mode, key)
        both = both + fit.cumulative_hazard(hours)
    for t, value in zip(hours, np.exp(-both), strict=True):
        assert value == pytest.approx(want[f"R_both({t:.0f})"], rel=TIGHT)
    every = fit_weibull(lives)
    assert every.shape == pytest.approx(want["any_shape"], rel=TIGHT)
    assert every.scale_h == pytest.approx(want["any_scale"], rel=TIGHT)


@pytest.mark.parametrize("cause", ["1", "2"])
def test_competing_causes_of_mgus(cause: str) -> None:
    want = expected("mgus2-F")[f"weibull{cause}"]
    got = figures(fit_weibull(one_cause(spells("mgus2_F"), cause)))
    for key, value in want.items():
        assert got[key] == pytest.approx(value, rel=tolerance("mgus2-F")), key


@pytest.mark.parametrize("table", ["mixed_fleet_a", "late_fleet_a", "turbine_wheels"])
def test_log_likelihood_written_out(table: str) -> None:
    """The likelihood row by row, as a first course would write it, at a point off the maximum."""
    s: Spells = spells(table)
    shape, scale = 1.4, 2100.0

    def log_r(t: float) -> float:
        return -((t / scale) ** shape)

    total = 0.0
    for e, a, b, failed, w in zip(
        s.entry, s.exit_lower, s.exit_upper, s.failed, s.weight, strict=True
    ):
        if not failed:
            row = log_r(b)
        elif a == b:
            row = np.log(shape / scale * (b / scale) ** (shape - 1.0)) + log_r(b)
        else:
            row = np.log(np.exp(log_r(a)) - np.exp(log_r(b)))
        total += w * (row - log_r(e))
    got = weibull_log_likelihood(
        shape, scale, s.entry, s.exit_lower, s.exit_upper, s.failed, s.weight
    )
    assert got == pytest.approx(total, rel=1e-12)
