"""Is the last year worse than the year before: failures and hours by the calendar.

Each life runs evenly between its two dates, so its hours fall into either year by days; a failure
counts in the year that holds its date. The plain comparison is of failures per hour. A fleet that
grows older fails more often without being worse, so the same is asked at equal age as well:
against the failures expected in each year by the fit, whose scale drops out.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleetstats.core.errors import SpellError
from fleetstats.core.value import Array, Value, value
from fleetstats.portfolio.risen import chance_risen
from fleetstats.records.life import LifeRow
from fleetstats.spells.event import Event
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.groups.rate_ratio import compare_rates
from fleetstats.vocabulary.wording import count

YEAR_DAYS = 365


@value
class YearComparison(Value):
    """The last year beside the year before it.

    Parameters
    ----------
    until : date
        Last day of the last year: the analysis date.
    failed, failed_before : float
        Failures in question in the last year, and in the year before.
    hours, hours_before : float
        Hours at risk in each.
    ratio, ratio_low, ratio_high : float or None
        Failures per hour over those of the year before, with exact limits at `level`.
    p_worse : float or None
        Chance of so many of the failures in the last year, or more, if nothing changed; None where
        no failure is dated in either year or one of them holds no hours.
    p_worse_at_age : float or None
        The same at equal age; None besides where nothing is fitted.
    n_undated : float
        Lives whose dates do not place their hours; they are in neither year.
    undated_failed : float
        Failures among them.
    level : float
    p_risen : float or None
        Chance of so many failures in the last year, or more, against all years before it at equal
        age; see `chance_risen`.
    """

    until: dt.date
    failed: float
    failed_before: float
    hours: float
    hours_before: float
    ratio: float | None
    ratio_low: float | None
    ratio_high: float | None
    p_worse: float | None
    p_worse_at_age: float | None
    n_undated: float
    undated_failed: float
    level: float
    sentence: str
    p_risen: float | None = None


def compare_years(
    rows: Sequence[LifeRow], spells: Spells, fit: Fit | None, settings: Settings
) -> YearComparison:
    """Compare the year up to the analysis date with the year before it.

    Parameters
    ----------
    rows : sequence of LifeRow
        The life behind each spell, in the same order.
    spells : Spells
        The spells.
    fit : Fit or None
        For the comparison at equal age.
    settings : Settings
        Analysis date and confidence.

    Raises
    ------
    SpellError
        If the two have different lengths, or the study has no analysis date.
    """
    until, level = settings.study.analysis_date, settings.study.confidence
    if len(rows) != len(spells) or until is None:
        raise SpellError(
            f"{len(rows)} rows stand beside {len(spells)} spells, as of {until}.",
            "Give the row of each spell, and an analysis date.",
        )
    start, end = _days(rows)
    dated = np.isfinite(start) & (end > start)
    last = float(until.toordinal())
    w = spells.weight
    now = _year(spells, fit, start, end, dated, last - YEAR_DAYS, last)
    before = _year(spells, fit, start, end, dated, last - 2 * YEAR_DAYS, last - YEAR_DAYS)
    ratio = low = high = p = p_age = None
    if now.hours > 0 and before.hours > 0 and now.failed + before.failed > 0:
        plain = compare_rates(now.failed, now.hours, before.failed, before.hours, level=level)
        ratio, low, high, p = plain.ratio, plain.low, plain.high, plain.p_greater
        if now.expected > 0 and before.expected > 0:
            p_age = compare_rates(
                now.failed, now.expected, before.failed, before.expected
            ).p_greater
    undated = float(w[~dated].sum())
    lost = float(w[~dated & (spells.event == Event.FAILED)].sum())
    return YearComparison(
        until=until,
        failed=now.failed,
        failed_before=before.failed,
        hours=now.hours,
        hours_before=before.hours,
        ratio=ratio,
        ratio_low=low,
        ratio_high=high,
        p_worse=p,
        p_worse_at_age=p_age,
        n_undated=undated,
        undated_failed=lost,
        level=level,
        sentence=_sentence(now, before, ratio, undated),
        p_risen=chance_risen(rows, spells, settings),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Year:
    failed: float
    hours: float
    expected: float


def _year(
    spells: Spells, fit: Fit | None, start: Array, end: Array, dated: Array, a: float, b: float
) -> _Year:
    """Sum failures, hours and failures expected of days ``(a, b]``."""
    first, stop = np.maximum(start, a), np.minimum(end, b)
    inside = dated & (stop > first)
    s = spells.select(inside)
    begin, length = start[inside], end[inside] - start[inside]
    rate = (s.exit_upper - s.entry) / length
    low = s.entry + rate * (first[inside] - begin)
    high = s.entry + rate * (stop[inside] - begin)
    expected = 0.0
    if fit is not None and len(s):
        rise = fit.cumulative_hazard(high) - fit.cumulative_hazard(low)
        expected = float((s.weight * rise).sum())
    died = dated & (spells.event == Event.FAILED) & (end > a) & (end <= b)
    return _Year(
        failed=float(spells.weight[died].sum()),
        hours=float((s.weight * (high - low)).sum()),
        expected=expected if math.isfinite(expected) else 0.0,
    )


def _days(rows: Sequence[LifeRow]) -> tuple[Array, Array]:
    """Return the first and the last day of each life's observation; NaN where not known."""
    start, end = np.full(len(rows), np.nan), np.full(len(rows), np.nan)
    for i, row in enumerate(rows):
        last = row.ended or (row.last_reading if row.ending in ("running", "lost") else None)
        if last is None:
            continue
        end[i] = last.toordinal()
        if row.observed_from is not None:
            start[i] = row.observed_from.toordinal()
        elif row.in_service is not None:
            born = row.in_service.toordinal()
            # heard of late, with no date of that: even use since its life began
            start[i] = born + (end[i] - born) * row.entry_h / row.exit_h
    return start, np.nan_to_num(end, nan=-1.0)


def _sentence(now: _Year, before: _Year, ratio: float | None, undated: float) -> str:
    text = (
        f"In the last year {count(now.failed, 'failure')} in {now.hours:,.0f} h, in the year "
        f"before {count(before.failed, 'failure')} in {before.hours:,.0f} h"
    )
    if ratio is None:
        text += ": the two cannot be compared"
    elif math.isfinite(ratio):
        text += f", {ratio:.2g} times the rate"
    if undated:
        text += f"; {count(undated, 'life', 'lives')} without dates, in neither"
    return text + "."
