"""Answer (b): when does the chance of failing before the next check exceed the target?

No authority sets an acceptable figure, so the study must state its own. Where it does not, a short
list of targets stands in its place and no single age is given.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fleetstats.advice.advice import RiskAnswer, ShapeLine, TargetAge
from fleetstats.advice.clock_doubt.draws import careful_factors
from fleetstats.advice.equivalents import life_equivalents, poisson_allowance
from fleetstats.advice.left_out import placed_fleets, say_counted
from fleetstats.advice.life import beyond
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.crossing import EDGES, Age, ChanceSearch, first_ages, search_ages
from fleetstats.bands.interval import Band, Interval
from fleetstats.core.units import one_in
from fleetstats.core.value import Array
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.wording import hours_down, hours_near, stated

LISTED_TARGETS = (0.0005, 0.001, 0.002, 0.005, 0.01)
"""Targets shown where the study states none: 1 in 2,000 to 1 in 100 per check. Not a proposal."""

SEARCH_SHARE = 2.5
"""Ages are searched up to this many times the oldest age seen."""


def chance_curve(lives: Quoter, hours: Array) -> Band:
    """Return the chance of failing before the next check at each age, its edges as quoted.

    The upper edge is the worst over the shapes that the records leave open (`advice/quoted.py`), or
    that of a method which the study asks for, where it is more careful.
    """
    width = lives.settings.check.interval_h
    curve = lives.asked.curve("conditional", hours, width_h=width)
    worst = worst_chance(lives, curve.hours)
    if lives.few or lives.asked.method == "shape-mixture":
        return replace(curve, high=np.fmax(worst, curve.estimate))
    return replace(curve, high=np.fmax(curve.high, worst))


def worst_chance(lives: Quoter, hours: Array) -> Array:
    """Return the worst chance before the next check at each age, the clocks in doubt included.

    With the clocks' common factor at its own careful edge: beside an edge of the chance that is
    more than both together ask for (`advice/clock_doubt/widen.py`), and one asking of it.
    """
    confidence = 0.5 * (1.0 + lives.settings.study.confidence)
    by = careful_factors(lives.spells, lives.settings.clocks, confidence, hours)
    return lives.shapes.chance(hours / by, lives.settings.check.interval_h / by)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Search:
    """The ages at which a fleet's chance passes targets; the same for a study and a page's cell."""

    lives: Quoter
    chance: ChanceSearch

    @classmethod
    def of(cls, lives: Quoter) -> _Search:
        s = lives.settings
        far = SEARCH_SHARE * max(lives.spells.oldest_h, s.study.claimed_interval_h or 0.0)
        width = s.check.interval_h
        return cls(
            lives=lives,
            chance=ChanceSearch.of(lives.asked, width, far),
        )

    def target_ages(self, targets: Sequence[float], supported_h: float) -> tuple[TargetAge, ...]:
        """Return the ages at which the chance passes targets, with their edges as quoted."""
        goal = np.array(targets)
        worst = first_ages(
            lambda h, which: worst_chance(self.lives, h) - goal[which],
            len(goal),
            self.chance.far_h,
        )
        edges: tuple[str, ...] = EDGES
        if self.lives.few:
            edges = ()
        elif self.lives.asked.method == "shape-mixture":
            edges = ("low", "estimate")
        asked = [(e, t) for t in targets for e in edges]
        ages = dict(zip(asked, self.chance.first_ages(asked), strict=True)) if asked else {}
        for t, least in zip(targets, worst, strict=True):
            # no edge is later than a best estimate, which another rule makes
            known = [a for a in (ages.get((e, t)) for e in ("high", "estimate")) if a is not None]
            ages["high", t] = min([*known, *([] if least is None else [least])], default=None)
        return tuple(
            self._target_age(t, *(ages.get((e, t)) for e in ("high", "estimate", "low")),
                             supported_h=supported_h)
            for t in targets
        )  # fmt: skip

    def _target_age(
        self, target: float, low: Age, middle: Age, high: Age, *, supported_h: float
    ) -> TargetAge:
        none = "not reached within the ages searched"
        age = Interval(
            name=f"age at which the chance exceeds {stated(target)}",
            estimate=middle,
            low=low,
            high=high,
            level=self.chance.asked.level,
            method=self.chance.asked.method,
            unit="h",
            note_low="" if low is not None else none,
            note_high="" if high is not None else none,
        )
        return TargetAge(target=target, age=age, extrapolated=beyond(age, supported_h))

    @property
    def falls(self) -> bool:
        """Return whether the estimated chance is less at the greatest age than at the least."""
        if self.lives.few:
            return False
        ends = search_ages(self.chance.far_h)[[1, -1]]
        first, last = chance_curve(self.lives, ends).estimate.tolist()
        return bool(first > last)


def _over_shapes(
    spells: Spells, settings: Settings, target: float, width_h: float
) -> tuple[ShapeLine, ...]:
    """Return for each assumed shape the age up to which the bound of the chance stays in target."""
    confidence = 0.5 * (1.0 + settings.study.confidence)
    m = poisson_allowance(spells.n_failed, confidence)
    top = spells.oldest_h
    shapes = sorted(settings.evidence.shapes)
    ages: list[float | None] = []
    for b, n in zip(shapes, life_equivalents(spells, shapes, top), strict=True):
        need = -math.log1p(-target) * float(n) / m
        w = width_h / top

        def rise(x: float, w: float = w, b: float = b) -> float:
            return float((x + w) ** b - x**b)

        if rise(0.0) > need:
            ages.append(0.0)
        elif b <= 1.0 or rise(100.0) <= need:
            ages.append(None)
        else:
            low, high = 0.0, 100.0
            for _ in range(70):
                mid = 0.5 * (low + high)
                low, high = (mid, high) if rise(mid) <= need else (low, mid)
            ages.append(top * low)
    known = [a for a in ages if a is not None]
    worst = min(known) if known else None
    return tuple(
        ShapeLine(shape=b, low_h=a, least_favourable=a is not None and a == worst)
        for b, a in zip(shapes, ages, strict=True)
    )


def advise_risk(lives: Quoter, supported_h: float, *, listed: bool = True) -> RiskAnswer:
    """Return the age at which the chance of failing before the next check exceeds the target.

    Pessimistic edges are no later than with the failures that the records leave out.

    Parameters
    ----------
    lives : Quoter
        The fleet, with the study's check interval, target, confidence and shapes.
    supported_h : float
        Evidence horizon in hours.
    listed : bool
        Whether the ages for listed targets and assumed shapes, and the chance at the claim, are
        worked out too.
    """
    settings, few, left_out = lives.settings, lives.few, lives.spells.left_out
    width, target = settings.check.interval_h, settings.targets.risk_per_check
    search = _Search.of(lives)
    placed = [_Search.of(p) for p in placed_fleets(lives)]
    out = RiskAnswer(
        state="no-target",
        sentence=(
            "The study states no accepted chance of failing between checks (targets.risk_per_check)"
            ", and no authority sets one; a table of targets stands in its place and no single age "
            "is given."
        ),
        width_h=width,
        searched_to_h=search.chance.far_h,
    )
    table = _held(search, placed, LISTED_TARGETS, supported_h) if listed else ()
    if listed:
        out = replace(out, table=table, at_claim=_at_claim(lives))
    if target is None:
        return out
    (chosen,) = _held(search, placed, [target], supported_h)
    state, text = _say(chosen, width, few, supported_h, falls=search.falls)
    if left_out:
        text += f" {say_counted(left_out)}"
    lines = _over_shapes(lives.spells, settings, target, width) if listed else ()
    return replace(out, state=state, sentence=text, target=target, chosen=chosen, over_shapes=lines)


def _held(
    own: _Search, placed: Sequence[_Search], targets: Sequence[float], supported_h: float
) -> tuple[TargetAge, ...]:
    """Return ages whose pessimistic edges are no later than with the failures left out."""
    out = own.target_ages(targets, supported_h)
    for fleet in placed:
        other = fleet.target_ages(targets, supported_h)
        out = tuple(_earlier(a, b, supported_h) for a, b in zip(out, other, strict=True))
    return out


def _earlier(own: TargetAge, other: TargetAge, supported_h: float) -> TargetAge:
    low = other.age.low
    if low is None or (own.age.low is not None and own.age.low <= low):
        return own
    age = replace(own.age, low=low, note_low="")
    return replace(own, age=age, extrapolated=beyond(age, supported_h))


def _at_claim(lives: Quoter) -> Interval | None:
    claimed = lives.settings.study.claimed_interval_h
    if claimed is None:
        return None
    own = chance_at(lives, claimed)
    all_ways = [own, *(chance_at(p, claimed) for p in placed_fleets(lives))]
    return replace(own, high=max(x.high for x in all_ways if x.high is not None))


def chance_at(lives: Quoter, hours: float) -> Interval:
    """Return the chance of failing before the next check at one age, its edges as quoted."""
    one = chance_curve(lives, np.array([hours]))
    return Interval(
        name=f"chance of failing within {lives.settings.check.interval_h:g} h after {hours:,.0f} h",
        estimate=None if lives.few else float(one.estimate[0]),
        low=None if lives.few else float(one.low[0]),
        high=float(one.high[0]),
        level=one.level,
        method=one.method,
        unit="probability",
    )


def _up_to(age_h: float) -> str:
    return f"up to {hours_down(age_h)}" if age_h > 0.0 else "at no age, not even from new"


def _say(
    chosen: TargetAge, width: float, few: bool, supported_h: float, *, falls: bool
) -> tuple[str, str]:
    age, target = chosen.age, chosen.target
    side = f"{50 * (1 + age.level):g} %"
    lead = (
        f"The chance of failing within the next {width:g} h exceeds the study's "
        f"{stated(target)} ({one_in(target)})"
    )
    if falls:
        shown = (
            "it stays within it as far as the evidence goes"
            if age.low is None
            else f"it is shown to stay within it {_up_to(age.low)}"
        )
        return "hours-do-not-tell", (
            f"The chance of failing within the next {width:g} h does not rise with hours by the "
            "best estimate, so no age can be named at which it first exceeds the target; on the "
            f"pessimistic side (one-sided {side} bound) {shown}."
        )
    if age.low is None:
        return "answered", (
            f"Even on the pessimistic side (one-sided {side} upper bound) the chance of failing "
            f"within the next {width:g} h stays within the study's {stated(target)} up to "
            f"{supported_h:,.0f} h, where the evidence ends."
        )
    if age.low <= 0.0:
        return "not-enough-evidence", (
            f"These records cannot show a chance within the study's {stated(target)} per "
            f"{width:g} h at any age: the upper bound (one-sided {side}) is above it from new."
        )
    text = f"{lead} from {hours_down(age.low)} on the pessimistic side (one-sided {side} bound)"
    if few and age.estimate is None and age.high is None:
        text += "; the failures do not carry an estimate."
    else:
        mid = (
            "not within the ages searched"
            if age.estimate is None
            else (f"at {hours_near(age.estimate)}")
        )
        far = "not within the ages searched" if age.high is None else f"at {hours_near(age.high)}"
        text += f", {mid} by the best estimate and {far} on the optimistic side."
        if few:
            text += " Both rest on the stated prior on the shape as well as on so few failures."
    out = [
        w
        for w, e in zip(("pessimistic", "best", "optimistic"), chosen.extrapolated, strict=True)
        if e
    ]
    if out:
        text += (
            f" The {' and '.join(out)} {'ages lie' if len(out) > 1 else 'age lies'} beyond "
            f"{supported_h:,.0f} h, where the evidence ends: extrapolation."
        )
    return "answered", text
