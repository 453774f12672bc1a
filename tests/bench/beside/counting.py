"""Rows of counting: product limit and its limits, intervals, competing endings."""

from __future__ import annotations

from typing import Any

import numpy as np

import fleetstats as fs
from beside.contest import Answer, Contest, Ours, Theirs
from beside.fleets import Lives, checked, lives, two_causes
from beside.in_r import session
from fleetstats.survival.counting.incidence import estimate_incidence
from fleetstats.survival.counting.turnbull import estimate_turnbull

LEVEL = 0.90
ROUNDING = 1e-9


def stepped(ages: Any, column: Any, first: float, grid: np.ndarray) -> np.ndarray:
    """Return a step function, right-continuous, at the ages of a grid."""
    column = np.concatenate([[first], np.asarray(column, dtype=float)])
    return column[np.searchsorted(np.asarray(ages), grid, side="right")]


def _ours_product(d: Lives) -> Any:
    lives_ = fs.Spells.of(d.entry, d.end, d.failed)
    return fs.estimate_product_limit(lives_, level=LEVEL, least_at_risk=1)


def _read_product(curve: Any, d: Lives) -> Answer:
    low, high = curve.limits_at(d.grid)
    return {
        "reliability": curve.at(d.grid), "low": low, "high": high,
        "std_error": curve.std_error_at(d.grid),
    }  # fmt: skip


def _late(d: Lives) -> Any:
    return d.entry if d.entry.any() else None


def _lifelines_product(d: Lives) -> Any:
    from lifelines import KaplanMeierFitter

    return KaplanMeierFitter(alpha=1 - LEVEL).fit(d.end, d.failed, entry=_late(d))


def _read_lifelines(f: Any, d: Lives) -> Answer:
    limits = f.confidence_interval_
    columns = {
        "reliability": f.survival_function_.iloc[:, 0],
        "low": limits.iloc[:, 0],
        "high": limits.iloc[:, 1],
    }
    return {k: stepped(v.index, v, 1.0, d.grid) for k, v in columns.items()}


def _scipy_product(d: Lives) -> Any:
    from scipy.stats import CensoredData, ecdf

    sf = ecdf(CensoredData.right_censored(d.end, ~d.failed)).sf
    return sf, sf.confidence_interval(LEVEL, method="log-log")


def _read_scipy(out: Any, d: Lives) -> Answer:
    sf, limits = out
    columns = {"reliability": sf, "low": limits.low, "high": limits.high}
    return {k: stepped(v.quantiles, v.probabilities, 1.0, d.grid) for k, v in columns.items()}


def _statsmodels_product(d: Lives) -> Any:
    from statsmodels.duration.survfunc import SurvfuncRight

    return SurvfuncRight(d.end, d.failed.astype(int), entry=_late(d))


def _read_statsmodels(f: Any, d: Lives) -> Answer:
    return {
        "reliability": stepped(f.surv_times, f.surv_prob, 1.0, d.grid),
        "std_error": stepped(f.surv_times, f.surv_prob_se, 0.0, d.grid),
    }


def _reliability_product(d: Lives) -> Any:
    from reliability.Nonparametric import KaplanMeier

    return KaplanMeier(
        failures=d.end[d.failed], right_censored=d.end[~d.failed], show_plot=False,
        print_results=False, CI=LEVEL,
    )  # fmt: skip


def _read_reliability(f: Any, d: Lives) -> Answer:
    return {"reliability": stepped(np.sort(d.end), f.KM, 1.0, d.grid)}


def _r_product(d: Lives) -> Any:
    r = session()
    late = _late(d) is not None
    r.give(end=d.end, failed=d.failed.astype(float), grid=d.grid)
    if late:
        r.give(entry=d.entry)
    seconds = r.timed(
        f"survfit(Surv({'entry, ' if late else ''}end, failed) ~ 1, conf.type = 'log-log', "
        f"conf.int = {LEVEL}, timefix = FALSE)"
    )
    r.tell("s <- summary(ans, times = grid, extend = TRUE)")
    keys = {"reliability": "s$surv", "low": "s$lower", "high": "s$upper", "std_error": "s$std.err"}
    return {k: r.numbers(v) for k, v in keys.items()}, seconds


