"""Failure rules: what the ending of a life counts as, for the study's question.

The order is: the study's own rules; endings that are no events; causes that censor; faults not
confirmed; causes not in question; then the failure level.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.study.settings import LEVELS, QuestionKeys, Settings
from fleetstats.vocabulary.events import PLANNED_CAUSES
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.trouble import NO_FAULT_CAUSES
from fleetstats.vocabulary.unknown import cause_known

NO_EVENT = {
    "running": "still running",
    "lost": "lost to follow-up",
    "modified": "modified; goes on as another build",
}
"""Endings that say nothing of a failure, with the reason to print."""

PLANNED = ("planned-overhaul", "removed", "modified")
"""Endings after which a teardown is an inspection of a life that had not failed."""

DAMAGING = ("prop strike", "accident", "fuel contamination")
"""Causes of a removal that can themselves do the damage which a teardown then finds."""

DEEP_LEVELS = ("beyond-limits", "top-end", "accessory")
"""Levels at which a condition found at a check or teardown counts."""

CAUSE_UNKNOWN = "cause unknown; the study says competing"
"""Reason of a failure that leaves the question by `question.unknown_cause`."""


@value
class Ruling(Value):
    """What an ending counts as, and why.

    Parameters
    ----------
    counts_as : str
        failure, competing, censored, finding or excluded.
    reason : str
        The reason, as the report prints it.
    known_to : str
        For a failure: ``"exact"`` at the exit, or ``"interval"`` between the last hours known
        good (or entry) and the exit.
    rule : int
        Number of the study's own rule that decided, from 1; 0 for the built-in ones.
    """

    counts_as: str
    reason: str
    known_to: str = "exact"
    rule: int = 0


def names_fault(cause: str, q: QuestionKeys) -> bool:
    """Return whether a cause names a fault, as far as its word can tell.

    A cause in question always does. Any other word does unless it says nothing, is one of those
    that censor, or names what befalls an engine that has no fault.
    """
    word = fold(cause)
    if word in {fold(c) for c in q.causes}:
        return cause_known(cause)
    censor = {fold(c) for c in q.censoring_causes}
    return cause_known(cause) and word not in censor and word not in NO_FAULT_CAUSES


def internal_cause(cause: str, q: QuestionKeys) -> bool:
    """Return whether a cause names a fault of the engine's own, none outside its boundary."""
    outside = {fold(c) for c in q.outside_causes} - {fold(c) for c in q.causes}
    return names_fault(cause, q) and fold(cause) not in outside


def judge_ending(life: LifeRow, settings: Settings) -> Ruling:
    """Say what the ending of a life counts as.

    Parameters
    ----------
    life : LifeRow
        The life.
    settings : Settings
        The study's question and rules.
    """
    q = settings.question
    for i, rule in enumerate(q.rules, start=1):
        if _matches(rule, life):
            known_to = "interval" if _between(life) else "exact"
            return Ruling(
                counts_as=rule["counts_as"], reason=rule["reason"], known_to=known_to, rule=i
            )
    found = life.found_at_teardown is True and life.ending in PLANNED
    if found and q.level in DEEP_LEVELS:
        return _teardown(life, q)
    if life.ending in NO_EVENT:
        return Ruling(counts_as="censored", reason=NO_EVENT[life.ending])
    if fold(life.cause) in {fold(c) for c in q.censoring_causes} - {fold(c) for c in q.causes}:
        return Ruling(counts_as="censored", reason=f"cause: {life.cause}")
    if life.ending == "removed":
        own = _own_fault(life, q)
        if own is not None:
            return own
    if life.ending in ("planned-overhaul", "removed"):
        return _removal(life, found)
    if life.ending in ("failed", "found-at-check") and life.confirmed is False:
        return Ruling(counts_as="censored", reason="no fault found by the shop")
    return _by_cause(life, q) or _by_level(life, q)


def judge_endings(lives: Sequence[LifeRow], settings: Settings) -> tuple[Ruling, ...]:
    """Judge many lives; lives that end alike are judged once."""
    return tuple(map(ending_judge(settings), lives))


def ending_judge(settings: Settings) -> Callable[[LifeRow], Ruling]:
    """Return `judge_ending` under settings, which judges lives that end alike once."""
    known: dict[tuple[object, ...], Ruling] = {}

    def judge(x: LifeRow) -> Ruling:
        told = (x.ending, x.cause, x.confirmed, x.found_at_teardown, x.source, x.build)
        if told not in known:
            known[told] = judge_ending(x, settings)
        return known[told]

    return judge


