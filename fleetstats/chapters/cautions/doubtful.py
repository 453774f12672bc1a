"""Cautions on doubtful lives that move the bound: far beyond all others, or told twice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleetstats.advice.advice import Advice
from fleetstats.advice.judge import judge_claim
from fleetstats.advice.quoted import Quoter
from fleetstats.bands.quantity import Quantity
from fleetstats.core.value import Array
from fleetstats.records.audit.copied import find_copies
from fleetstats.records.audit.far_lives import days_in_service, far_beyond, find_far_lives
from fleetstats.records.life import LifeRow
from fleetstats.records.lives.plain_rows import day_of
from fleetstats.records.trouble.scan import FAILING
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import ODD_MOVES_BOUND
from fleetstats.vocabulary.wording import at_most, count, hours_down, hours_exact


@dataclass(frozen=True, slots=True)
class Bound:
    """The number that decides: its figure, the verdict's word where there is one, and a clause."""

    figure: float
    word: str
    says: str


def bound_of(lives: Quoter, advice: Advice) -> Bound:
    """Return the bound that decides: the chance of failure at the claim, else the life reached."""
    verdict = advice.verdict
    if verdict is None:
        low = lives.interval(Quantity.life(1.0 - advice.reliability.target)).low or 0.0
        return Bound(low, "", f"a lower bound of {hours_down(low)}")
    claim = verdict.claimed_h
    told = judge_claim(lives, claim, 1.0 - verdict.accepted_failure)
    p = told.failure_high
    return Bound(p, told.word, f"at most {at_most(p)} fail by {hours_exact(claim)}")


def moves(a: Bound, b: Bound) -> bool:
    """Return whether two bounds differ by enough to matter, or their words do."""
    apart = abs(a.figure - b.figure)
    return a.word != b.word or apart > ODD_MOVES_BOUND * max(a.figure, b.figure)


def _without(
    spells: Spells, gone: Array, settings: Settings, advice: Advice
) -> tuple[Bound, Bound] | None:
    """Return the bound with all lives and without some, where the one moves the other."""
    if not gone.any() or gone.all():
        return None
    whole = bound_of(Quoter.of(spells, try_fit(spells), settings), advice)
    rest = spells.select(~gone)
    part = bound_of(Quoter.of(rest, try_fit(rest), settings), advice)
    return (whole, part) if moves(whole, part) else None


def caution_far(
    spells: Spells, rows: Sequence[LifeRow], settings: Settings, advice: Advice
) -> list[Caution]:
    """Return the cautions that lives far from all others carry the bound.

    Without the rows behind the spells only their hours are looked at, not their rates of use.
    Several lives are named by how far each alone moves the bound.
    """
    far, low = _find_far(spells, rows, settings)
    out: list[Caution] = []
    told = _without(spells, far, settings, advice)
    if told is not None:
        whole, part = told
        n = float(spells.weight[far].sum())
        one = n == 1.0
        least = f"{float(spells.exit_upper[far].min()):,.0f} h"
        many = f"{count(n, 'life', 'lives')} from {least} on"
        out.append(
            caution(
                "far-life",
                value=whole.says,
                limit=f"{part.says} without",
                what=f"one life of {least}" if one else many,
                is_are="is" if one else "are",
                next_h=float(spells.exit_upper[~far].max(initial=0.0)),
                without=part.says,
                alone=_each_alone(spells, rows, far, settings, advice),
            )
        )
    told = _without(spells, low, settings, advice)
    if told is not None:
        whole, part = told
        n_low = int(low.sum())
        out.append(
            caution(
                "low-failure",
                value=whole.says,
                limit=f"{part.says} without",
                what=count(n_low, "failure", "failures"),
                lies="lies" if n_low == 1 else "lie",
                most_h=float(spells.exit_upper[low].max()),
                without=part.says,
                alone=_each_alone(spells, rows, low, settings, advice),
            )
        )
    return out


MOST_RANKED = 5
"""Doubtful lives tried one by one: each costs one estimate."""


def _each_alone(
    spells: Spells, rows: Sequence[LifeRow], odd: Array, settings: Settings, advice: Advice
) -> str:
    """Say what the bound is without each doubtful life alone, the one that moves it most first."""
    at = np.flatnonzero(odd)
    if not 1 < len(at) <= MOST_RANKED or not rows:
        return ""
    whole = bound_of(Quoter.of(spells, try_fit(spells), settings), advice).figure
    tried = []
    for i in at.tolist():
        rest = spells.select(np.arange(len(spells)) != i)
        part = bound_of(Quoter.of(rest, try_fit(rest), settings), advice)
        tried.append((-abs(part.figure - whole), i, part.says))
    return (
        " Without one alone, most to least: "
        + "; ".join(
            f"'{rows[i].engine}' ({hours_exact(rows[i].exit_h)}) {says}"
            for _, i, says in sorted(tried)
        )
        + "."
    )


def _find_far(spells: Spells, rows: Sequence[LifeRow], settings: Settings) -> tuple[Array, Array]:
    """Return which spells are far beyond all others, and which failures far below."""
    none = np.zeros(len(spells), dtype=bool)
    if len(rows) != len(spells):
        return far_beyond(spells.exit_upper, spells.weight).far, none
    new = np.array([day_of(x.in_service) for x in rows], dtype=np.int64)
    last = np.array([day_of(x.last_date) for x in rows], dtype=np.int64)
    day = settings.study.analysis_date
    days = days_in_service(new, last, day)
    single = np.array([x.count == 1 for x in rows], dtype=bool)
    failed = np.array([x.ending in FAILING["lives"] for x in rows], dtype=bool)
    found = find_far_lives(spells.exit_upper[single], days[single], failed[single], day)
    far, low = none.copy(), none.copy()
    far[single] = found.by_hours.far | found.by_rate.far
    low[single] = found.low.far
    return far, low


def caution_copies(
    spells: Spells, rows: Sequence[LifeRow], settings: Settings, advice: Advice
) -> list[Caution]:
    """Return the caution that lives told again under other ids move the bound."""
    if not rows:
        return []
    found = find_copies(rows, settings)
    gone = np.zeros(len(rows), dtype=bool)
    gone[[j for j, _, _ in found.pairs]] = True
    told = _without(spells, gone, settings, advice)
    if told is None:
        return []
    whole, part = told
    one = int(gone.sum()) == 1
    chance = sum(found.by_chance.values())
    return [
        caution(
            "copied-lives",
            value=whole.says,
            limit=f"{part.says} with one of each",
            n=count(int(gone.sum()), "life", "lives"),
            has_have="has" if one else "have",
            repeats="repeats" if one else "repeat",
            by_chance=f"{chance:,.0f}" if chance >= 1.0 else "fewer than 1",
            without=part.says,
        )
    ]
