"""What these records and settings left unexamined: each a rule and a line."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from fleetstats.chapters.declared import late_line
from fleetstats.chapters.groups import Pooled
from fleetstats.chapters.origin import OriginTold, say_declared_there
from fleetstats.chapters.weakest.values import NotExamined
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.wording import count

if TYPE_CHECKING:
    from fleetstats.advice.results import HowRead, Results

BULK = "bulk"
"""Key of the account of a table read by chunks."""

NOT_BY_CHUNKS = ("untold",)
"""Gaps of which the line on such a table speaks."""

TEARDOWN = "teardown"
"""The event of a log that takes an engine apart."""


def list_gaps(results: Results) -> tuple[NotExamined, ...]:
    """Return what was not examined, in a fixed order.

    Of a table read by chunks, whose rows were not kept, all that only rows tell is one line; what
    was counted of them is told as of rows read whole.
    """
    found = []
    whole = BULK not in results.chapters
    for key, name, rule in GAPS:
        told = rule(results) if whole or key not in NOT_BY_CHUNKS else ""
        if told:
            found.append(NotExamined(key=key, name=name, sentence=told))
    return tuple(found)


def _chunks(r: Results) -> str:
    if BULK not in r.chapters:
        return ""
    return (
        "The table was read by chunks: what no return told, signs for a second look and the weight "
        "of each single engine were not looked at."
    )


def _quick(r: Results) -> str:
    return say_left_out(r.how_read)


def say_left_out(how: HowRead) -> str:
    """Say what a quick study left out and how to get it; blank for any other."""
    if not how.quick:
        return ""
    return f"Left out, and worked out without --quick: {'; '.join(how.left_out)}."


def _checks(r: Results) -> str:
    told = r.built.asserted
    if told is None or told.checks_seen:
        return ""
    return "No check is in the records: faults that one would have found are not seen."


def _dates(r: Results) -> str:
    told = r.built.told_of(r.settings)
    without = told.n_undated
    if not without:
        return ""
    if without == told.n_lives:
        return "No life has a date of its end or last reading: changes over the years are not seen."
    return (
        f"{capital(count(without, 'life', 'lives'))} without a date of the end or last reading: "
        "when they ran is not seen."
    )


def _teardowns(r: Results) -> str:
    told = r.built.told_of(r.settings)
    if not told.n_lives or told.n_torn_down:
        return ""
    if any(getattr(e, "kind", "") == TEARDOWN for e in r.records.events):
        return ""
    return "No teardown is in the records: what was worn in engines taken out is not seen."


def _serials(r: Results) -> str:
    if r.settings.fleet.serials_file:
        return ""
    return "No list of serials built: engines that are in no record cannot be named."


def _calendar(r: Results) -> str:
    if "calendar" in r.chapters:
        return ""
    return "Ageing by years, standing idle and corrosion were not set beside hours."


def _sources(r: Results) -> str:
    if "between-sources" in r.chapters:
        return ""
    if "source" not in r.settings.groups.by:
        return "Sources were not compared: the settings leave it out."
    if r.built.told_of(r.settings).n_sources > 1:
        return "Sources could not be set beside each other."
    return "All records come from one source: there is no other to compare it with."


def _builds(r: Results) -> str:
    pooled = r.chapters.get("pooling")
    if isinstance(pooled, Pooled) and any(g.by == "build" for g in pooled.groups):
        return ""
    return "Build standards were not compared."


def _log(r: Results) -> str:
    if r.study.of_shape("log"):
        return ""
    return "No log of use: hours and ends were told once, not followed from entry to entry."


def _untold(r: Results) -> str:
    if "unreported" in r.chapters:
        return ""
    return "No failure could be told by two sources: how many nobody told is not estimated."


def _rate(r: Results) -> str:
    if r.settings.base_rate.per_10000_h is not None:
        return ""
    return "No public rate is stated to hold the failures told against."


def _declared(r: Results) -> str:
    origin = r.chapters.get("origin")
    there = say_declared_there(origin.origin) if isinstance(origin, OriginTold) else ""
    return there or late_line(r.chapters.get("declared"))


GAPS: tuple[tuple[str, str, Callable[[Results], str]], ...] = (
    ("chunks", "Single engines", _chunks),
    ("quick", "Quick study", _quick),
    ("checks", "Checks", _checks),
    ("dates", "Dates", _dates),
    ("teardowns", "Teardowns", _teardowns),
    ("serials", "Serials", _serials),
    ("calendar", "Years", _calendar),
    ("sources", "Sources", _sources),
    ("builds", "Builds", _builds),
    ("log", "Log of use", _log),
    ("untold", "Failures untold", _untold),
    ("public-rate", "Public rate", _rate),
    ("declared", "Declared", _declared),
)
"""Key, name and rule of each; a rule returns its line, or nothing where it was examined."""
