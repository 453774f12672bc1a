"""Lives of different engines that are the same to the digit: copies, or the chance of rounding.

How many equal lives chance makes is read from the records themselves, in two ways, of which the
larger counts. (1) Pairs of lives that agree in all but their hours, times the chance that hours of
this fleet fall on one value: the step of the reading times the density of two hours meeting,
counted among all pairs within `DENSITY_H`. (2) Neighbours, pairs that agree in all else and whose
hours are merely close: on a scale as fine as the step hours fall on one value as often as on each
value near it, so that the pairs within `REACH` steps on either side, divided by twice that number,
are what chance puts on the same value. The second knows that engines which entered service together
may have flown alike; the first has no need of neighbours. Readings are compared within their own
rounding (multiples of 100, 50, 10, 1 and 0.1 h), since rounded hours meet far more often. The
number seen is held against a Poisson law with that mean.

Round hours without any date say nothing of two engines (many come out at a limit, to the hour), so
of multiples of 10 h only lives with a date in common are compared. Hours told with a doubt, such as
"approx 800", are compared only where the engine has a day of its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from fleetstats.core.value import Array, Value, value
from fleetstats.records.audit.audit_dates import life_finding
from fleetstats.records.clocks.clocks import stated_factors
from fleetstats.records.life import LifeRow
from fleetstats.records.lives.plain_rows import NO_DAY, day_of
from fleetstats.records.near_ids import near_pairs, one_slip
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.limits import COPIES_CHANCE, NEAR_COPIES_CHANCE

STEPS_H = (100.0, 50.0, 10.0, 1.0, 0.1)
"""Roundings in which readings are compared, coarsest first; finer ones count as the last."""

REACH = {100.0: 3, 50.0: 4, 10.0: 10, 1.0: 50, 0.1: 50}
"""Steps on either side within which neighbours are counted: not so far that a fleet's hours lie
elsewhere, and whole rounds of the next coarser step."""

FILLED = {100.0: 1.0, 50.0: 0.5, 10.0: 0.8, 1.0: 0.9, 0.1: 0.9}
"""Share of the multiples of each step that are none of a coarser one. Neighbours fall on such a
value as often as that, equal lives always, so chance has 1 / share as many of these."""

UNDATED_BELOW_H = 10.0
"""Readings rounded to less than this are compared without a date too."""

SAME_H = 1e-3
"""Hours closer than this are the same; meters are read to 0.1 h."""

NO_PAIR = 0.5
"""Pairs that are added to those counted, so that none seen is not taken for a chance of 0."""

DENSITY_H, DENSITY_STEPS = 50.0, 4
"""Hours, and steps, within which two readings count for how densely a fleet's hours lie."""

HARDLY = 1.0
"""Equal lives that chance gives, below which those of a rounding are no chance beside copies."""

MOST_WEIGHED = 200
"""Lives of a group, or neighbours of one life, whose ids are compared with its own."""


@value
class Copies(Value):
    """Pairs of equal lives beyond what chance gives.

    Parameters
    ----------
    pairs : tuple of (int, int, str)
        Place of the later life, of the earlier one, and the case: blank, or "slip" for ids one
        slip apart.
    n, by_chance : dict
        For each case, rows seen and rows that chance would have, of the roundings in question.
    """

    pairs: tuple[tuple[int, int, str], ...]
    n: dict[str, int]
    by_chance: dict[str, float]


