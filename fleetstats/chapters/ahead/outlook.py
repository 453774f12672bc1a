"""Each engine: what may come of it, how worn it is beside the others, and which to look at first.

An engine past the evidence horizon is set apart and not ranked: a curve run on beyond the oldest
engines would rank them by an extrapolation.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from fleetstats.bands.averaged.curves import LifeCurves
from fleetstats.chapters.ahead.failures_ahead import draws_ahead
from fleetstats.chapters.ahead.outlook_curves import Chance, Curves, OneChance
from fleetstats.chapters.ahead.outlook_values import EngineOutlook, Outlook, Sign
from fleetstats.chapters.ahead.outlook_words import (
    chance_words,
    oldest_sentence,
    outlook_sentences,
    reason_words,
)
from fleetstats.chapters.ahead.read_off import at_ages
from fleetstats.chapters.ahead.told_between import sign_of, upper_edges, worse_of
from fleetstats.core.gate import gate
from fleetstats.core.value import Array
from fleetstats.spells.running import RunningEngine, ages_of, refuse_too_many
from fleetstats.spells.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.fit import Fit
from fleetstats.survival.lives import FIT, LIVES, SETTINGS
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.ids import id_order, normalise_id
from fleetstats.vocabulary.wording import count

NEXT_H = 100.0
"""Hours of the second outlook beside the next check (a common planning step, no source)."""
REMAINING_SHARE = 0.10
"""Share that fails within the "remaining life" shown: the careful one in ten, not the median."""
DRAWS = 1000
"""Parameter draws behind the outlooks; their percentiles are shown to two digits."""


@gate(spells=LIVES, fit=FIT.or_none, settings=SETTINGS)
def look_ahead(
    spells: Spells,
    fit: Fit | None,
    engines: tuple[RunningEngine, ...],
    settings: Settings,
    signs: Mapping[str, tuple[Sign, ...]] | None = None,
    everyone: tuple[Array, Array] | None = None,
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
    everyone : (k,) hours and (k,) counts, optional
        Ages of all engines in service, rising, where `engines` are some of them.

    Returns
    -------
    Outlook or None
        None where no engine runs.

    Raises
    ------
    FitError
        If more engines run than can be ranked at once.

    References
    ----------
    Meeker & Escobar (1998), Statistical Methods for Reliability Data, chapter 12, for
    a unit that runs; the ranking is ours.

    Examples
    --------
    >>> import fleetstats as fs
    >>> lives = fs.Spells.of(0, range(100, 2100, 50), [0, 0, 0, 1] * 10)
    >>> engines = tuple(
    ...     fs.RunningEngine(
    ...         engine=f"E{k}",
    ...         source="",
    ...         build="",
    ...         age_h=500.0 * k,
    ...         use_h=90,
    ...         use_from="own",
    ...         read_on="2026-05-01",
    ...         stale=False,
    ...     )
    ...     for k in (1, 2, 3)
    ... )
    >>> ahead = fs.look_ahead(lives, fs.fit_weibull(lives), engines, fs.Settings())
    >>> print(ahead)
    Outlook of each engine
    By hours alone E3 comes first, with 1,500 h: its chance of the failure in question ...
    No place on this list is a clean bill of health.
      1. E3: chance of failing within 100 h 4.7 % (2.4 % to 11 %)
      2. E2: chance of failing within 100 h 2.8 % (1.4 % to 5.8 %)
      3. E1: chance of failing within 100 h 1.7 % (0.51 % to 3.2 %)
    """
    if not engines:
        return None
    refuse_too_many(engines)
    check_h, level = settings.check.interval_h, settings.study.confidence
    planned = settings.forecast.planned_overhaul_h or settings.study.claimed_interval_h
    horizon = spells.horizon_h(least=settings.evidence.min_at_risk)
    age = np.array([e.age_h for e in engines])
    # past the evidence nothing is said, so that an upper edge there counts up to its end
    high = np.maximum(np.minimum(upper_edges(engines), horizon), age)
    top = float(high.max()) + max(check_h, NEXT_H)
    draws = draws_ahead(spells, settings, DRAWS, top_h=max(top, planned or 0.0))
    curves = Curves(spells=spells, fit=fit, settings=settings, draws=draws)
    within_check = _at_both(age, high, lambda t: curves.within(t, check_h))
    within_next = _at_both(age, high, lambda t: curves.within(t, NEXT_H))
    to_planned = _to_planned(curves, age, high, planned)
    left = _left(draws, age, high, level)
    worn = (_worn(engines, age) if everyone is None else _worn_among(*everyone, age)).tolist()
    mine = _signs(engines, settings, horizon, signs or {})
    beyond = (age > horizon).tolist()
    # engines of one age share a chance
    said = {k: chance_words(c) for k, c in {id(c): c for c in within_next}.items()}
    least, middle, most = (_told(x, age + x <= horizon) for x in left)
    rows = [
        EngineOutlook(
            engine=(e := engines[i]).engine, source=e.source, build=e.build, age_h=e.age_h,
            read_on=e.read_on,
            next_check=within_check[i], next_100=within_next[i], to_overhaul=to_planned[i],
            remaining_low_h=least[i], remaining_h=middle[i], remaining_high_h=most[i],
            worn=worn[i],
            age_high_h=e.age_high_h if e.told_between else None, beyond=beyond[i], signs=mine[i],
            reason=reason_words(mine[i], said[id(within_next[i])], beyond[i], horizon),
            count=e.count, rank=rank,
        )
        for i, rank in _ranked(engines, mine, within_next, beyond)
    ]  # fmt: skip
    ordered = tuple(rows)
    return Outlook(
        engines=ordered,
        sentences=outlook_sentences(ordered, horizon, check_h, level),
        level=level,
        check_h=check_h,
        planned_h=planned,
        horizon_h=horizon,
        method=curves.method,
        why=curves.why,
        cautions=_cautions(ordered, horizon),
    )


