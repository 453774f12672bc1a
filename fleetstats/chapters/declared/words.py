"""Sentences on what was declared before the records were drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fleetstats.chapters.declared.values import DeclaredChange, DeclaredQuestion
from fleetstats.document.cells import plain_text
from fleetstats.study.assumptions import text_value
from fleetstats.study.declared.chain import DECLARED_FILE
from fleetstats.vocabulary.wording import count, listed

if TYPE_CHECKING:
    from fleetstats.advice.results import Results

LONGEST = 60
"""Letters of a setting's key or value in a sentence or cell."""


def declared_lines(results: Results) -> tuple[str, ...]:
    """Return the line for a first page; nothing where no question was declared."""
    told = results.chapters.get("declared")
    return told.prompt_lines if isinstance(told, DeclaredQuestion) else ()


def late_line(told: object) -> str:
    """Say why a declaration was not made before the records were seen; blank where it was."""
    if not isinstance(told, DeclaredQuestion):
        return "The question was not declared before the records were seen."
    if told.late:
        return (
            f"The question was declared on {told.on}, after {count(told.late, 'look')} at these "
            "records."
        )
    if told.lay_there:
        n = count(len(told.lay_there), "record file")
        return f"When the question was declared on {told.on}, {n} lay there as now."
    return ""


def say_first(told: DeclaredQuestion) -> str:
    """Say in one line when the question was declared and what was changed since."""
    when = f"The question was declared on {told.on}"
    if told.before:
        when += ", before any look at these records was written down"
    elif told.late:
        when += f", after {count(told.late, 'look')} at these records"
    else:
        when += ", when these records lay there already"
    if not told.changes:
        return f"{when}; nothing of it was changed since."
    if not told.turning:
        n = len(told.changes)
        return f"{when}; {count(n, 'setting')} changed since, none that can turn the verdict."
    first, n = told.turning[0], len(told.turning)
    more = f" and {count(n - 1, 'other')}" if n > 1 else ""
    return f"{when}; changed since, and able to turn the verdict: {say_change(first)}{more}."


def say_change(change: DeclaredChange) -> str:
    """Say one change: what was declared and what holds."""
    return f"{change.key} (declared {change.was}, now {change.now})"


def say_declared(told: DeclaredQuestion) -> tuple[str, ...]:
    """Say it for the chapter, with what a declaration can and cannot show."""
    out = [say_first(told)]
    if len(told.versions) > 1:
        out.append(
            f"It was declared {count(len(told.versions), 'time')}; the study is held against "
            f"version {told.held}, "
            + ("the last before the first look." if not told.late else "the first.")
        )
    if told.lay_there:
        out.append(
            f"When it was declared, {listed([f'“{plain_text(n)}”' for n in told.lay_there[:3]])} "
            "lay in the folder with the same content as now."
        )
    out.append(
        f"The chain of versions in {DECLARED_FILE} is whole. Its days are those of the clock of "
        "the machine: that it was not made later is shown only by a digest, or a copy, that "
        "somebody else has held since. How the words of a record file are read is not declared."
    )
    return tuple(out)


def value_text(held: Any) -> str:
    """Return a declared value for a reader, on one line and not too long."""
    text = plain_text(text_value(tuple(held) if isinstance(held, list) else held))
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"
