"""Makers of cautions on rates that changed and on forecasts that failed; see `caution_makers`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from caution_makers import NS, maker

from fleetstats.chapters.ahead import backtest
from fleetstats.chapters.change.values import ChangeLine
from fleetstats.chapters.change.words import change_cautions
from fleetstats.studies.watch.words import watch_cautions
from fleetstats.survival.change.scan import Change
from fleetstats.vocabulary.caution import Caution

DAY = float(dt.date(2024, 9, 1).toordinal())


def _changed(p_held: float, before: float, after: float) -> Iterable[Caution]:
    change = Change(
        n=int(before + after), day=DAY, day_low=DAY - 40, day_high=DAY + 40, n_before=before,
        n_after=after, expected_before=8.0, expected_after=2.0,
        factor=None if before == 0 else after * 4 / before, low=2.0,
        high=None if before == 0 else 9.0, ratio=9.0, critical=5.0, p_value=p_held,
        chance_after=p_held, level=0.9, by_day=[],
    )  # fmt: skip
    line = ChangeLine(by="cause", name="valve", asked=True, hours_before=2e5, change=change,
                      p_held=p_held, powers=())  # fmt: skip
    return change_cautions(NS(flagged=(line,) if line.flagged else (), since=None))  # type: ignore[arg-type]


@maker("rate-changed")
def _(over: bool) -> Iterable[Caution]:
    return _changed(0.049 if over else 0.05, 4, 6)


@maker("rate-changed/new")
def _(over: bool) -> Iterable[Caution]:
    return _changed(0.049 if over else 0.05, 0, 10)


@maker("rate-fell")
def _(over: bool) -> Iterable[Caution]:
    return _changed(0.049 if over else 0.05, 10, 0)


@maker("forecast-failed")
def _(over: bool) -> Iterable[Caution]:
    told = NS(verdict="more" if over else "inside", at=dt.date(2024, 1, 1), seen=9,
              forecast=NS(low=1, high=8))  # fmt: skip
    return backtest._cautions(told)  # type: ignore[arg-type]


@maker("watch-alarm")
def _(over: bool) -> Iterable[Caution]:
    line = NS(told=9.0, to_alarm=8.0, n_since=3, n_before=0, expected=0.0)
    one = NS(by="new", name="valve", line=line, state="alarm" if over else "look")
    return watch_cautions(NS(lines=(one,), base_day=dt.date(2024, 1, 1)))  # type: ignore[arg-type]
