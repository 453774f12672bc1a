"""Rows of models: proportional hazards, and the mean number of events that recur."""

from __future__ import annotations

from typing import Any

import numpy as np

import fleetstats as fs
from beside.contest import Answer, Contest, Ours, Theirs
from beside.counting import stepped
from beside.fleets import Lives, Recurrent, recurrent, with_covariates
from beside.in_r import session
from fleetstats.spells.histories import Histories
from fleetstats.survival.recurrent.recurrent import estimate_mean_cumulative
from fleetstats.survival.regression.covariates import build_covariates
from fleetstats.survival.regression.proportional import fit_proportional


def _ours_cox(d: Lives) -> Any:
    spells = fs.Spells.of(d.entry, d.end, d.failed)
    return fit_proportional(spells, build_covariates(spells, d.more))


def _read_cox(out: Any, _: Any) -> Answer:
    return {
        "coef": np.array([r.coef for r in out.ratios]),
        "std_error": np.array([r.std_error for r in out.ratios]),
    }


def _lifelines_cox(d: Lives) -> Any:
    import pandas as pd
    from lifelines import CoxPHFitter

    frame = pd.DataFrame(d.more | {"end": d.end, "failed": d.failed})
    late = bool(d.entry.any())
    if late:
        frame["entry"] = d.entry
    f = CoxPHFitter().fit(frame, "end", "failed", entry_col="entry" if late else None)
    return f.params_, f.standard_errors_


def _statsmodels_cox(d: Lives) -> Any:
    from statsmodels.duration.hazard_regression import PHReg

    entry = d.entry if d.entry.any() else None
    x = np.column_stack(list(d.more.values()))
    f = PHReg(d.end, x, status=d.failed.astype(int), entry=entry, ties="efron").fit()
    return f.params, f.bse


def _pair(out: Any, _: Any) -> Answer:
    return {"coef": np.asarray(out[0]), "std_error": np.asarray(out[1])}


def _r_cox(d: Lives) -> Any:
    r = session()
    late = "entry, " if d.entry.any() else ""
    r.give(entry=d.entry, end=d.end, failed=d.failed.astype(float), **d.more)
    seconds = r.timed(
        f"coxph(Surv({late}end, failed) ~ {' + '.join(d.more)}, "
        "control = coxph.control(timefix = FALSE))"
    )
    return (r.numbers("coef(ans)"), r.numbers("sqrt(diag(vcov(ans)))")), seconds


def _cox(key: str, title: str, *, late: bool) -> Contest:
    close = {"coef": 1e-5, "std_error": 1e-5}
    return Contest(
        key, title, 100_000, "lives", lambda n: with_covariates(n, late=late),
        Ours("fit_proportional(…, build_covariates(…))", _ours_cox, _read_cox),
        (
            Theirs("lifelines", "CoxPHFitter", _lifelines_cox, _pair, close),
            Theirs("statsmodels", "PHReg(efron)", _statsmodels_cox, _pair, close),
            Theirs("R survival", "coxph", _r_cox, _pair, close, own_clock=True,
                   note="Our time holds the test of proportionality too, theirs does not."),
        ),
        none="scipy and reliability have no proportional hazards",
    )  # fmt: skip


def _ours_mean(d: Recurrent) -> Any:
    n = len(d.stop)
    h = Histories.of(np.arange(n).astype(str), np.zeros(n), d.stop, d.unit.astype(str), d.hours)
    return estimate_mean_cumulative(h)


def _read_mean(out: Any, d: Recurrent) -> Answer:
    table = out.at(d.grid)
    return {"mean": table[:, 0], "std_error": table[:, 1]}


def _reliability_mean(d: Recurrent) -> Any:
    from reliability.Repairable_systems import MCF_nonparametric

    own = np.split(d.hours, np.searchsorted(d.unit, np.arange(1, len(d.stop))))
    data = [[*h.tolist(), float(s)] for h, s in zip(own, d.stop, strict=True)]
    return MCF_nonparametric(data, show_plot=False, print_results=False)


def _read_reliability_mean(f: Any, d: Recurrent) -> Answer:
    return {"mean": stepped(f.time, f.MCF, 0.0, d.grid)}


def _r_mean(d: Recurrent) -> Any:
    r = session()
    n = len(d.stop)
    unit = np.concatenate([d.unit, np.arange(n)])
    end = np.concatenate([d.hours, d.stop])
    event = np.concatenate([np.ones(len(d.hours)), np.zeros(n)])
    order = np.lexsort((end, unit))
    unit, end, event = unit[order], end[order], event[order]
    start = np.where(np.concatenate([[True], unit[1:] != unit[:-1]]), 0.0, np.roll(end, 1))
    r.give(unit=unit, start=start, end=end, event=event, grid=d.grid)
    seconds = r.timed(
        "survfit(Surv(start, end, event) ~ 1, id = unit, robust = TRUE, timefix = FALSE)"
    )
    r.tell("k <- findInterval(grid, ans$time)")
    return (r.numbers("ans$cumhaz[k]"), r.numbers("ans$std.chaz[k]")), seconds


def _read_r_mean(out: Any, _: Any) -> Answer:
    return {"mean": out[0], "std_error": out[1]}


MODEL_ROWS = (
    _cox("cox", "proportional hazards, 5 covariates", late=False),
    _cox("cox-entry", "proportional hazards, 5 covariates, delayed entry", late=True),
    Contest(
        "mean", "mean cumulative function and its robust limits", 20_000, "engines", recurrent,
        Ours("estimate_mean_cumulative(Histories.of(…))", _ours_mean, _read_mean),
        (
            Theirs("reliability", "MCF_nonparametric", _reliability_mean, _read_reliability_mean,
                   {"mean": 1e-9}, note="reliability's variance is not robust; means agree."),
            Theirs("R survival", "survfit(id, robust)", _r_mean, _read_r_mean,
                   {"mean": 1e-9, "std_error": 1e-6}, own_clock=True),
        ),
        none="lifelines, scipy and statsmodels have no robust mean of events that recur",
    ),
)  # fmt: skip
