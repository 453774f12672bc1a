"""Clocks: tach, Hobbs and flight hours made one, with the range of what that may be worth.

A reading converts only by a stated factor, or by the engine's own where two meters were read side
by side. The factor's range is kept, so that a study can be run at both its ends.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import DataError
from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.log_event import LogEvent
from fleetstats.records.set_aside import SetAside
from fleetstats.records.told_values import moved
from fleetstats.records.treated import pool_finding
from fleetstats.study.settings import Settings
from fleetstats.study.study_checks import read_factor
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.ids import normalise_id

ENDS = ("low", "factor", "high")
"""Where in its range a factor is taken."""

READING_STEP_H = 0.1
"""Meters show tenths of an hour (common practice, no source); no factor is surer than that."""

SAME_DAY_READINGS = 3
"""Double readings needed before an engine's own factor has an interval."""


@value
class Factor(Value):
    """Hours of the standard clock for one hour of another meter, with its range.

    `engine` is empty for a factor stated for all engines; `n` is the number of double readings
    behind an engine's own.
    """

    meter: str
    factor: float
    low: float
    high: float
    engine: str = ""
    n: int = 0
    level: float | None = None

    def at(self, end: str) -> float:
        """Return the factor at one of `ENDS`."""
        return float(getattr(self, end))

    @property
    def how(self) -> str:
        """Return where the factor comes from, in words."""
        if not self.engine:
            return "stated in the study"
        return f"estimated from {self.n} double readings of engine '{self.engine}'"


@value
class Converted(Value):
    """Lives on the standard clock.

    Parameters
    ----------
    rows : tuple of LifeRow
        The lives that could be converted.
    findings : tuple of Finding
        One for each row without a factor.
    set_aside : tuple of SetAside
        The lines of those rows.
    factors : tuple of Factor
        Each factor used.
    at : str
        Where in their ranges the factors were taken.
    """

    rows: tuple[LifeRow, ...]
    findings: tuple[Finding, ...]
    set_aside: tuple[SetAside, ...]
    factors: tuple[Factor, ...]
    at: str


def stated_factors(settings: Settings) -> dict[str, Factor]:
    """Return the study's factors by meter kind; the standard clock's is 1."""
    standard = settings.hours.meter
    out = {standard: Factor(meter=standard, factor=1.0, low=1.0, high=1.0)}
    for meter, entry in settings.hours.factors.items():
        read = read_factor(entry)
        if read is not None:
            out[meter] = Factor(meter=meter, factor=read[0], low=read[1], high=read[2])
    return out


def estimate_factor(
    from_h: ArrayLike,
    to_h: ArrayLike,
    *,
    meter: str = "",
    engine: str = "",
    level: float = 0.90,
) -> Factor:
    """Estimate an engine's own factor from readings of two meters side by side.

    Parameters
    ----------
    from_h, to_h : (n,) float
        Readings of the meter to convert and of the standard one, in hours, in time order.
    meter, engine : str
        Names that the factor carries.
    level : float
        Two-sided confidence of the range.

    Returns
    -------
    Factor
        The ratio of the sums of increments, with a t interval whose variance grows with the
        hours run between two readings (ratio estimator; Cochran 1977, section 6.3, from memory),
        never narrower than the meters' resolution allows.

    Raises
    ------
    DataError
        If there are fewer than three readings, a reading is not a number, or a meter stands
        still or runs backwards: then it was changed between, and each meter needs its own list.
    """
    from scipy.special import ndtri, stdtrit

    x, y = np.asarray(from_h, dtype=np.float64), np.asarray(to_h, dtype=np.float64)
    who = f" of engine '{engine}'" if engine else ""
    if x.shape != y.shape or x.ndim != 1 or len(x) < SAME_DAY_READINGS:
        raise DataError(
            f"Too few double readings{who}: {min(x.size, y.size)}.",
            f"An own factor needs {SAME_DAY_READINGS} pairs of readings.",
        )
    dx, dy = np.diff(x), np.diff(y)
    if not np.isfinite([dx, dy]).all() or (dx <= 0).any() or (dy <= 0).any():
        raise DataError(
            f"The double readings{who} do not both rise.",
            "Correct the reading, or part the list where a meter was changed.",
        )
    k = float(dy.sum() / dx.sum())
    m = len(dx)
    spread = float(((dy - k * dx) ** 2 / dx).sum()) / (m - 1) / float(dx.sum())
    half = float(stdtrit(m - 1, 0.5 + level / 2)) * math.sqrt(spread)
    # Only the first and the last readings' rounding is left in the ratio of the sums.
    rounding = READING_STEP_H * math.sqrt((1.0 + k * k) / 6.0) / float(dx.sum())
    half = max(half, float(ndtri(0.5 + level / 2)) * rounding)
    return Factor(
        meter=meter, factor=k, low=max(k - half, 0.0), high=k + half, engine=engine, n=len(x),
        level=level,
    )  # fmt: skip


