"""What hidden or doubtful facts would do to the advice, as values."""

from __future__ import annotations

from fleetstats.advice.base_rate import BaseRate
from fleetstats.advice.tipping import Tipping
from fleetstats.core.units import round_hours
from fleetstats.core.value import Value, value

AXES = {
    "unreported": "failures that nobody reported",
    "left-out": "failures in the records that no life counts",
    "reporting": "share of failures reported",
    "lost": "engines lost to follow-up",
    "fate-unknown": "engines built but absent from the records",
    "doubtful": "doubtful events",
    "findings": "removals on a finding",
    "misread": "hours misread",
    "joiners": "engines that joined late",
    "definition": "failures that the definition leaves out",
    "entry-ignored": "late entry ignored (a mistake, shown for its size)",
}
"""Axes along which hidden facts are tried."""


@value
class Scenario(Value):
    """The advice if one hidden fact were so.

    Parameters
    ----------
    axis : str
        A key of `AXES`.
    label : str
        What is supposed.
    hours_low : float
        Hours to which the target reliability is shown, not rounded and not held to the evidence.
    change_h : float
        Difference from the records as they stand.
    reliability_low : float or None
        Lower bound at the claimed hours; None without a claim.
    shown : bool or None
        Whether the accepted failure chance by the claimed hours is still shown.
    n_failed : float
        Failures counted in the scenario.
    """

    axis: str
    label: str
    hours_low: float
    change_h: float
    reliability_low: float | None
    shown: bool | None
    n_failed: float


@value
class TornadoBar(Value):
    """One axis of the tornado: least and most hours, and what each supposes."""

    axis: str
    title: str
    low_h: float
    high_h: float
    low_label: str
    high_label: str


@value
class LostCheck(Value):
    """How many of the engines lost to follow-up would have had to fail when last seen.

    `to_turn` is the least number that would leave the claim no longer shown, whichever they are;
    None if even all of them would not.
    """

    n_lost: int
    to_turn: int | None


@value
class FindingCheck(Value):
    """Removals on a finding: bounds without any assumption, and a hazard ratio that turns.

    Parameters
    ----------
    n_findings : float
        Removals on a finding.
    at_h : float
        Hours at which the outer band is read.
    low, middle, high : float
        Reliability there if all had failed at removal, if removal censors fairly, and if none
        would have failed (Peterson 1976); NaN past the oldest engine.
    hazard_ratio : float or None
        Least ratio of the hazard of removed engines to that of the others, had they run on, with
        which the claim is no longer shown; None where it is not shown anyway, nothing is removed,
        or no ratio up to 100 turns it.
    removed_weight : float
        Share of the cumulative hazard by those hours that falls on removed engines.
    """

    n_findings: float
    at_h: float
    low: float
    middle: float
    high: float
    hazard_ratio: float | None
    removed_weight: float


@value
class Hidden(Value):
    """What is hidden, and how much of it the advice can bear.

    `state` is ``"answered"`` or ``"not-enough-evidence"`` (the records show no hours to begin
    with). `reporting_share` is the share of failures that must be reported for the claim to be
    shown; above 1 it is not shown at all; None without a claim. `base_hours` are the hours to which
    the target reliability is shown by the records as they stand, with the failures that no life
    counts at their least favourable ages; `left_out` names these, blank where all are counted.
    `untold` says what returns that overlap tell of failures that nobody told; blank where none
    overlap.
    """

    state: str
    sentence: str
    target: float
    claimed_h: float | None
    accepted_failure: float
    base_hours: float
    supported_h: float
    shown: bool | None
    scenarios: tuple[Scenario, ...]
    tornado: tuple[TornadoBar, ...]
    tipping: Tipping | None
    reporting_share: float | None
    lost: LostCheck | None
    findings: FindingCheck | None
    base_rate: BaseRate | None
    left_out: str = ""
    untold: str = ""
    not_supposed: str = ""

    def __repr__(self) -> str:
        lines = [self.sentence, self.untold] if self.untold else [self.sentence]
        if self.base_rate is not None:
            lines.append(self.base_rate.sentence)
        lines += [
            f"  {b.title}: {round_hours(b.low_h):,.0f} to {round_hours(b.high_h):,.0f} h"
            for b in self.tornado
        ]
        return "\n".join(lines)

    __str__ = __repr__