def _as_read(out: Any, _: Any) -> Answer:
    return out


def _within(*keys: str, most: float = ROUNDING) -> dict[str, float]:
    return dict.fromkeys(keys, most)


ALL = ("reliability", "low", "high")
PRODUCT = Ours("estimate_product_limit(Spells.of(…))", _ours_product, _read_product)
PRODUCT_THEIRS = (
    Theirs("lifelines", "KaplanMeierFitter", _lifelines_product, _read_lifelines,
           _within(*ALL)),
    Theirs("statsmodels", "SurvfuncRight", _statsmodels_product, _read_statsmodels,
           _within("reliability", "std_error")),
    Theirs("R survival", "survfit(log-log)", _r_product, _as_read, _within(*ALL, "std_error"),
           own_clock=True),
)  # fmt: skip
PRODUCT_NEW = (
    Theirs("scipy", "ecdf, confidence_interval(log-log)", _scipy_product, _read_scipy,
           _within(*ALL)),
    Theirs("reliability", "KaplanMeier", _reliability_product, _read_reliability,
           _within("reliability"), note="reliability's limits are of another kind."),
)  # fmt: skip


def _ours_turnbull(d: Lives) -> Any:
    return estimate_turnbull(fs.Spells.of(0, d.end, d.failed, exit_lower=d.more["lower"]))


def _likelihood(ages: Any, column: Any, d: Lives) -> Answer:
    """Return the log likelihood of the lives under a curve, which a maximum has the greatest of."""
    before, after = (stepped(ages, column, 1.0, t) for t in (d.more["lower"], d.end))
    return {"likelihood": np.log(np.where(d.failed, before - after, after)).sum(keepdims=True)}


def _read_turnbull(curve: Any, d: Lives) -> Answer:
    return _likelihood(curve.high_h, curve.reliability, d)


def _lifelines_turnbull(d: Lives) -> Any:
    from lifelines import KaplanMeierFitter

    upper = np.where(d.failed, d.end, np.inf)
    return KaplanMeierFitter().fit_interval_censoring(d.more["lower"], upper)


def _read_lifelines_turnbull(f: Any, d: Lives) -> Answer:
    table = f.survival_function_
    return _likelihood(table.index, table["NPMLE_estimate_lower"], d)


def _r_turnbull(d: Lives) -> Any:
    r = session()
    r.give(lower=d.more["lower"], upper=np.where(d.failed, d.end, np.inf))
    seconds = r.timed(
        "survfit(Surv(ifelse(lower == 0, NA, lower), ifelse(is.finite(upper), upper, NA), "
        "type = 'interval2') ~ 1, se.fit = FALSE)"
    )
    return _likelihood(r.numbers("ans$time"), r.numbers("ans$surv"), d), seconds


def _ours_incidence(d: Lives) -> Any:
    event = d.more["cause"].astype(np.int8)
    ours = fs.Spells.of(d.entry, d.end, event == 1).replace(event=event)
    return estimate_incidence(ours)


def _read_incidence(out: Any, d: Lives) -> Answer:
    first, other = out.labels[::-1] if out.labels[0] != "failed" else out.labels
    return {
        "first": out.at(first, d.grid), "second": out.at(other, d.grid),
        "std_error": out.std_error_at(first, d.grid),
    }  # fmt: skip


def _lifelines_incidence(d: Lives) -> Any:
    from lifelines import AalenJohansenFitter

    return [AalenJohansenFitter().fit(d.end, d.more["cause"], k) for k in (1, 2)]


