"""Makers of cautions from counting, comparing and ranking; see `caution_makers`."""

from __future__ import annotations

from collections.abc import Iterable
from unittest import mock

import numpy as np
from advice_fleets import made_settings
from caution_makers import MAKERS, NS, fleet, maker

from fleetstats.chapters.curve_fit import compute as curve_fit
from fleetstats.portfolio import document as portfolio
from fleetstats.spells import Spells
from fleetstats.spells.histories import Histories
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.trouble.words import caution_left_out
from fleetstats.studies.compare import document as compare
from fleetstats.studies.compare.settings import SettingChange
from fleetstats.survival.counting import entry_check, product_limit
from fleetstats.survival.groups import between
from fleetstats.survival.recurrent import recurrent
from fleetstats.survival.regression import regression
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import CAUTIONS

# -- counting --------------------------------------------------------------------------------------


def _events(counts: list[int]) -> Iterable[Caution]:
    names = [f"E{i}" for i in range(len(counts))]
    hours = np.concatenate([np.arange(1.0, n + 1.0) for n in counts])
    return recurrent._cautions(Histories.of(names, 0.0, 100.0, np.repeat(names, counts), hours))


MAKERS["few-failures/events"] = lambda over: _events([1] * (4 if over else 5))
MAKERS["one-unit/events"] = lambda over: _events([3, 3, 1, 1, 1, 1] if over else [3, 2, 2, 1, 1, 1])


@maker("prior-driven/sources")
def _(over: bool) -> Iterable[Caution]:
    """Four or five sources with failures; without rival priors their number alone decides."""
    n = 4 if over else 5
    names = np.repeat([f"S{i}" for i in range(n)], 20)
    ages = np.tile(np.linspace(100.0, 1000.0, 20), n)
    event = np.tile(np.arange(20) % 4 == 0, n).astype(int)
    spells = Spells.of(0.0, ages, event, source=names)
    return between.fit_between(spells, rivals=()).cautions


@maker("late-entry/related")
def _(over: bool) -> Iterable[Caution]:
    p = 0.0499 if over else 0.05
    return entry_check._caution(entry_check._reading(p, 0.3), p)


@maker("late-entry/curve")
def _(over: bool) -> Iterable[Caution]:
    entry = np.array([0.0, 0.0, 0.0, 0.0, 50.0 if over else 0.0])
    spells = Spells.of(entry, np.full(5, 900.0), np.zeros(5))
    return product_limit._start(spells, product_limit.LEAST_AT_RISK)[1]


@maker("thin-start")
def _(over: bool) -> Iterable[Caution]:
    n = 4 if over else 5
    return product_limit._start(fleet(0, n), product_limit.LEAST_AT_RISK)[1]


@maker("interval-known")
def _(over: bool) -> Iterable[Caution]:
    known = fleet(1, 9)
    lower = np.array(known.exit_lower)
    lower[0] -= 50.0 if over else 0.0
    return product_limit._start(known.replace(exit_lower=lower), 5)[1]


@maker("prior-driven/effects")
def _(over: bool) -> Iterable[Caution]:
    return _treated(9.9 if over else 10.0)


@maker("few-failures/effects")
def _(over: bool) -> Iterable[Caution]:
    return _treated(0.1 if over else 10.0)


def _treated(per: float) -> Iterable[Caution]:
    lives, x = NS(n_failed=per), NS(names=("bore",), values=np.zeros((1, 1)))
    treatment, _ = regression._treatment(
        lives, x, np.zeros(1, dtype=bool), regression.PLAIN_FROM, 3.0
    )  # type: ignore[arg-type]
    return regression._cautions(treatment, per, regression.PLAIN_FROM)


# -- the fitted curve ------------------------------------------------------------------------------


def _curve(over: bool, ahead: bool = False) -> Iterable[Caution]:
    """Just below and just at the limit of the p-value; the check itself is made on real lives."""
    check = curve_fit.CurveCheck(
        hours=1000.0,
        goodness=NS(p_value=None),
        low_h=[0.0],
        high_h=[1000.0],
        n_failed=[9.0],
        n_expected=[3.0],
        p_near=0.04,
        p_value=0.0499 if over else 0.05,
    )  # type: ignore[arg-type]
    with mock.patch.object(curve_fit, "_check", return_value=check):
        return curve_fit.caution_curve(None, made_settings(), ahead=ahead)


MAKERS["curve-does-not-fit"] = _curve
MAKERS["curve-does-not-fit/forecast"] = lambda over: _curve(over, ahead=True)


# -- comparing and ranking -------------------------------------------------------------------------


@maker("definition-changed")
def _(over: bool) -> Iterable[Caution]:
    return compare._unlike(
        (SettingChange(key="question.level" if over else "cost.planned", before="a", after="b"),)
    )


def _ranked(*, undated: int = 0, unnamed: int = 0, without: int = 0) -> Iterable[Caution]:
    ranked = (NS(row=NS(year=NS(n_undated=undated))),)
    return portfolio._cautions(
        NS(ranked=ranked, n_unnamed=unnamed, without_answer=("F",) * without)  # type: ignore[arg-type]
    )


MAKERS["undated-lives"] = lambda over: _ranked(undated=int(over))
MAKERS["rows-without-family"] = lambda over: _ranked(unnamed=int(over))
MAKERS["families-without-answer"] = lambda over: _ranked(without=int(over))

KEYS = tuple(f"{c}/{case}" if case else c for c, e in CAUTIONS.items() for case in e.cases)
"""Every case of the catalogue."""


# -- trouble ---------------------------------------------------------------------------------------


def _left(*reasons: str) -> Iterable[Caution]:
    return caution_left_out(
        [LeftOut(file="a.csv", row=i, low_h=0.0, high_h=9.0, reason=r)
         for i, r in enumerate(reasons)]
    )  # fmt: skip


MAKERS["failures-left-out"] = lambda over: _left(*(["has no hours"] if over else []))
MAKERS["failures-left-out/several"] = lambda over: _left(
    *(["has no hours", "is set aside"] if over else [])
)