def _worn(engines: tuple[RunningEngine, ...], age: Array) -> Array:
    """Return the share of engines that ran less than each."""
    everyone = np.sort(ages_of(engines))
    return np.asarray(np.searchsorted(everyone, age, side="left") / len(everyone))


def look_at_oldest(
    spells: Spells,
    fit: Fit | None,
    engines: tuple[RunningEngine, ...],
    settings: Settings,
    everyone: tuple[Array, Array],
) -> Outlook | None:
    """Give the engines with most hours their outlook, and say of how many they are.

    Parameters
    ----------
    spells, fit, settings : Spells, Fit or None, Settings
        As for `look_ahead`.
    engines : tuple of RunningEngine
        Those with most hours.
    everyone : (k,) hours and (k,) counts
        Ages of all engines in service, rising.
    """
    found = look_ahead(spells, fit, engines, settings, everyone=everyone)
    if found is None:
        return None
    of = int(everyone[1].sum())
    said = oldest_sentence(sum(e.count for e in engines), of)
    return replace(found, sentences=(found.sentences[0], said, *found.sentences[1:]))


def _worn_among(hours: Array, counts: Array, age: Array) -> Array:
    """Return the share of all engines that ran less than each."""
    below = np.concatenate([[0.0], np.cumsum(counts)])
    return np.asarray(below[np.searchsorted(hours, age, side="left")] / below[-1])


def _to_planned(
    curves: Curves, age: Array, high: Array, planned: float | None
) -> list[Chance | None]:
    """Return each engine's chance of failing before its planned overhaul, where one is planned."""
    if planned is None:
        return [None] * len(age)
    return list(_at_both(age, high, lambda t: curves.until(t, planned)))


def _signs(
    engines: Sequence[RunningEngine],
    settings: Settings,
    horizon: float,
    told: Mapping[str, tuple[Sign, ...]],
) -> list[tuple[Sign, ...]]:
    """Return the signs on each engine, those told by its id and doubts, heaviest first."""
    theirs = [told.get(normalise_id(e.engine), ()) if told else () for e in engines]
    doubts = (_doubts(e, settings, horizon) for e in engines)
    return [_weighed((*a, *b)) for a, b in zip(theirs, doubts, strict=True)]


def _told(hours: Array, known: Array) -> list[float | None]:
    """Return (n,) hours as numbers, None where they are not known."""
    return [h if k else None for h, k in zip(hours.tolist(), known.tolist(), strict=True)]


def _weighed(signs: tuple[Sign, ...]) -> tuple[Sign, ...]:
    return tuple(sorted(signs, key=lambda s: -s.weight))


def _left(draws: LifeCurves, low: Array, high: Array, level: float) -> tuple[Array, ...]:
    """Return the hours left with their band, at the edge where fewer are left."""
    n, tail = len(low), (1.0 - level) / 2.0
    both = at_ages(
        np.concatenate([low, high]),
        lambda t: np.quantile(
            draws.remaining_life(t, REMAINING_SHARE), (tail, 0.5, 1.0 - tail), axis=0
        ),
    )
    return tuple(np.minimum(both[:, :n], both[:, n:]))


def _at_both(
    low: Array, high: Array, chances: Callable[[Array], Sequence[OneChance]]
) -> list[OneChance]:
    """Return each engine's chance, at the worse edge where its hours lie between two."""
    between = np.flatnonzero(high > low)
    told = chances(np.concatenate([low, high[between]]))
    out = list(told[: len(low)])
    for i, other in zip(between, told[len(low) :], strict=True):
        mine = out[i]
        if other is not None:  # none is told past the planned overhaul, which the low edge is not
            out[i] = other if mine is None else worse_of(mine, other)
    return out


def _doubts(e: RunningEngine, settings: Settings, horizon: float) -> tuple[Sign, ...]:
    out = sign_of(e, horizon)
    if e.stale:
        return (
            Sign(weight=1, text=f"last read on {e.read_on}: its hours are not known today"),
            *out,
        )
    if not e.read_on and settings.study.analysis_date is not None:
        return (Sign(weight=1, text="the last reading has no date"), *out)
    return out


def _upper(chance: Chance) -> float:
    return 1.0 if chance.high is None else chance.high


def _ranked(
    engines: Sequence[RunningEngine],
    signs: Sequence[tuple[Sign, ...]],
    chances: Sequence[Chance],
    beyond: Sequence[bool],
) -> list[tuple[int, int | None]]:
    """Return the places of the engines in the order of the list, each with its rank, if any."""
    serious = [max((s.weight for s in x if s.weight > 1), default=0) if x else 0 for x in signs]
    # An engine past the horizon is here for its sign alone; its own chance does not rank it.
    first = [
        (-weight, 0.0 if past else -_upper(c), -e.age_h, id_order(e.engine), i)
        for i, (weight, past, c, e) in enumerate(
            zip(serious, beyond, chances, engines, strict=True)
        )
        if weight or not past
    ]
    apart = [
        (-engines[i].age_h, id_order(engines[i].engine), i)
        for i, past in enumerate(beyond)
        if past and not serious[i]
    ]
    ranked = [(i, rank) for rank, (*_, i) in enumerate(sorted(first), start=1)]
    return [*ranked, *((i, None) for *_, i in sorted(apart))]


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
