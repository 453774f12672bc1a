"""Do removals look like hidden failures? Their ages, their sources, and what they would turn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fleetstats.advice.judge import accepted_failure, is_supported
from fleetstats.advice.looks.at_look import at_look
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.tipping import least_among
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.removals.kinds import Kind, removal_kinds
from fleetstats.chapters.removals.values import RemovalKind, Removals, SourceOfKind
from fleetstats.chapters.removals.words import kind_line, removal_cautions, removals_sentence
from fleetstats.records.life import LifeRow
from fleetstats.spells import Spells
from fleetstats.spells.scenarios import count_only, fail_at_end
from fleetstats.study.settings import Settings
from fleetstats.survival.counting.ageing import Ageing, estimate_ageing
from fleetstats.survival.fit import Fit
from fleetstats.survival.groups.equal_ages import EqualAges, compare_equal_ages
from fleetstats.survival.groups.rate_ratio import hold_over
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.limits import BEFORE_CLAIM, LEAST_OF_KIND

MOST_SOURCES = 12
"""Sources that are set beside the others, those with most lives first."""

RANDOM = ("random", "together")
"""Kinds whose ages are tested against chance."""


def advise_removals(
    spells: Spells, fit: Fit | None, settings: Settings, rows: Sequence[LifeRow]
) -> Removals | None:
    """Return the chapter on removals; None where no life ended in one.

    Parameters
    ----------
    spells : Spells
        Lives for the study's question.
    fit : Fit or None
        Weibull fit of them.
    settings : Settings
        Claim, targets, confidence.
    rows : sequence of LifeRow
        The life behind each spell, in the same order.

    Notes
    -----
    Two questions are asked of kinds with at least `LEAST_OF_KIND` lives, and all chances are held
    over all of them together (Holm 1979): whether those that should be random come with age
    (`survival/counting/ageing.py`, each source with its own rate), singly and taken together; and
    whether one source has more of the kind than the others at equal ages
    (`survival/groups/equal_ages.py`). Planned overhauls are expected to be aged and are asked the
    second alone.
    """
    kinds = all_kinds(spells, rows)
    if not kinds:
        return None
    claim, target = settings.study.claimed_interval_h, settings.targets.reliability
    accepted = accepted_failure(settings)
    lives = Quoter.of(spells, fit, settings)
    shown = None if claim is None else is_supported(lives, claim, 1.0 - accepted)
    asked = _Asked(lives=lives, claim=claim, accepted=accepted, shown=bool(shown))
    hours, high = asked.bounds(lives)
    level = settings.study.confidence
    weighed = weigh_kinds(spells, kinds, level)
    out = Removals(
        kinds=tuple(asked.line(k, w) for k, w in zip(kinds, weighed, strict=True)),
        claimed_h=claim,
        accepted_failure=accepted,
        target=target,
        shown=shown,
        hours=hours,
        failure_high=high,
        level=level,
        sentence="",
    )
    return replace(
        out,
        sentence=removals_sentence(out),
        told=tuple(kind_line(k) for k in out.kinds),
        cautions=removal_cautions(out),
    )


def all_kinds(spells: Spells, rows: Sequence[LifeRow]) -> list[Kind]:
    """Return the kinds of removal, and all that should be random as one more.

    A few of each of many names would hide from a test of each name.
    """
    kinds = removal_kinds(spells, rows)
    random = [k.which for k in kinds if k.expect == "random"]
    if len(random) > 1:
        which = np.asarray(np.any(random, axis=0))
        kinds.append(Kind(name="all of these together", expect="together", which=which))
    return kinds


@dataclass(frozen=True, slots=True)
class Weighed:
    """The tests of one kind; None where it is not asked that."""

    ageing: Ageing | None = None
    p_held: float | None = None
    source: SourceOfKind | None = None


class _Asked:
    """The fleet as recorded, with the claim that a kind may turn."""

    def __init__(self, *, lives: Quoter, claim: float | None, accepted: float, shown: bool) -> None:
        self.lives, self.claim, self.accepted, self.shown = lives, claim, accepted, shown

    def bounds(self, lives: Quoter) -> tuple[float, float | None]:
        """Return the hours shown for the target, and the bound of failure by the claim."""
        p = 1.0 - lives.settings.targets.reliability
        hours = lives.interval(Quantity.life(p)).low or 0.0
        if self.claim is None:
            return hours, None
        lives = at_look(lives, 1.0 - self.accepted)
        return hours, 1.0 - (lives.interval(Quantity.reliability(self.claim)).low or 0.0)

    def line(self, kind: Kind, weighed: Weighed) -> RemovalKind:
        """Return what is known of one kind, with what it would turn."""
        spells = self.lives.spells
        which, w = kind.which, spells.weight[kind.which]
        ages = spells.exit_upper[which]
        changed = fail_at_end(spells, which)
        hours, high = self.bounds(Quoter.of(changed, try_fit(changed), self.lives.settings))
        to_turn = None
        if self.claim is not None and self.shown:
            to_turn = least_among(self.lives, which, self.claim, 1.0 - self.accepted)
        early = 0.0 if self.claim is None else float(w[ages < BEFORE_CLAIM * self.claim].sum())
        return RemovalKind(
            kind=kind.name,
            expect=kind.expect,
            n=float(w.sum()),
            n_early=early,
            youngest_h=float(ages.min()),
            median_h=float(np.median(ages)),
            oldest_h=float(ages.max()),
            ageing=weighed.ageing,
            p_held=weighed.p_held,
            source=weighed.source,
            to_turn=to_turn,
            hours_all=hours,
            failure_high_all=high,
        )


def weigh_kinds(spells: Spells, kinds: list[Kind], level: float) -> list[Weighed]:
    """Return the tests of each kind, their chances held over the number of all tests made.

    Parameters
    ----------
    spells : Spells
        All lives.
    kinds : list of Kind
        Which of them ended in what.
    level : float
        Two-sided confidence of limits.
    """
    out = [Weighed() for _ in kinds]
    made: list[tuple[int, float, tuple[str, EqualAges] | None]] = []
    for i, kind in enumerate(kinds):
        if float(spells.weight[kind.which].sum()) < LEAST_OF_KIND:
            continue
        only = count_only(spells, kind.which)
        ageing = estimate_ageing(only, spells.source, level=level)
        out[i] = Weighed(ageing=ageing)
        if kind.expect in RANDOM:
            made.append((i, ageing.p_rising, None))
        found = _most_of(only, level) if kind.expect in ("random", "planned") else None
        if found is not None:
            made.append((i, found[2], found[:2]))
    for (i, _, most), held in zip(made, hold_over([p for _, p, _ in made]).tolist(), strict=True):
        if most is None:
            out[i] = replace(out[i], p_held=held)
        else:
            source = SourceOfKind(source=most[0], beside=most[1], p_held=held)
            out[i] = replace(out[i], source=source)
    return out


def _most_of(only: Spells, level: float) -> tuple[str, EqualAges, float] | None:
    """Return the source with the least likely many of a kind; its chance held over the sources."""
    names, n = np.unique(only.source, return_counts=True)
    if len(names) < 2:
        return None
    first = names[np.argsort(-n, kind="stable")][:MOST_SOURCES].tolist()
    found = {n: compare_equal_ages(only, only.source == n, level=None).p_more for n in first}
    name = min(found, key=lambda n: found[n])
    beside = compare_equal_ages(only, only.source == name, level=level)
    return name or "source not given", beside, min(1.0, len(first) * beside.p_more)
