"""Each engine: what may come of it, how worn it is beside the others, and which to look at first.

An engine past the evidence horizon is set apart and not ranked: a curve run on beyond the oldest
engines would rank them by an extrapolation.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from fleetstats.bands.draws import draw_lives
from fleetstats.chapters.ahead.outlook_curves import Chance, Curves
from fleetstats.core.units import one_in, text_hours, text_percent
from fleetstats.core.value import Array, Value, value
from fleetstats.spells.running import RunningEngine, ages_of, refuse_too_many
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.ids import id_order, normalise_id
from fleetstats.vocabulary.wording import at_least, at_most, count, listed

if TYPE_CHECKING:
    import pandas as pd

NEXT_H = 100.0
"""Hours of the second outlook beside the next check (a common planning step, no source)."""
REMAINING_SHARE = 0.10
"""Share that fails within the "remaining life" shown: the careful one in ten, not the median."""
DRAWS = 1000
"""Parameter draws behind the outlooks; their percentiles are shown to two digits."""


@value
class Sign(Value):
    """Something seen on one engine, from trends or records, that outranks statistics.

    `weight` orders signs: 3 look first, 2 look soon, 1 doubt about the record.
    """

    weight: int
    text: str


@value
class EngineOutlook(Value):
    """One running engine.

    Parameters
    ----------
    next_check, next_100 : Chance
        Chance of the failure in question within the next check and the next 100 h.
    to_overhaul : Chance or None
        To the planned overhaul; None where none is stated or it is past.
    remaining_low_h, remaining_h, remaining_high_h : float or None
        Further hours within which one in ten of such engines fails, with its band; None where
        they lie past the evidence horizon.
    worn : float
        Share of the running engines that have run fewer hours.
    beyond : bool
        Older than the evidence horizon.
    signs : tuple of Sign
        Reasons to look, heaviest first.
    rank : int or None
        Place on the watch list; None past the horizon without a sign.
    """

    engine: str
    source: str
    build: str
    age_h: float
    read_on: str
    next_check: Chance
    next_100: Chance
    to_overhaul: Chance | None
    remaining_low_h: float | None
    remaining_h: float | None
    remaining_high_h: float | None
    worn: float
    beyond: bool
    signs: tuple[Sign, ...]
    reason: str
    rank: int | None = None
    count: int = 1


@value
class Outlook(Value):
    """All running engines, worst first; those past the horizon after them.

    Parameters
    ----------
    engines : tuple of EngineOutlook
        Ranked ones in order, then those set apart, oldest first.
    horizon_h : float
        Hours to which the evidence reaches.
    """

    engines: tuple[EngineOutlook, ...]
    sentences: tuple[str, ...]
    level: float
    check_h: float
    planned_h: float | None
    horizon_h: float
    method: str
    why: str
    cautions: tuple[Caution, ...] = ()

    @property
    def ranked(self) -> tuple[EngineOutlook, ...]:
        """Return the engines on the watch list, in order."""
        return tuple(e for e in self.engines if e.rank is not None)

    @property
    def apart(self) -> tuple[EngineOutlook, ...]:
        """Return the engines past the horizon that no sign puts on the list."""
        return tuple(e for e in self.engines if e.rank is None)

    def to_frame(self) -> pd.DataFrame:
        """Return a table with one row to an engine, in the order of the list."""
        import pandas as pd

        rows = []
        for e in self.engines:
            row: dict[str, object] = {"rank": e.rank, "engine": e.engine, "age_h": e.age_h}
            named = (("check", e.next_check), ("next_100", e.next_100), ("overhaul", e.to_overhaul))
            for name, c in named:
                row[name] = None if c is None else c.estimate
                row[f"{name}_low"] = None if c is None else c.low
                row[f"{name}_high"] = None if c is None else c.high
            row |= {"worn": e.worn, "beyond": e.beyond, "reason": e.reason}
            rows.append(row)
        return pd.DataFrame(rows)

    def __repr__(self) -> str:
        top = [f"  {e.rank}. {e.engine}: {e.reason}" for e in self.ranked[:5]]
        return "\n".join(("Outlook of each engine", *self.sentences, *top))


def look_ahead(
    spells: Spells,
    fit: Fit | None,
    engines: tuple[RunningEngine, ...],
    settings: Settings,
    signs: Mapping[str, tuple[Sign, ...]] | None = None,
) -> Outlook | None:
    """Give each running engine its outlook, and rank those that may be ranked.

    Rank goes by the heaviest sign first, then by the upper edge of the chance of failing within
    the next 100 h, so that doubt puts an engine up the list, not down.

    Parameters
    ----------
    spells : Spells
        The lives behind the chances.
    fit : Fit or None
        Their Weibull fit; None where none exists.
    engines : tuple of RunningEngine
        Engines in service.
    settings : Settings
        Tables check, study, forecast, evidence, hours.
    signs : mapping of str to tuple of Sign, optional
        By engine id in the form in which engines are compared: trends, findings, doubts.

    Returns
    -------
    Outlook or None
        None where no engine runs.

    Raises
    ------
    FitError
        If more engines run than can be ranked at once.
    """
    if not engines:
        return None
    refuse_too_many(engines)
    check_h, level = settings.check.interval_h, settings.study.confidence
    planned = settings.forecast.planned_overhaul_h or settings.study.claimed_interval_h
    horizon = spells.horizon_h(least=settings.evidence.min_at_risk)
    age = np.array([e.age_h for e in engines])
    curves = Curves(spells=spells, fit=fit, settings=settings)
    within_check, within_next = curves.within(age, check_h), curves.within(age, NEXT_H)
    to_planned = curves.until(age, planned) if planned is not None else [None] * len(age)
    draws = draw_lives(spells, settings.evidence, DRAWS, seed=settings.study.seed)
    left = _edges(draws.remaining_life(age, REMAINING_SHARE), level)
    everyone = np.sort(ages_of(engines))
    worn = np.searchsorted(everyone, age, side="left") / len(everyone)
    rows = []
    for i, e in enumerate(engines):
        mine = _weighed((*(signs or {}).get(normalise_id(e.engine), ()), *_doubts(e, settings)))
        beyond = bool(age[i] > horizon)
        low, mid, high = (float(x[i]) if age[i] + x[i] <= horizon else None for x in left)
        rows.append(
            EngineOutlook(
                engine=e.engine,
                source=e.source,
                build=e.build,
                age_h=e.age_h,
                read_on=e.read_on,
                next_check=within_check[i],
                next_100=within_next[i],
                to_overhaul=to_planned[i],
                remaining_low_h=low,
                remaining_h=mid,
                remaining_high_h=high,
                worn=float(worn[i]),
                beyond=beyond,
                signs=mine,
                reason=_reason(mine, within_next[i], beyond, horizon),
                count=e.count,
            )
        )
    ordered = _ranked(rows)
    return Outlook(
        engines=ordered,
        sentences=_sentences(ordered, horizon, check_h, level),
        level=level,
        check_h=check_h,
        planned_h=planned,
        horizon_h=horizon,
        method=curves.method,
        why=curves.why,
        cautions=_cautions(ordered, horizon),
    )


def _weighed(signs: tuple[Sign, ...]) -> tuple[Sign, ...]:
    return tuple(sorted(signs, key=lambda s: -s.weight))


def _edges(values: Array, level: float) -> tuple[Array, Array, Array]:
    """Lower edge, median and upper edge over the draws (B, n)."""
    tail = (1.0 - level) / 2.0
    low, mid, high = np.quantile(values, (tail, 0.5, 1.0 - tail), axis=0)
    return low, mid, high


def _doubts(e: RunningEngine, settings: Settings) -> tuple[Sign, ...]:
    if e.stale:
        return (Sign(weight=1, text=f"last read on {e.read_on}: its hours are not known today"),)
    if not e.read_on and settings.study.analysis_date is not None:
        return (Sign(weight=1, text="the last reading has no date"),)
    return ()


def edges(chance: Chance) -> str:
    """Say the band of a chance, rounded outward; a missing edge is named."""
    high = "no upper limit" if chance.high is None else at_most(chance.high)
    return f"up to {high}" if not chance.low else f"{at_least(chance.low)} to {high}"


def _upper(e: EngineOutlook) -> float:
    return 1.0 if e.next_100.high is None else e.next_100.high


def _reason(signs: tuple[Sign, ...], chance: Chance, beyond: bool, horizon: float) -> str:
    said = [s.text for s in signs]
    if beyond:
        said.append(f"older than the evidence reaches ({text_hours(horizon)})")
    else:
        said.append(
            f"chance of failing within {chance.width_h:g} h {text_percent(chance.estimate)} "
            f"({edges(chance)})"
        )
    return "; ".join(said)


def _ranked(rows: list[EngineOutlook]) -> tuple[EngineOutlook, ...]:
    import dataclasses

    def serious(e: EngineOutlook) -> int:
        return max((s.weight for s in e.signs if s.weight > 1), default=0)

    listed_rows = [e for e in rows if not e.beyond or serious(e)]
    apart = [e for e in rows if e.beyond and not serious(e)]
    # An engine past the horizon is here for its sign alone; its own chance does not rank it.
    listed_rows.sort(
        key=lambda e: (-serious(e), -(0.0 if e.beyond else _upper(e)), -e.age_h, id_order(e.engine))
    )
    out = [dataclasses.replace(e, rank=i) for i, e in enumerate(listed_rows, start=1)]
    return (*out, *sorted(apart, key=lambda e: (-e.age_h, id_order(e.engine))))


def _sentences(
    rows: tuple[EngineOutlook, ...], horizon: float, check_h: float, level: float
) -> tuple[str, ...]:
    ranked = [e for e in rows if e.rank is not None]
    apart = [e for e in rows if e.rank is None]
    signed = [e for e in ranked if any(s.weight > 1 for s in e.signs)]
    first = [e for e in signed if e.signs[0].weight > 2]
    out = []
    if first:
        out.append(
            f"Look first at {_named(first)}: signs at their checks put them there, and a bad sign "
            "outranks every statistic here."
        )
    soon = [e for e in signed if e not in first]
    if soon:
        out.append(f"Look soon at {_named(soon)}: weaker signs, which a retest may settle.")
    plain = [e for e in ranked if e not in signed and not e.beyond]
    if plain:
        e = plain[0]
        c = e.next_check
        out.append(
            f"By hours alone {e.engine} comes first, with {text_hours(e.age_h)}: its chance of the "
            f"failure in question within the next {check_h:g} h is "
            f"{'not known' if c.estimate is None else one_in(c.estimate)} ({edges(c)}, "
            f"{100 * level:g} % band)."
        )
    if apart:
        out.append(
            f"{count(sum(e.count for e in apart), 'engine is', 'engines are')} older than "
            f"{text_hours(horizon)}, where the evidence ends; nothing here ranks them. Their own "
            "checks alone can speak for them."
        )
    out.append("No place on this list is a clean bill of health.")
    return tuple(out)


def _named(rows: list[EngineOutlook]) -> str:
    names = [e.engine for e in rows[:5]]
    return listed(names if len(rows) <= 5 else [*names, f"{len(rows) - 5} more"])


def _cautions(rows: tuple[EngineOutlook, ...], horizon: float) -> tuple[Caution, ...]:
    apart = sum(e.count for e in rows if e.beyond)
    if not apart:
        return ()
    return (
        caution(
            "past-support/outlook",
            value=count(apart, "engine"),
            limit=f"evidence to {horizon:,.0f} h",
        ),
    )