def find_copies(lives: Sequence[LifeRow], settings: Settings) -> Copies:
    """Return equal lives of different engines that chance does not explain.

    Parameters
    ----------
    lives : sequence of LifeRow
        In the order of the files; rows that stand for several engines are left out.
    settings : Settings
        Stated factors between clocks; readings are rounded on the clock that they were read on.
    """
    factors = stated_factors(settings)
    at = [i for i, x in enumerate(lives) if x.count == 1 and not _only_about(x)]
    single = [lives[i] for i in at]
    known = [factors.get(x.meter) for x in single]
    scale = np.array([1.0 if f is None else f.factor for f in known], dtype=np.float64)
    hours = np.array([x.life_start_h + x.exit_h for x in single], dtype=np.float64) / scale
    days = [_days(x) for x in single]
    dated = np.array([d != NO_DAYS for d in days], dtype=bool)
    kinds, step = _kinds(single, days), _steps(hours)
    ids = [x.engine_id for x in single]
    seen = []
    for s in STEPS_H:
        mine = np.flatnonzero((step == s) & (dated | (s < UNDATED_BELOW_H)))
        seen.append((s, _Alike(mine, hours, kinds, ids)))
    pairs: dict[int, tuple[int, str]] = {}
    n, by_chance = {"": 0, "slip": 0}, {"": 0.0, "slip": 0.0}
    for case, chance in (("slip", NEAR_COPIES_CHANCE), ("", COPIES_CHANCE)):
        found = [_beside_chance(alike, s, one_slip_apart=bool(case)) for s, alike in seen]
        rare = [poisson_tail(len(same), expected) < chance for same, expected in found]
        for (same, expected), is_rare in zip(found, rare, strict=True):
            # where some were copied, equal lives of a rounding that chance hardly gives were too
            if not is_rare and not (any(rare) and expected < HARDLY and same):
                continue
            new = {j: (i, case) for j, i in same.items() if j not in pairs}
            pairs |= new
            n[case] += len(new)
            by_chance[case] += expected
    told = tuple((at[j], at[i], case) for j, (i, case) in sorted(pairs.items()))
    return Copies(pairs=told, n=n, by_chance=by_chance)


def _beside_chance(
    alike: _Alike, step_h: float, *, one_slip_apart: bool
) -> tuple[dict[int, int], float]:
    """Return equal lives of one rounding, and how many of them chance gives."""
    same = alike.same(one_slip_apart=one_slip_apart)
    if not same:
        return same, 0.0
    neighbours = alike.pairs(REACH[step_h] * step_h, one_slip_apart=one_slip_apart)
    agreeing = alike.pairs(math.inf, one_slip_apart=one_slip_apart)
    close = neighbours / (2.0 * REACH[step_h])
    density = alike.density_per_h(max(DENSITY_H, DENSITY_STEPS * step_h))
    meeting = (agreeing + NO_PAIR) * step_h * density
    return same, max(close, meeting) / FILLED[step_h]


def copy_findings(lives: Sequence[LifeRow], settings: Settings) -> list[tuple[Finding, int]]:
    """Return the finding on each life that repeats another's, with its place."""
    found = find_copies(lives, settings)
    out = []
    for j, i, case in found.pairs:
        x, other = lives[j], lives[i]
        about = {
            "column": "engine", "value": x.engine, "related": (str(other.origin),),
            "other": other.engine, "place": other.origin,
        }  # fmt: skip
        if case:
            out.append((life_finding("copied-life/slip", x, **about), j))
            continue
        chance = found.by_chance[""]
        said = f"{chance:,.0f}" if chance >= 1.0 else "fewer than 1"
        out.append((life_finding("copied-life", x, n=found.n[""], by_chance=said, **about), j))
    return out


def poisson_tail(seen: int, expected: float) -> float:
    """Return the chance of at least `seen` where `expected` are; exact."""
    from scipy.special import gammainc

    return float(gammainc(seen, expected)) if seen > 0 else 1.0


def _only_about(x: LifeRow) -> bool:
    """Return whether hours told with a doubt are all that one engine could share with another.

    "approx 800" twice is a way of speaking, and a common day of reading is the return's, not the
    engine's. A day on which it entered service or ended is its own, and with that it is compared.
    """
    about = x.exit_low_h is not None or x.exit_high_h is not None
    return about and x.in_service is None and x.ended is None


def _days(x: LifeRow) -> tuple[int, int, int, int]:
    return day_of(x.in_service), day_of(x.observed_from), day_of(x.last_reading), day_of(x.ended)


