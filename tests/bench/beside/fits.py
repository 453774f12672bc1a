"""Rows of fits: one fit of each kind of lives, profile limits, refits by the thousand.

Our side starts from the same plain columns as theirs: making the lives is in our time.
"""

from __future__ import annotations

from typing import Any

import numpy as np

import fleetstats as fs
from beside.contest import Answer, Contest, Ours, Theirs
from beside.fleets import Lives, checked, lives
from beside.in_r import session
from fleetstats.bands.resampling.refit import refit

LEVEL = 0.90
EXACT, ROUGH = 1e-4, 2e-3
"""Relative differences of parameters: of Newton's methods, and of searches without slopes."""

REFITS, REFITTED, TIMED = 10_000, 250, 20
"""Refits of ours, lives in each, and how many of the others' fits are timed."""


def _parameters(out: Any, _: Any) -> Answer:
    return {"shape": np.array([out[0]]), "scale": np.array([out[1]])}


def _ours_fit(d: Lives) -> Any:
    return fs.fit_weibull(fs.Spells.of(d.entry, d.end, d.failed))


def _ours_checked(d: Lives) -> Any:
    return fs.fit_weibull(fs.Spells.of(0, d.end, d.failed, exit_lower=d.more["lower"]))


def _read_fit(fit: Any, _: Any) -> Answer:
    return _parameters((fit.shape, fit.scale_h), _)


def _lifelines(d: Lives) -> Any:
    from lifelines import WeibullFitter

    late = bool(d.entry.any())
    # Its own start runs away with late entry; a near one spares it time, in its favour.
    near = np.array([2400.0, 2.4]) if late else None
    f = WeibullFitter().fit(d.end, d.failed, entry=d.entry if late else None, initial_point=near)
    return f.rho_, f.lambda_


def _lifelines_checked(d: Lives) -> Any:
    from lifelines import WeibullFitter

    upper = np.where(d.failed, d.end, np.inf)
    f = WeibullFitter().fit_interval_censoring(d.more["lower"], upper)
    return f.rho_, f.lambda_


def _reliability(d: Lives) -> Any:
    from reliability.Fitters import Fit_Weibull_2P

    f = Fit_Weibull_2P(
        failures=d.end[d.failed], right_censored=d.end[~d.failed], show_probability_plot=False,
        print_results=False,
    )  # fmt: skip
    return f.beta, f.alpha


def _scipy_data(d: Lives) -> Any:
    from scipy.stats import CensoredData

    if "lower" in d.more:
        pairs = np.column_stack([d.more["lower"], np.where(d.failed, d.end, np.inf)])
        return CensoredData.interval_censored(pairs[:, 0], pairs[:, 1])
    return CensoredData.right_censored(d.end, ~d.failed)


def _scipy(d: Lives) -> Any:
    from scipy.stats import weibull_min

    shape, _, scale = weibull_min.fit(_scipy_data(d), floc=0, scale=float(d.end.mean()))
    return shape, scale


def _r(d: Lives) -> Any:
    r = session()
    r.give(end=d.end, failed=d.failed.astype(float))
    seconds = r.timed("survreg(Surv(end, failed) ~ 1, dist = 'weibull')")
    return r.numbers("c(1 / ans$scale, exp(coef(ans)))"), seconds


def _r_checked(d: Lives) -> Any:
    r = session()
    r.give(lower=d.more["lower"], upper=np.where(d.failed, d.end, np.inf))
    seconds = r.timed(
        "survreg(Surv(ifelse(lower == 0, NA, lower), ifelse(is.finite(upper), upper, NA), "
        "type = 'interval2') ~ 1, dist = 'weibull')"
    )
    return r.numbers("c(1 / ans$scale, exp(coef(ans)))"), seconds


def _ours_profile(d: Lives) -> Any:
    return _ours_fit(d).band(fs.Quantity.shape(), level=LEVEL, method="profile")


def _read_edges(out: Any, _: Any) -> Answer:
    low, high = (out.low, out.high) if hasattr(out, "low") else out
    return {"low": np.array([low]), "high": np.array([high])}


def _scipy_profile(d: Lives) -> Any:
    from scipy.optimize import brentq
    from scipy.stats import chi2, weibull_min

    data = _scipy_data(d)

    def worth(c: float | None) -> tuple[float, float]:
        fixed = {} if c is None else {"f0": c}
        shape, _, scale = weibull_min.fit(data, floc=0, scale=float(d.end.mean()), **fixed)
        law = weibull_min(shape, scale=scale)
        total = law.logpdf(d.end[d.failed]).sum() + law.logsf(d.end[~d.failed]).sum()
        return float(total), shape

    top, best = worth(None)
    fall = top - 0.5 * chi2.ppf(LEVEL, 1)
    return (
        brentq(lambda c: worth(c)[0] - fall, best / 4, best, xtol=1e-5),
        brentq(lambda c: worth(c)[0] - fall, best, best * 4, xtol=1e-5),
    )


def _r_profile(d: Lives) -> Any:
    r = session()
    r.give(end=d.end, failed=d.failed.astype(float))
    seconds = r.timed(
        "s <- Surv(end, failed); top <- survreg(s ~ 1, dist = 'weibull'); "
        f"fall <- top$loglik[1] - qchisq({LEVEL}, 1) / 2; b <- 1 / top$scale; "
        "off <- function(c) survreg(s ~ 1, dist = 'weibull', scale = 1 / c)$loglik[1] - fall; "
        "c(uniroot(off, c(b / 4, b), tol = 1e-5)$root, uniroot(off, c(b, b * 4), tol = 1e-5)$root)"
    )
    return tuple(r.numbers("ans")), seconds