def _teardown(life: LifeRow, q: QuestionKeys) -> Ruling:
    """Judge a fault found at the teardown of an engine that had not failed."""
    if fold(life.cause) in DAMAGING and fold(life.cause) not in {fold(c) for c in q.causes}:
        return Ruling(
            counts_as="finding",
            reason=f"fault found at the teardown after {life.cause}: there before, or its damage?",
        )
    # The cause may be that of the removal, such as "overhaul due"; then the fault's is unknown.
    of_removal = {fold(c) for c in (*PLANNED_CAUSES, *q.censoring_causes)}
    fault = replace(life, cause="") if fold(life.cause) in of_removal else life
    return _by_cause(fault, q) or _failure(fault, q, "fault found at the teardown", "interval")


def _own_fault(life: LifeRow, q: QuestionKeys) -> Ruling | None:
    """Judge a removal "for another reason" whose cause is a fault of the engine's own after all.

    As a log is replayed (`removal_ending`): confirmed by the shop it is a failure, but at the level
    of power loss. Not yet confirmed, it is a removal on a finding.
    """
    cause = fold(life.cause)
    if cause and cause in {fold(c) for c in PLANNED_CAUSES}:
        return None
    if life.confirmed is True:
        if q.level == "power-loss":
            return _by_cause(life, q) or Ruling(
                counts_as="finding", reason=f"removed with a fault, before any {LEVELS[q.level]}"
            )
        return _by_cause(life, q) or _failure(life, q, "removed, internal fault confirmed")
    if life.confirmed is None and life.found_at_teardown is None and names_fault(life.cause, q):
        return _by_cause(life, q) or Ruling(
            counts_as="finding", reason="removed with a fault, not said whether confirmed"
        )
    return None


def _removal(life: LifeRow, found: bool) -> Ruling:
    plain = "planned overhaul" if life.ending == "planned-overhaul" else "removed, no failure"
    if found:
        return Ruling(
            counts_as="censored",
            reason="fault found at a planned teardown; counts at level beyond-limits",
        )
    if life.found_at_teardown is False:
        return Ruling(counts_as="censored", reason=f"{plain}, clean at the teardown")
    return Ruling(counts_as="censored", reason=plain)


def _by_cause(life: LifeRow, q: QuestionKeys) -> Ruling | None:
    """Return a verdict where the cause decides, else None."""
    cause = fold(life.cause)
    asked = {fold(c) for c in q.causes}
    if not cause_known(life.cause):
        return None
    if asked and cause not in asked:
        return Ruling(counts_as="competing", reason=f"cause not in question: {life.cause}")
    if not asked and cause in {fold(c) for c in q.outside_causes}:
        return Ruling(counts_as="competing", reason=f"outside the engine: {life.cause}")
    return None


def _failure(life: LifeRow, q: QuestionKeys, reason: str, known_to: str = "exact") -> Ruling:
    """Judge what is a failure by all else: of unknown cause it counts as the study says."""
    if q.unknown_cause == "competing" and not cause_known(life.cause):
        return Ruling(counts_as="competing", reason=CAUSE_UNKNOWN)
    return Ruling(counts_as="failure", reason=reason, known_to=known_to)


def _by_level(life: LifeRow, q: QuestionKeys) -> Ruling:
    unknown = "" if cause_known(life.cause) else ", cause unknown"
    if life.ending == "failed":
        doubt = ", not said whether confirmed" if life.confirmed is None else ""
        return _failure(life, q, f"failed{doubt}{unknown}")
    if life.ending == "found-at-check":
        if q.level == "power-loss":
            return Ruling(
                counts_as="finding", reason=f"found at a check, before any {LEVELS[q.level]}"
            )
        return _failure(life, q, f"fault found at a check{unknown}", "interval")
    if q.level in DEEP_LEVELS and life.confirmed is True:
        reason = f"removed on a finding, condition beyond limits confirmed{unknown}"
        return _failure(life, q, reason, "interval")
    return Ruling(counts_as="finding", reason="removed because of a finding")


def _between(life: LifeRow) -> bool:
    found = life.found_at_teardown is True and life.ending in PLANNED
    return found or life.ending in ("found-at-check", "removed-finding")


def _matches(rule: dict[str, Any], life: LifeRow) -> bool:
    for name in ("ending", "source", "build"):
        if name in rule and fold(rule[name]) != fold(getattr(life, name)):
            return False
    if "cause" in rule:
        if not cause_known(rule["cause"]):
            if cause_known(life.cause):
                return False
        elif fold(rule["cause"]) != fold(life.cause):
            return False
    if "confirmed" in rule:
        asked = None if rule["confirmed"] == "unknown" else rule["confirmed"]
        return life.confirmed is asked
    return True
