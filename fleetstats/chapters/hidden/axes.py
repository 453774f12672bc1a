"""The axes along which hidden facts are tried: each makes fleets with one fact changed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fleetstats.advice.equivalents import shape_grid
from fleetstats.advice.judge import is_shown
from fleetstats.advice.left_out import held_to_left_out, suppose_placed
from fleetstats.advice.looks.at_look import at_look
from fleetstats.advice.quoted import Quoter
from fleetstats.advice.tipping import PLACINGS, least_among, suppose_hidden
from fleetstats.bands.in_use import is_few
from fleetstats.bands.quantity import Quantity
from fleetstats.chapters.hidden.findings_hazard import check_findings, removed_weight
from fleetstats.chapters.hidden.values import FindingCheck, LostCheck, Scenario
from fleetstats.core.units import text_percent
from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.spells import Event, Spells
from fleetstats.spells.placings import SPREAD
from fleetstats.spells.scenarios import (
    censor,
    fail_at_end,
    followed_from_new,
    ignore_entry,
    scale_hours,
)
from fleetstats.study.settings import Settings
from fleetstats.survival.counting.entry_check import drop_settling
from fleetstats.survival.fit import Fit
from fleetstats.survival.weibull.fit_weibull import try_fit
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.unknown import cause_known
from fleetstats.vocabulary.wording import count

MOST_CAUSES = 3
HIDDEN_TRIED = (1, 2, 3, 5)
SHARES_TRIED = (0.9, 0.75, 0.5)
RATIOS_TRIED = (1.5, 2.0, 3.0, 5.0)
MISREADINGS = (-0.10, -0.05, 0.05, 0.10)


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisBase:
    """The fleet as recorded, with what is asked of it; makes scenarios.

    `refused` says that no bound may be called shown, since the judge refuses the word as it stands.
    """

    spells: Spells
    fit: Fit | None
    settings: Settings
    claim: float | None
    accepted: float
    hours: float
    lives: Quoter
    refused: bool = False

    def asked(self, lives: Quoter, what: Quantity) -> Quoter:
        """Return a fleet asked as the claim asks it, where that is what is asked."""
        return at_look(lives, 1.0 - self.accepted) if what.kind == "reliability" else lives

    def low_of(self, spells: Spells, fit: Fit | None, what: Quantity) -> float:
        """Return the quoted lower edge of a fleet; 0 where there is none."""
        return self.lows(spells, fit, what)[0]

    def lows(self, spells: Spells, fit: Fit | None, *what: Quantity) -> list[float]:
        """Return the lower edges of several quantities of one fleet, held to failures left out."""
        quoter = Quoter.of(spells, fit, self.settings)
        return [held_to_left_out(self.asked(quoter, q), q).low or 0.0 for q in what]

    def scenario(
        self,
        axis: str,
        label: str,
        hours: float,
        r_low: float | None,
        n_failed: float,
        *,
        reach_h: float | None = None,
    ) -> Scenario:
        """Return the scenario beside the records as they stand.

        `reach_h` is where its evidence ends, if not where theirs does.
        """
        reach = self.lives.reach_h if reach_h is None else reach_h
        past = self.claim is not None and self.claim > reach
        target = 1.0 - self.accepted
        return Scenario(
            axis=axis,
            label=label,
            hours_low=hours,
            change_h=hours - self.hours,
            reliability_low=r_low,
            shown=(
                None
                if r_low is None
                else not self.refused and is_shown(r_low, target, extrapolated=past)
            ),
            n_failed=n_failed,
        )

    def refitted(self, axis: str, label: str, spells: Spells) -> Scenario:
        """Fit and bound a changed fleet."""
        return self.bounded(axis, label, Quoter.of(spells, try_fit(spells), self.settings))

    def bounded(self, axis: str, label: str, lives: Quoter) -> Scenario:
        """Bound a changed fleet."""
        asked = [Quantity.life(1.0 - self.settings.targets.reliability)]
        if self.claim is not None:
            asked.append(Quantity.reliability(self.claim))
        lows = [held_to_left_out(self.asked(lives, q), q).low or 0.0 for q in asked]
        r_low = lows[1] if len(lows) > 1 else None
        return self.scenario(
            axis, label, lows[0], r_low, lives.spells.n_failed, reach_h=lives.reach_h
        )

    def hazard_times(
        self, axis: str, label: str, factor: float, at_claim: float | None = None
    ) -> Scenario:
        """Bound the same fleet with its cumulative hazard multiplied, by `at_claim` at the claim.

        Without `at_claim` the factor is the same at all hours.
        """
        target = self.settings.targets.reliability
        asked = [Quantity.life(-math.expm1(math.log(target) / factor))]
        if self.claim is not None:
            asked.append(Quantity.reliability(self.claim))
        lows = self.lows(self.spells, self.fit, *asked)
        hours = lows[0]
        r_low = lows[1] ** (factor if at_claim is None else at_claim) if len(lows) > 1 else None
        return self.scenario(axis, label, hours, r_low, self.spells.n_failed)


def suppose_unreported(base: AxisBase) -> list[Scenario]:
    """Return up to 1, 2, 3, 5 unreported failures, each at its worst placing so far."""
    at = base.claim if base.claim is not None else base.hours
    out: list[Scenario] = []
    asked = [] if base.claim is None else [Quantity.reliability(base.claim)]
    as_is = base.lows(base.spells, base.fit, *asked)
    worst = base.scenario(
        "unreported", "no unreported failure", base.hours, as_is[0] if as_is else None, 0.0
    )
    for k in HIDDEN_TRIED:
        tried = [
            base.bounded(
                "unreported",
                f"up to {count(k, 'unreported failure')}, {placing}",
                suppose_hidden(base.lives, k, at, placing),
            )
            for placing in PLACINGS
        ]
        found = min(tried, key=lambda s: s.hours_low)
        r_lows = [s.reliability_low for s in tried if s.reliability_low is not None]
        # "up to k" can never say more than "up to fewer"
        if worst.hours_low < found.hours_low:
            found = base.scenario(
                "unreported",
                f"up to {count(k, 'unreported failure')}",
                worst.hours_low,
                None,
                0.0,
            )
        if worst.reliability_low is not None:
            r_lows.append(worst.reliability_low)
        worst = base.scenario(
            "unreported",
            found.label,
            found.hours_low,
            min(r_lows) if r_lows else None,
            base.spells.n_failed + k,
        )
        out.append(worst)
    return out


LEFT_OUT_AGES = {
    0.0: "at the least hours that each can have",
    SPREAD: "spread over the hours that they can have",
    1.0: "at the greatest hours that each can have",
}
"""Positions at which failures left out are tried, as words."""


def suppose_left_out(base: AxisBase) -> list[Scenario]:
    """Return the scenarios of failures in the records that no life counts: placed, or not at all.

    The records as they stand count them at the worst placing for each figure.
    """
    spells = base.spells
    if not spells.left_out:
        return []
    told = f"{count(spells.n_left_out, 'failure')} left out"
    out = [
        base.bounded("left-out", f"{told}, {ages}", suppose_placed(base.lives, at))
        for at, ages in LEFT_OUT_AGES.items()
    ]
    bare = spells.with_left_out(())
    return [*out, base.refitted("left-out", f"{told}, none counted", bare)]


def suppose_lost(base: AxisBase, lost: Array) -> tuple[list[Scenario], LostCheck | None]:
    """Return the scenario that all lost engines failed, and how many would have to."""
    n = int(lost.sum())
    if n == 0:
        return [], None
    spells = base.spells
    out = [
        base.refitted(
            "lost",
            f"all {count(n, 'lost engine')} failed when last seen",
            fail_at_end(spells, lost),
        ),
    ]
    to_turn = None
    if base.claim is not None:
        to_turn = least_among(base.lives, lost, base.claim, 1.0 - base.accepted)
    return out, LostCheck(n_lost=n, to_turn=to_turn)


def suppose_doubtful(base: AxisBase, doubtful: Array) -> list[Scenario]:
    """Return the scenarios that all doubtful events count, and none."""
    n = int(doubtful.sum())
    if n == 0:
        return []
    spells = base.spells
    return [
        base.refitted(
            "doubtful", f"{count(n, 'doubtful event')}, all failures", fail_at_end(spells, doubtful)
        ),
        base.refitted(
            "doubtful", f"{count(n, 'doubtful event')}, none a failure", censor(spells, doubtful)
        ),
    ]


def suppose_definition(base: AxisBase, rows: Sequence[LifeRow]) -> list[Scenario]:
    """Return the scenarios that failures which the definition leaves out count after all.

    One for each of the causes with most of them, and one for all: a definition that excludes the
    awkward case shows here. `rows` stand behind the spells, in the same order.
    """
    spells = base.spells
    left_out = np.array([r.ending in FAILING_ENDINGS for r in rows], dtype=bool)
    left_out &= (spells.event == Event.COMPETING) | (spells.event == Event.CENSORED)
    causes = np.array([r.cause if cause_known(r.cause) else "no cause given" for r in rows])
    names, n = np.unique(causes[left_out], return_counts=True)
    order = np.argsort(-n, kind="stable")[:MOST_CAUSES]
    groups = [(str(names[i]), left_out & (causes == names[i])) for i in order]
    if len(names) > 1:
        groups.append(("all causes", left_out))
    return [
        base.refitted(
            "definition",
            f"{count(float(spells.weight[which].sum()), 'failure')} ({name}) counted too",
            fail_at_end(spells, which),
        )
        for name, which in groups
    ]


def suppose_findings(base: AxisBase) -> tuple[list[Scenario], FindingCheck | None]:
    """Return the scenarios of removals on a finding, and the check that bounds them."""
    spells, settings = base.spells, base.settings
    found = spells.event == Event.FINDING
    if not bool(found.any()):
        return [], None
    shapes = shape_grid(settings.evidence.shapes, 7)
    if base.fit is not None and not is_few(spells, base.fit):
        shapes = np.array([base.fit.shape])
    at = base.claim if base.claim is not None else base.hours
    r_low = None
    if base.claim is not None:
        r_low = base.low_of(spells, base.fit, Quantity.reliability(base.claim))
    check = check_findings(
        spells, shapes, hours=at, reliability_low=r_low, target=1.0 - base.accepted
    )
    # More engines are gone by one of the two ages than by the other.
    weight, at_life = check.removed_weight if check else 0.0, base.hours
    life_weight = removed_weight(spells, shapes, at_life) if at_life > 0.0 else 0.0
    turns = [] if check is None or check.hazard_ratio is None else [check.hazard_ratio]
    turns = [r * (1.0 + 1e-9) for r in turns]  # just past it
    out = [
        base.hazard_times(
            "findings",
            f"removed engines {r:.3g} times as likely to fail as the others",
            1.0 + (r - 1.0) * life_weight,
            1.0 + (r - 1.0) * weight,
        )
        for r in sorted({*RATIOS_TRIED, *turns})
    ]
    out.append(
        base.refitted(
            "findings",
            f"all {count(float(spells.weight[found].sum()), 'removal')} on a finding are failures",
            fail_at_end(spells, found),
        )
    )
    return out, check


def suppose_joiners(base: AxisBase) -> list[Scenario]:
    """Return the scenarios of engines that joined late."""
    spells = base.spells
    late = spells.entry > 0
    if not bool(late.any()):
        return []
    out = []
    new = followed_from_new(spells)
    if len(new):
        out.append(
            base.refitted(
                "joiners", "joined because they survive: only engines followed from new", new
            )
        )
    settled = drop_settling(spells)
    if len(settled):
        out.append(base.refitted("joiners", "first 100 h after joining left out", settled))
    out.append(base.refitted("entry-ignored", "late entry ignored", ignore_entry(spells)))
    return out


def suppose_misread(base: AxisBase) -> list[Scenario]:
    """Return the scenarios of hours that were truly less or more than read."""
    return [
        base.refitted(
            "misread",
            f"hours truly {abs(100 * x):g} % {'more' if x > 0 else 'less'} than read",
            scale_hours(base.spells, 1.0 + x),
        )
        for x in MISREADINGS
    ]


def suppose_reporting(base: AxisBase) -> list[Scenario]:
    """Return the scenarios in which only a share of the failures is reported."""
    return [
        base.hazard_times("reporting", f"{text_percent(q)} of failures reported", 1.0 / q)
        for q in SHARES_TRIED
    ]