def _resampled(n: int) -> Any:
    """Return lives and the whole weights of our first resamples."""
    from fleetstats.bands.resampling.weights import Resampling

    d = lives(REFITTED)
    spells = fs.Spells.of(d.entry, d.end, d.failed)
    plan = Resampling.of_spells(spells, n, seed=1, scheme="poisson")
    return d, plan.weights_of(0)[:TIMED].astype(int), n


def _ours_refits(data: Any) -> Any:
    d, _, n = data
    return refit(fs.Spells.of(d.entry, d.end, d.failed), n, seed=1, scheme="poisson")


def _read_refits(out: Any, _: Any) -> Answer:
    shape, scale = (out.shape, out.scale_h) if hasattr(out, "scale_h") else np.array(out).T
    return {"shape": shape[:TIMED], "scale": scale[:TIMED]}


def _each(one: Any) -> Any:
    """Return a loop of another library's fits over the resamples, whole weights as rows."""

    def loop(data: Any) -> Any:
        d, weights, _ = data
        out = []
        for w in weights:
            k = np.repeat(np.arange(len(d.end)), w)
            out.append(one(Lives(d.entry[k], d.end[k], d.failed[k], {})))
        return out

    return loop


def _r_refits(data: Any) -> Any:
    d, weights, _ = data
    r = session()
    r.give(end=d.end, failed=d.failed.astype(float), w=weights.ravel())
    seconds = r.timed(
        f"w <- matrix(w, {len(d.end)}); sapply(1:ncol(w), function(j) {{ k <- w[, j] > 0; "
        "f <- survreg(Surv(end, failed) ~ 1, weights = w[, j], subset = k, dist = 'weibull'); "
        "c(1 / f$scale, exp(coef(f))) })"
    )
    return r.numbers("ans").reshape(-1, 2), seconds


CALL = "fit_weibull(Spells.of(…))"
SCALED = f"{TIMED} of the other's fits are timed and taken {REFITS // TIMED} times."


def _close(most: float) -> dict[str, float]:
    return {"shape": most, "scale": most}


def _edges(most: float) -> dict[str, float]:
    return {"low": most, "high": most}


FIT_ROWS = (
    Contest(
        "fit", "Weibull fit, lives from new", 1_000_000, "lives", lives,
        Ours(CALL, _ours_fit, _read_fit),
        (
            Theirs("lifelines", "WeibullFitter", _lifelines, _parameters, _close(EXACT)),
            Theirs("reliability", "Fit_Weibull_2P", _reliability, _parameters, _close(ROUGH)),
            Theirs("scipy", "weibull_min.fit(CensoredData)", _scipy, _parameters, _close(ROUGH)),
            Theirs("R survival", "survreg", _r, _parameters, _close(EXACT), own_clock=True),
        ),
    ),
    Contest(
        "entry", "Weibull fit, delayed entry", 1_000_000, "lives",
        lambda n: lives(n, late=True),
        Ours(CALL, _ours_fit, _read_fit),
        (Theirs("lifelines", "WeibullFitter(entry)", _lifelines, _parameters, _close(EXACT)),),
        none="reliability, scipy and R's survreg fit no law with delayed entry",
    ),
    Contest(
        "interval", "Weibull fit, failures found at checks", 100_000, "lives", checked,
        Ours("fit_weibull(Spells.of(exit_lower=…))", _ours_checked, _read_fit),
        (
            Theirs("lifelines", "fit_interval_censoring", _lifelines_checked, _parameters,
                   _close(EXACT)),
            Theirs("scipy", "weibull_min.fit(CensoredData)", _scipy, _parameters, _close(ROUGH)),
            Theirs("R survival", "survreg(interval2)", _r_checked, _parameters, _close(EXACT),
                   own_clock=True),
        ),
        none="reliability fits no failures known by intervals",
    ),
    *(
        Contest(
            f"profile-{n}", "profile limits of the shape", n, "lives", lives,
            Ours("fit.band(Quantity.shape(), method=\"profile\")", _ours_profile, _read_edges),
            (
                Theirs("scipy", "brentq over weibull_min.fit(f0)", _scipy_profile, _read_edges,
                       _edges(ROUGH)),
                Theirs("R survival", "uniroot over survreg(scale)", _r_profile, _read_edges,
                       _edges(ROUGH), own_clock=True),
            ),
            none="lifelines and reliability have normal-theory limits alone",
        )
        for n in (250, 100_000)
    ),
    Contest(
        "refits", f"refits of {REFITTED} resampled lives", REFITS, "refits", _resampled,
        Ours("refit", _ours_refits, _read_refits),
        tuple(
            Theirs(who, call, run, _read_refits, _close(most), own, REFITS / TIMED, SCALED)
            for who, call, run, most, own in (
                ("lifelines", "WeibullFitter", _each(_lifelines), EXACT, False),
                ("reliability", "Fit_Weibull_2P", _each(_reliability), ROUGH, False),
                ("scipy", "weibull_min.fit(CensoredData)", _each(_scipy), ROUGH, False),
                ("R survival", "survreg(weights)", _r_refits, EXACT, True),
            )
        ),
        smallest=REFITS,
    ),
)  # fmt: skip
