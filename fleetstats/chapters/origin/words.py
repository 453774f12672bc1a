"""Sentences and rows on names replaced and figures coarsened."""

from __future__ import annotations

from collections.abc import Iterable

from fleetstats.advice.advice import VERDICT_WORDS
from fleetstats.core.units import text_hours
from fleetstats.study.origin import AnswerTold, StudyOrigin, UniqueTold
from fleetstats.vocabulary.wording import count, listed

BY_ITS_MAKER = "as told by the maker"
ANSWERS = {
    "verdict": "Verdict on the claim",
    "failure_high": "Fail by the claim, at most",
    "failure_low": "Fail by the claim, at least",
    "plan_from_h": "Overhaul band, plan from",
    "expect_at_h": "Overhaul band, expect at",
    "not_beyond_h": "Overhaul band, not beyond",
    "supported_h": "Records reach to",
    "oldest_h": "Oldest engine",
    "exposure_h": "Engine hours",
    "failed": "Failures counted",
}
"""What each answer is called."""
UNIQUE = {
    "build-and-dates": "build and dates",
    "hours": "hours at entry and end",
    "both": "build, dates and hours",
}
"""By what engines are told apart, in words."""
WHAT = {"finding": "findings", "reason": "rows set aside for", "departure": "departures in"}


def say_replaced(origin: StudyOrigin) -> str:
    """Return the sentence that names were replaced and to which steps figures were coarsened."""
    return (
        f"Names of engines, sources and files were replaced and free texts removed; "
        f"{origin.steps_said}, no hours moved by more than {text_hours(origin.moved_h)}"
    )


def say_account(origin: StudyOrigin, same: bool) -> str:
    """Return the account of the original in one sentence."""
    a = origin.account
    told = (
        f"{a['read']:,} rows read = {a['used']:,} used + {a['set_aside']:,} set aside, "
        f"{count(a['errors'], 'error')} found"
    )
    if same:
        return f"The original's account comes out here again: {told}."
    return f"The original's account, {BY_ITS_MAKER}: {told}. Here it comes out otherwise."


def say_unlike(origin: StudyOrigin) -> str:
    """Return in one sentence what the records here no longer tell as the original did."""
    if not origin.unlike:
        return "Every kind of finding, reason and departure comes out as often as in the original."
    told = [f"{WHAT[x.what]} {x.code} ({x.at_home}, here {x.here})" for x in origin.unlike]
    return f"Could not be carried without telling too much, {BY_ITS_MAKER}: {listed(told)}."


def say_looks(origin: StudyOrigin) -> str:
    """Return in one sentence what the original's ledger of looks holds; blank for an empty one."""
    looks = origin.looks
    if not looks or not (looks["made"] or not looks["as_written"]):
        return ""
    flawed = "" if looks["as_written"] else "; it was not as it was written"
    n = count(looks["made"], "look")
    return f"The original's ledger holds {n}, {BY_ITS_MAKER}{flawed}. It stays with the maker."


def say_declared_there(origin: StudyOrigin) -> str:
    """Return in one sentence what the original declared; blank where it declared nothing."""
    told = origin.declared
    if told is None:
        return ""
    when = (
        "before any look at its records" if told["before"] else "not before its records were seen"
    )
    changed = (
        f"{count(told['changed'], 'setting')} changed since"
        if told["changed"]
        else ("nothing changed since")
    )
    turning = f", {told['turning']} of them able to turn the verdict" if told["changed"] else ""
    return (
        f"The declaration of the question stays with the maker: declared {when}, "
        f"{changed}{turning} ({BY_ITS_MAKER})."
    )


def answer_rows(answers: Iterable[AnswerTold]) -> tuple[tuple[str, str, str], ...]:
    """Return each answer's name, as it was and as it is here."""
    return tuple((ANSWERS[x.name], _shown(x.name, x.at_home), _shown(x.name, x.here))
                 for x in answers)  # fmt: skip


def _shown(name: str, x: float | str | None) -> str:
    if x is None:
        return "–"
    if isinstance(x, str):
        return VERDICT_WORDS.get(x, x)
    if name.endswith("_h"):
        return text_hours(x)
    return f"{x:g}" if name == "failed" else f"{100 * x:.1f} %"


def unique_rows(unique: Iterable[UniqueTold]) -> tuple[tuple[str, str, int, int, int], ...]:
    """Return how many engines are alone, in pairs and in larger groups, before and after."""
    return tuple(
        (UNIQUE[x.by], when, *counts)
        for x in unique
        for when, counts in (("before", x.before), ("after", x.after))
    )