def estimate_own_factors(
    events: Iterable[LogEvent], settings: Settings
) -> tuple[tuple[Factor, ...], tuple[Finding, ...]]:
    """Return each engine's own factor where its log has readings of two meters on the same days.

    Parameters
    ----------
    events : iterable of LogEvent
        Events in the hours of their meters, not converted.
    settings : Settings
        The standard clock, the stated factors and the confidence.

    Returns
    -------
    factors : tuple of Factor
    findings : tuple of Finding
        Double readings that give no factor, and factors outside the stated range.
    """
    standard = settings.hours.meter
    events = list(events)
    if not {e.meter for e in events} - {"", standard}:
        return (), ()  # there is no second meter
    stated = stated_factors(settings)
    pairs: dict[tuple[str, str], list[tuple[LogEvent, LogEvent]]] = {}
    by_day: dict[tuple[str, object], list[LogEvent]] = {}
    for e in events:
        if e.date is not None and e.hours is not None:
            by_day.setdefault((e.engine_id, e.date), []).append(e)
    for (engine, _), day in sorted(by_day.items(), key=lambda kv: (kv[0][0], str(kv[0][1]))):
        base = next((e for e in day if (e.meter or standard) == standard), None)
        for other in sorted({e.meter for e in day if e.meter and e.meter != standard}):
            if base is not None:
                twin = next(e for e in day if e.meter == other)
                pairs.setdefault((engine, other), []).append((twin, base))
    factors: list[Factor] = []
    findings: list[Finding] = []
    for (_, meter), twins in pairs.items():
        last = twins[-1][0]
        try:
            own = estimate_factor(
                [a.hours or 0.0 for a, _ in twins],
                [b.hours or 0.0 for _, b in twins],
                meter=meter,
                engine=last.engine,
                level=settings.study.confidence,
            )
        except DataError as error:
            findings.append(
                pool_finding(
                    "clock-no-own-factor", last.origin, settings,
                    engine=last.engine, column="meter", value=meter, problem=error.message,
                )
            )  # fmt: skip
            continue
        factors.append(own)
        wide = stated.get(meter)
        if wide is not None and (own.high < wide.low or own.low > wide.high):
            findings.append(
                pool_finding(
                    "clock-outside-range", last.origin, settings, engine=last.engine,
                    column="meter", value=meter, own_factor=own.factor, standard=standard,
                    meter=meter, own_low=own.low, own_high=own.high, stated_low=wide.low,
                    stated_high=wide.high,
                )
            )  # fmt: skip
    return tuple(factors), tuple(findings)


def own_by_engine(own: Iterable[Factor]) -> dict[tuple[str, str], Factor]:
    """Return own factors by engine id and meter."""
    return {(normalise_id(f.engine), f.meter): f for f in own}


def convert_clock(
    rows: Iterable[LifeRow],
    settings: Settings,
    *,
    at: str = "factor",
    own: tuple[Factor, ...] = (),
) -> Converted:
    """Convert lives from the hours of their meters to the standard clock.

    Parameters
    ----------
    rows : iterable of LifeRow
        Lives in the hours of their own `meter`; a blank meter is the standard one.
    settings : Settings
        The standard clock and the stated factors with their ranges.
    at : {"low", "factor", "high"}
        Where in their ranges the factors are taken, all of them alike.
    own : tuple of Factor
        Factors of single engines, which go before the stated ones.

    Returns
    -------
    Converted
        Rows without a factor are refused: each has a finding and is set aside.
    """
    return _convert(rows, settings, at, own, given=None)


def rescale_clock(
    rows: Iterable[LifeRow],
    settings: Settings,
    *,
    at: str,
    own: tuple[Factor, ...] = (),
) -> Converted:
    """Move lives already converted with ``at="factor"`` to the other end of their factors' range.

    The study's answer at ``"low"`` and at ``"high"`` shows what the clocks are worth; rows read
    from the standard clock stay as they are.
    """
    return _convert(rows, settings, at, own, given="factor")


def _convert(
    rows: Iterable[LifeRow],
    settings: Settings,
    at: str,
    own: tuple[Factor, ...],
    given: str | None,
) -> Converted:
    if at not in ENDS:
        raise DataError(f"at = '{at}'.", f"It must be one of {', '.join(ENDS)}.")
    stated = stated_factors(settings)
    mine = own_by_engine(own)
    out: list[LifeRow] = []
    findings: list[Finding] = []
    aside: list[SetAside] = []
    used: dict[tuple[str, str], Factor] = {}
    for row in rows:
        meter = row.meter or settings.hours.meter
        f = mine.get((row.engine_id, meter)) or stated.get(meter)
        if f is None:
            findings.append(
                pool_finding(
                    "clock-without-factor", row.origin, settings,
                    engine=row.engine, column="meter", value=meter, meter=meter,
                )
            )  # fmt: skip
            here = (row.origin.file, row.origin.sheet, row.origin.row or 0)
            aside += [
                SetAside(
                    file=file,
                    row=n,
                    reason=findings[-1].code,
                    message=findings[-1].message,
                    engine=row.engine,
                    source=row.source,
                    sheet=sheet,
                )
                for file, sheet, n in row.lines or (here,)
            ]
            continue
        used[f.engine, f.meter] = f
        out.append(scale_row(row, f.at(at) / (1.0 if given is None else f.at(given))))
    return Converted(
        rows=tuple(out),
        findings=tuple(findings),
        set_aside=tuple(aside),
        factors=tuple(used.values()),
        at=at,
    )


def scale_row(row: LifeRow, by: float) -> LifeRow:
    """Return a life with all its hours multiplied."""
    if by == 1.0:
        return row
    good = None if row.last_good_h is None else row.last_good_h * by
    return replace(
        row,
        entry_h=row.entry_h * by,
        exit_h=row.exit_h * by,
        carried_h=row.carried_h * by,
        exit_low_h=None if row.exit_low_h is None else row.exit_low_h * by,
        exit_high_h=None if row.exit_high_h is None else row.exit_high_h * by,
        last_good_h=good,
        life_start_h=row.life_start_h * by,
        modified_h=None if row.modified_h is None else row.modified_h * by,
        categories=moved(row.categories, by=by),
    )
