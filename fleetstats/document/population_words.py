"""The engines built, added up; and the failure level, with what was not looked for."""

from __future__ import annotations

from fleetstats.document.blocks import say
from fleetstats.document.document import Statement
from fleetstats.spells.asserted import Asserted
from fleetstats.spells.funnel import Funnel
from fleetstats.study.settings import LEVELS
from fleetstats.vocabulary.wording import count


def say_sum_of_built(funnel: Funnel) -> str:
    """Say what the engines built are made of: "240 built = 176 used + 60 of unknown fate + …".

    No engine of unknown fate is said only where as many as were built are in the records with
    hours. Blank where the study does not say how many were built.
    """
    f = funnel
    if f.n_built is None:
        return ""
    aside = "set aside" if f.told_apart else "set aside or excluded by a rule"
    parts = [f"{f.total.engines_used:,} used"]
    if f.n_fate_unknown or f.all_with_hours:
        parts.append(f"{f.n_fate_unknown:,} of unknown fate")
    if f.engines_excluded:
        parts.append(f"{f.engines_excluded:,} excluded by a rule")
    if f.engines_aside:
        parts.append(f"{f.engines_aside:,} {aside}")
    less = f.engines_not_built
    return (
        f"{f.n_built:,} built = {' + '.join(parts)}"
        f"{f' − {less:,} not among those built' if less else ''}"
    )


def say_built(funnel: Funnel) -> str:
    """Say how many engines were built, whether all of them are in the records, and who says so."""
    f = funnel
    told = f"{f.n_built:,} engines were built"
    if f.n_fate_unknown:
        return (
            f"{told}, and {f.n_fate_unknown:,} of them stand in no record. Their fate is unknown: "
            f"they are counted here and not assumed to be running. {say_sum_of_built(f)}."
        )
    if f.all_listed:
        return (
            f"{told}, and all of them are in the records: each serial of the list was found there. "
            f"{say_sum_of_built(f)}."
        )
    if f.n_listed:
        return f"{told}; not all of them are in the records with hours. {say_sum_of_built(f)}."
    return (
        f"{told}, as stated, not shown: the study gives a number and no list of serials, so nobody "
        f"can tell whether an engine is missing. {say_sum_of_built(f)}."
    )


def say_starts(asserted: Asserted | None) -> str:
    """Say how many lives count as followed from their start, and what shows it; else blank."""
    if asserted is None or not asserted.n_from_start:
        return ""
    n, unsaid = asserted.n_from_start, asserted.n_from_start_unsaid
    text = f"{count(n, 'life counts as followed from its', 'lives count as followed from their')}"
    text += " start"
    if not unsaid:
        return f"{text}, as a date or the source says of each."
    return (
        f"{text}; of {unsaid:,} of them neither a date nor the source says so: that is stated, not "
        "shown."
    )


def say_level(level: str, *, unlooked: bool) -> str:
    """Say a failure level; where it counts what checks find, also that no check is in the records.

    "None was found" says nothing where nobody looked: `unlooked`, as `Built.unlooked` has it.
    """
    words = LEVELS[level]
    if not unlooked:
        return words
    return f"{words}; no check is in the records, so none beyond limits could be found at one"


def state_population(funnel: Funnel, asserted: Asserted | None) -> tuple[Statement, ...]:
    """Return what is said of engines built and of the starts of lives, however they are read."""
    if funnel.n_built:
        built = say(say_built(funnel), "fact" if funnel.all_listed else "missing")
    else:
        built = say(
            "The study does not say how many engines were built, so nobody can tell how many "
            "are missing from the records. A list of serials would settle it.",
            "missing",
        )
    starts = say_starts(asserted)
    return (built, say(starts, "assumption")) if starts else (built,)