NO_DAYS = (NO_DAY,) * 4
"""The days of a life without a date."""


def _kinds(lives: Sequence[LifeRow], days: Sequence[tuple[int, ...]]) -> Array:
    """Return (n,) numbers of what lives agree in besides their hours."""
    told = zip(lives, days, strict=True)
    return _codes([(round(x.life_start_h + x.entry_h, 6), x.ending, d) for x, d in told])


def _codes(keys: Sequence[object]) -> Array:
    known: dict[object, int] = {}
    return np.array([known.setdefault(k, len(known)) for k in keys], dtype=np.int64)


def _steps(hours: Array) -> Array:
    """Return (n,) the coarsest of `STEPS_H` that each reading is a multiple of, else the last."""
    out = np.full(len(hours), STEPS_H[-1])
    for s in reversed(STEPS_H):
        out[np.abs(hours - s * np.round(hours / s)) <= SAME_H] = s
    return out


class _Alike:
    """Lives of one rounding, in the order of what they agree in and then of their hours.

    Parameters
    ----------
    mine : (m,) int
        Their places.
    hours, kinds : (n,) float, (n,) int
        Of all lives.
    ids : sequence of str
        Of all lives.
    """

    def __init__(self, mine: Array, hours: Array, kinds: Array, ids: Sequence[str]) -> None:
        ticks = np.round(hours[mine] / SAME_H).astype(np.int64)
        self.ticks = np.sort(ticks)
        self.apart = apart = 2 * int(ticks.max(initial=0)) + 1
        order = np.lexsort((mine, ticks, kinds[mine]))
        self.place = mine[order]
        self.at = kinds[mine][order] * apart + ticks[order]
        self.ids = [ids[i] for i in self.place.tolist()]

    def same(self, *, one_slip_apart: bool) -> dict[int, int]:
        """Return each life that repeats an earlier one of another engine, with that one.

        Lives beyond the first `MOST_WEIGHED` of a group are weighed against those only.
        """
        out: dict[int, int] = {}
        starts = np.flatnonzero(np.diff(self.at, prepend=self.at[:1] - 1))
        ends = np.append(starts, len(self.at))[1:]
        for a, b in zip(starts.tolist(), ends.tolist(), strict=True):
            for j in range(a + 1, b):
                for i in range(a, min(j, a + MOST_WEIGHED)):
                    x, y = self.ids[i], self.ids[j]
                    if x != y and (not one_slip_apart or one_slip(x, y)):
                        out[int(self.place[j])] = int(self.place[i])
                        break
        return out

    def pairs(self, reach_h: float, *, one_slip_apart: bool) -> float:
        """Return the number of pairs that agree in all but their hours, within `reach_h`."""
        # no further than half of what parts those that agree from the next
        reach = int(min(reach_h / SAME_H, self.apart // 2))
        upto = np.searchsorted(self.at, self.at + reach, side="right")
        if not one_slip_apart:
            return float((upto - np.searchsorted(self.at, self.at, side="right")).sum())
        at, beyond = self.at.astype(np.float64), upto - np.arange(len(self.at)) - 1
        found = near_pairs(self.ids, at, np.full(len(at), float(reach)), MOST_WEIGHED)
        seen = sum(at[j] > at[i] for i, j in found)
        looked = float(np.minimum(beyond, MOST_WEIGHED).sum())
        return float(seen) * float(beyond.sum()) / max(looked, 1.0)

    def density_per_h(self, reach_h: float) -> float:
        """Return the density, per hour, of the hours of any two lives meeting."""
        n = len(self.ticks)
        upto = np.searchsorted(self.ticks, self.ticks + round(reach_h / SAME_H), side="right")
        close = (upto - np.searchsorted(self.ticks, self.ticks, side="right")).sum()
        return float(close + NO_PAIR) / (0.5 * n * (n - 1)) / (2.0 * reach_h)
