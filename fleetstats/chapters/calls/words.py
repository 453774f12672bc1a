"""The sentences of a list of calls."""

from __future__ import annotations

from fleetstats.advice.advice import VERDICTS
from fleetstats.chapters.calls.values import Call, CallList, Together
from fleetstats.chapters.calls.whom import Whom
from fleetstats.core.units import text_hours
from fleetstats.vocabulary.wording import at_most, chance, count

SHOWN = 20
"""Calls shown at a prompt; the whole list is for --out."""

HOW = (
    "Hours since the last reading go by the use per year of each engine, else by the stated one, "
    "else by the median of the others; each engine either ran on to the hours expected today or "
    "failed on the way, and whoever is asked tells which. An engine taken off for another reason "
    "tells less."
)
BAD = (
    "Bad news is a failure since the last reading that nobody told; its chance goes by the laws of "
    "life averaged for the forecast, as if failures told themselves no sooner than readings do."
)
ALL = (
    "Whom to ask is chosen before the answers are known, so asking some and not others bends "
    "nothing; leaving an answer out does. Enter every answer, bad news first."
)


def _edge(p: float, accepted: float) -> str:
    """Return a bound with three digits, since calls move it by little."""
    return at_most(p, accepted, digits=3)


def list_sentence(calls: CallList, accepted: float) -> str:
    """Say what the first calls together are expected to do to the bound."""
    t = calls.together
    if t is None:
        return (
            "There is nobody to ask: every engine was read on the analysis date, or nothing tells "
            "how long it ran since."
        )
    at = f"{calls.hours:,.0f} h"
    now, then = (_edge(p, accepted) for p in (calls.high_now, t.expected))
    moved = f"to take the bound at {at} from {now} to {then}"
    if now == then:
        moved = f"to leave the bound at {at} at {now}"
    verb = "is" if t.n == 1 else "are"
    return (
        f"{_calls_of(calls, t).capitalize()} {verb} expected {moved}: {_edge(t.if_good, accepted)} "
        f"{_if_none(t)} bad news, and the claim would then be {VERDICTS[t.word_if_good]}. "
        + _bad_news(t, accepted)
    )


def _calls_of(calls: CallList, t: Together) -> str:
    if calls.by == "engine":
        return count(t.n, "call")
    engines = sum(c.n_engines for c in calls.calls[: t.n])
    return f"{count(t.n, 'call')} about {count(engines, 'engine')}"


def _if_none(t: Together) -> str:
    return "if it brings no" if t.n == 1 else "if none brings"


def _bad_news(t: Together, accepted: float) -> str:
    if t.chance_bad <= 0.0:
        return "No call can bring news of a failure that is not known already."
    return (
        f"The chance that one engine or more failed unheard is {chance(t.chance_bad)}; the bound "
        f"would then be {_edge(t.if_bad, accepted)} on the mean."
    )


def assumption_words(calls: CallList, whom: Whom) -> tuple[str, ...]:
    """Return what was assumed for a list, and who is not on it."""
    out = [HOW, BAD, ALL] if calls.together is not None else []
    rising = sum(c.change > 0.0 for c in calls.calls)
    if rising:
        verb = "is" if rising == 1 else "are"
        out.append(
            f"{count(rising, 'call')} {verb} expected to raise the bound; such calls are owed as "
            "much as the others."
        )
    left = (
        (whom.unnamed, "built and in no record, with no serial to ask for (fleet.serials_file)"),
        (whom.undated, "without any date from which its hours could be reckoned"),
        (whom.no_use, "without a use per year (fleet.hours_per_year)"),
        (whom.several, "in rows that stand for several: give each engine its own row"),
    )
    told = [f"{count(n, 'engine')} {why}" for n, why in left if n]
    if told:
        out.append(f"Not on the list: {'; '.join(told)}.")
    return tuple(out)


def list_text(calls: CallList) -> str:
    """Return the list for a prompt: the sentence, the first calls, and what was assumed."""
    lines = [calls.sentence]
    if calls.together is not None:
        lines += ["", *_table(calls)]
    return "\n".join([*lines, "", *calls.assumptions]).rstrip()


def _table(calls: CallList) -> list[str]:
    shown = calls.calls[:SHOWN]
    heads = ("call", calls.by, "hours not read", "bad news", "change alone", "bound so far")
    rows = [heads, *(_cells(c, calls) for c in shown)]
    widths = [max(len(r[i]) for r in rows) for i in range(len(heads))]
    text = []
    for row in rows:
        cells = (_pad(c, w, i) for i, (c, w) in enumerate(zip(row, widths, strict=True)))
        text.append("  ".join(cells).rstrip())
    more = len(calls.calls) - len(shown)
    if more:
        text.append(f"and {more:,} more: --out writes them all")
    return text


def _cells(c: Call, calls: CallList) -> tuple[str, ...]:
    name = c.name or "(not said)"
    if calls.by == "owner":
        name = f"{name} ({count(c.n_engines, 'engine')})"
    elif c.source:
        name = f"{name}, {c.source}"
    so_far = "" if c.high_if_good is None else _edge(c.high_if_good, 1.0 - calls.target)
    bad = "known" if c.chance_bad == 0.0 and c.unread_h == 0.0 else chance(c.chance_bad)
    return (str(c.call), name[:60], text_hours(c.unread_h), bad, points(c.change), so_far)


def points(change: float) -> str:
    """Say a change of a chance in points of percent, with its sign."""
    x = 100.0 * change
    return "0" if abs(x) < 0.0005 else f"{x:+.3f}" if abs(x) < 0.1 else f"{x:+.2f}"


def _pad(cell: str, width: int, i: int) -> str:
    return cell.ljust(width) if i == 1 else cell.rjust(width)