def _read_lifelines_incidence(out: Any, d: Lives) -> Answer:
    tables = [f.cumulative_density_ for f in out]
    first, second = (stepped(t.index, t.iloc[:, 0], 0.0, d.grid) for t in tables)
    spread = np.sqrt(out[0].variance_)
    return {
        "first": first, "second": second,
        "std_error": stepped(spread.index, spread, 0.0, d.grid),
    }  # fmt: skip


def _statsmodels_incidence(d: Lives) -> Any:
    from statsmodels.duration.survfunc import CumIncidenceRight

    return CumIncidenceRight(d.end, d.more["cause"])


def _read_statsmodels_incidence(f: Any, d: Lives) -> Answer:
    return {
        "first": stepped(f.times, f.cinc[0], 0.0, d.grid),
        "second": stepped(f.times, f.cinc[1], 0.0, d.grid),
        "std_error": stepped(f.times, f.cinc_se[0], 0.0, d.grid),
    }


def _r_incidence(d: Lives) -> Any:
    r = session()
    r.give(end=d.end, cause=d.more["cause"], grid=d.grid)
    seconds = r.timed("survfit(Surv(end, factor(cause, 0:2)) ~ 1, timefix = FALSE)")
    r.tell("s <- summary(ans, times = grid, extend = TRUE)")
    keys = {"first": "s$pstate[, 2]", "second": "s$pstate[, 3]", "std_error": "s$std.err[, 2]"}
    return {k: r.numbers(v) for k, v in keys.items()}, seconds


CURVES = ("first", "second", "std_error")
MILLION = 1_000_000
COUNTING_ROWS = (
    Contest("product", "product limit and its limits", MILLION, "lives", lives, PRODUCT,
            PRODUCT_THEIRS + PRODUCT_NEW),
    Contest("product-tenths", "product limit and its limits, hours to a tenth", MILLION, "lives",
            lambda n: lives(n, digits=1), PRODUCT, PRODUCT_THEIRS + PRODUCT_NEW[:1],
            none="reliability is compared on distinct hours alone: on equal ones its curve "
            "is not that of the others"),
    Contest("product-entry", "product limit and its limits, delayed entry", MILLION, "lives",
            lambda n: lives(n, late=True), PRODUCT, PRODUCT_THEIRS,
            none="scipy and reliability know no delayed entry"),
    Contest(
        "turnbull", "interval estimate (Turnbull)", 20_000, "lives",
        lambda n: checked(n, digits=0),
        Ours("estimate_turnbull(Spells.of(…))", _ours_turnbull, _read_turnbull),
        (
            Theirs("lifelines", "fit_interval_censoring", _lifelines_turnbull,
                   _read_lifelines_turnbull, _within("likelihood", most=5e-3),
                   note="lifelines and R stop their steps of expectation and maximisation early: "
                   "what differs is the log likelihood, by which they miss the maximum."),
            Theirs("R survival", "survfit(interval2)", _r_turnbull, _as_read,
                   _within("likelihood", most=5e-3), own_clock=True),
        ),
        none="scipy, statsmodels and reliability count no intervals",
        smallest=300,
    ),
    Contest(
        "incidence", "incidence of two endings (Aalen-Johansen)", MILLION, "lives", two_causes,
        Ours("estimate_incidence(Spells.of(…))", _ours_incidence, _read_incidence),
        (
            Theirs("lifelines", "AalenJohansenFitter, twice", _lifelines_incidence,
                   _read_lifelines_incidence, {**_within("first", "second"), "std_error": 0.1},),
            Theirs("statsmodels", "CumIncidenceRight", _statsmodels_incidence,
                   _read_statsmodels_incidence, _within(*CURVES, most=1e-6)),
            Theirs("R survival", "survfit(Surv(factor))", _r_incidence, _as_read,
                   {**_within("first", "second"), "std_error": 0.05}, own_clock=True,
                   note="R's standard error is by influences, ours by the delta method."),
        ),
        none="scipy and reliability have no competing endings",
    ),
)  # fmt: skip
