"""The study's formulas of the libraries' limits against the libraries themselves."""

from __future__ import annotations

import contextlib
import io
import logging
import warnings

import numpy as np
import pytest
from measure import PREPARE
from trial_fleets import (
    ASKED,
    CLAIM_H,
    GRID,
    OLDEST_H,
    Cell,
    draw_fleets,
    sum_fleets,
)

from fleetstats.bands.likelihood.batch import find_maxima

CELL = Cell(shape=2.0, n=250, late=False, expected=8.0)
LEVEL = 0.90


@pytest.fixture(scope="module")
def fleets():  # type: ignore[no-untyped-def]
    ends, failed = draw_fleets(CELL, 12, seed=7)
    sums = sum_fleets(CELL, ends, failed)
    return ends, failed, sums, find_maxima(sums, GRID)


@pytest.mark.slow
def test_plain_normal_limits_are_those_of_lifelines(fleets) -> None:  # type: ignore[no-untyped-def]
    from lifelines import WeibullFitter

    ends, failed, sums, top = fleets
    asked = PREPARE["normal-plain"](CELL, sums, top)
    q = ASKED["R"]
    for i in range(len(ends)):
        theta = float(np.exp(top.log_shape[i]))
        scale = OLDEST_H * float(np.exp(-top.log_rate[i] / theta))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            fit = WeibullFitter(alpha=1 - LEVEL).fit(
                ends[i],
                failed[i],
                timeline=[600.0, CLAIM_H],
                initial_point=np.array([scale, theta]),
            )
        low, high = fit.confidence_interval_survival_function_.loc[CLAIM_H].to_numpy()
        # an edge lies where the margin changes sign: ask just on either side of it
        for edge, upper in ((low, False), (high, True)):
            if not 0.0 < edge < 1.0:
                continue
            # lifelines' optimiser stops some 5e-4 short in its parameters
            for shift in (-1e-3, 1e-3):
                value = edge + shift * (1 - edge)
                score = float(q.score_of(value, OLDEST_H))
                holds = asked.margin(q, score, upper)[0][i] >= 0
                assert holds == ((value < edge) if upper else (value > edge)), (i, upper, shift)


@pytest.mark.slow
def test_log_normal_limits_are_those_of_reliability(fleets) -> None:  # type: ignore[no-untyped-def]
    logging.disable(logging.CRITICAL)
    from reliability.Fitters import Fit_Weibull_2P

    ends, failed, sums, top = fleets
    asked = PREPARE["normal-log"](CELL, sums, top)
    q = ASKED["B10"]
    for i in range(len(ends)):
        with warnings.catch_warnings(), contextlib.redirect_stdout(io.StringIO()):
            warnings.simplefilter("ignore")
            fit = Fit_Weibull_2P(
                failures=ends[i][failed[i]],
                right_censored=ends[i][~failed[i]],
                CI=LEVEL,
                quantiles=[0.1],
                show_probability_plot=False,
                print_results=False,
            )
        row = fit.quantiles.iloc[0]
        for edge, upper in ((row["Lower Estimate"], False), (row["Upper Estimate"], True)):
            for shift in (-2e-3, 2e-3):
                value = edge * (1 + shift)
                score = float(q.score_of(value, OLDEST_H))
                holds = asked.margin(q, score, upper)[0][i] >= 0
                assert holds == ((value < edge) if upper else (value > edge)), (i, upper, shift)
    logging.disable(logging.NOTSET)
