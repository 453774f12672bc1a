"""What is said of changes, and the cautions that they call for."""

from __future__ import annotations

import datetime as dt

from fleetstats.chapters.change.values import Changed, ChangeLine
from fleetstats.core.units import text_decided, text_hours, text_number, text_percent
from fleetstats.survival.change.power import WANTED, Power
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.limits import HONEST_P
from fleetstats.vocabulary.wording import at_most, chance, count, hours_exact, stated

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def month_words(day: float | dt.date) -> str:
    """Name the month of a day, an ordinal or a date: "September 2024"."""
    date = day if isinstance(day, dt.date) else dt.date.fromordinal(int(day))
    return f"{MONTHS[date.month - 1]} {date.year}"


def who_words(by: str, name: str) -> str:
    """Say whose failures, with a blank before: " of valve", " in build B"; blank for all."""
    return {
        "all": "",
        "cause": f" of cause '{name}'",
        "build": f" in build '{name}'",
        "source": f" of source '{name}'",
    }[by]


def factor_words(line: ChangeLine) -> str:
    """Say the factor with its limits: "4.1 times (2.2 to 9)"."""
    c = line.change
    low = "no limit" if c.low is None else text_decided(c.low, 1.0, unit="", digits=2)
    high = "no limit" if c.high is None else text_decided(c.high, 1.0, unit="", digits=2)
    if c.factor is None:
        return f"at least {low} times"
    return f"{text_decided(c.factor, 1.0, unit='', digits=2)} times ({low} to {high})"


def between_words(line: ChangeLine) -> str:
    """Say between which months the date lies."""
    first, last = month_words(line.change.day_low), month_words(line.change.day_high)
    return f"in {first}" if first == last else f"{first} to {last}"


def line_words(line: ChangeLine) -> str:
    """Say one subject in a line."""
    c = line.change
    p = chance(line.p_held, HONEST_P)
    lead = f"Failures{who_words(line.by, line.name)}"
    seen = f"{c.n_after:g} where {text_number(c.expected_after, digits=2)} were due"
    if not line.flagged:
        return (
            f"{lead}: {c.n:g}, no change shown. The most likely date is {month_words(c.day)} "
            f"({seen}), and chance gives as much in {p} of fleets."
        )
    if c.new and c.rose:
        text = (
            f"{lead} began in {month_words(c.day)} ({between_words(line)}): {c.n_after:g} since, "
            f"none in {text_hours(line.hours_before)} before"
        )
    else:
        text = (
            f"{lead} come {factor_words(line)} as often at equal ages since "
            f"{month_words(c.day)} ({between_words(line)}): {seen}"
        )
    return f"{text}. If nothing had changed, chance would give as much in {p} of fleets."


def power_words(power: Power) -> str:
    """Say what a change a year ago would have shown: its chance, and from how many failures on."""
    name = {2.0: "A doubling", 5.0: "A five-fold rate"}.get(power.factor, f"{power.factor:g} times")
    text = f"{name} a year ago would have been seen with a chance of {text_percent(power.chance)}"
    if power.chance >= WANTED:
        return text + "."
    if power.needed is None:
        return (
            f"{text}; with so few failures before it, no number after it would show one with "
            f"{stated(WANTED)}."
        )
    return f"{text}; with {stated(WANTED)} after {count(power.needed, 'failure')}."


def change_sentence(changed: Changed) -> str:
    """Say what changed, or that nothing is shown and what would have been seen."""
    if not changed.lines:
        text = "Fewer than two failures have dates, so no change over the calendar can be seen."
    elif changed.flagged:
        text = " ".join(line_words(x) for x in changed.flagged[:2])
        if len(changed.flagged) > 2:
            text += f" {count(len(changed.flagged) - 2, 'further change')} in the table."
    else:
        first = changed.lines[0]
        text = (
            f"No change of the failure rate at equal ages is shown from "
            f"{month_words(changed.first_day)} to {month_words(changed.last_day)} "
            f"({count(first.change.n, 'failure')}, {count(len(changed.lines), 'comparison')}). "
            + " ".join(power_words(p) for p in first.powers)
        )
    if changed.n_undated > 0:
        text += f" {capital(count(changed.n_undated, 'failure'))} without dates stayed out."
    return text


def _then(changed: Changed, line: ChangeLine) -> str:
    """Say what the claim is from the hours since the change, where it is that of this line."""
    since = changed.since
    if since is None or line != changed.leads:
        return "Read the answer since that date beside the one from all years."
    return (
        f"From the hours since then alone at most {at_most(since.failure_high)} fail by "
        f"{hours_exact(since.hours)}; a life begun now meets that rate, not that of all years."
    )


def change_cautions(changed: Changed) -> tuple[Caution, ...]:
    """Return a caution for each change of failures in question; builds and sources likewise.

    Where a cause rose, that all failures rose as well is no second matter.
    """
    out = []
    by_cause = any(x.by == "cause" and x.rose and x.asked for x in changed.flagged)
    for line in changed.flagged:
        if not line.asked or (line.by == "all" and line.rose and by_cause):
            continue
        c = line.change
        key = "rate-fell" if not c.rose else "rate-changed/new" if c.new else "rate-changed"
        out.append(
            caution(
                key,
                value=f"{c.n_after:g} failures, chance {chance(line.p_held, HONEST_P)}",
                limit=text_percent(HONEST_P),
                who=who_words(line.by, line.name),
                factor=factor_words(line),
                month=month_words(c.day),
                between=between_words(line),
                after=f"{c.n_after:g}",
                due=text_number(c.expected_after, digits=2),
                hours=text_hours(line.hours_before),
                then=_then(changed, line),
            )
        )
    return tuple(out)
