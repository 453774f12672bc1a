"""Sentences on earlier looks."""

from __future__ import annotations

from collections import Counter
from typing import Any

from fleetstats.advice.advice import VERDICT_WORDS
from fleetstats.chapters.looks_made.values import LooksMade
from fleetstats.core.units import text_hours
from fleetstats.document.cells import plain_text
from fleetstats.study.assumptions import text_value
from fleetstats.study.history import HISTORY_FILE, LedgerLook
from fleetstats.vocabulary.wording import count, listed

MOST_KEYS = 4
LONGEST = 60
"""Letters of a setting's value in a cell."""


def say_looks(made: LooksMade) -> tuple[str, ...]:
    """Say how many looks were made, what they said, and what that means for this one."""
    if not made.earlier:
        return ()
    n, first = made.n_earlier, made.earlier[0].date
    runs = "" if len(made.earlier) == n else (
        f" ({len(made.earlier)} runs; those that saw the same thing count once)"
    )  # fmt: skip
    begun = f", the first with records to {first}" if first else ""
    out = [
        f"{count(n, 'earlier look').capitalize()} at this fleet "
        f"{'is' if n == 1 else 'are'} written down in {HISTORY_FILE}{runs}{begun}: this is look "
        f"{n + 1}.",
    ]
    words = Counter(x.verdict for x in made.earlier if x.verdict)
    if words:
        said = [f"“{VERDICT_WORDS[w]}” {_times(k)}" for w, k in words.items()]
        out.append(f"On the hours that were asked they said {listed(said)}.")
    if made.since:
        out.append(f"Since the last of them: {made.since}.")
    out.append(
        "A bound holds its confidence at one look. Whoever looks again and again, and stops at the "
        "first look that says “supported”, is wrong more often than the bound says."
    )
    return tuple(out)


def say_changed(before: LedgerLook, after: LedgerLook) -> str:
    """Say what was changed from one look to the next: records, date, question, settings, tool."""
    said = []
    if before.data != after.data:
        said.append(_records(before, after))
    if before.date != after.date:
        said.append(f"records to {after.date or 'no date'}, not {before.date or 'no date'}")
    if before.asked != after.asked:
        said.append(f"asked {_asked(after)}, not {_asked(before)}")
    keys = [k for k in dict.fromkeys([*before.chosen, *after.chosen])
            if before.chosen.get(k) != after.chosen.get(k)]  # fmt: skip
    said += [
        f"{plain_text(k)} {_value(before.chosen, k)} → {_value(after.chosen, k)}"
        for k in keys[:MOST_KEYS]
    ]
    if len(keys) > MOST_KEYS:
        said.append(f"{count(len(keys) - MOST_KEYS, 'setting')} more")
    if before.version and after.version and before.version != after.version:
        said.append(f"fleetstats {plain_text(after.version)}, not {plain_text(before.version)}")
    return "; ".join(said) or "nothing: the same was asked of the same records"


def _records(before: LedgerLook, after: LedgerLook) -> str:
    more = []
    for name, unit in (("failed", "failures"), ("exposure_h", "h")):
        was, now = before.answers.get(name), after.answers.get(name)
        if isinstance(was, float | int) and isinstance(now, float | int):
            more.append(f"{now - was:+,.0f} {unit}")
    return f"other records ({', '.join(more)})" if more else "other records"


def _asked(look: LedgerLook) -> str:
    hours, share = look.asked.get("hours"), look.asked.get("reliability")
    if not isinstance(hours, float | int) or not isinstance(share, float | int):
        return "no claim"
    return f"{100 * share:g} % at {text_hours(float(hours))}"


def _value(chosen: dict[str, Any], key: str) -> str:
    if key not in chosen:
        return "not set"
    text = plain_text(text_value(_tupled(chosen[key])))
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"


def _tupled(held: Any) -> Any:
    return tuple(held) if isinstance(held, list) else held


def _times(k: int) -> str:
    return {1: "once", 2: "twice"}.get(k, f"{k} times")
