"""What ends the advice and when it is looked at again: the study's words, or the default's.

An evidence report without a stop rule and a review date is rejected, so both always stand in it,
marked as chosen or as default.
"""

from __future__ import annotations

import calendar
import datetime as dt

from fleetstats.advice.results import Results
from fleetstats.chapters.decision.rule_chance import StopChance
from fleetstats.core.units import text_hours, text_number
from fleetstats.vocabulary.wording import chance, count, stated

NOT_CHOSEN = "default, not yet chosen"
"""What is said of a choice that is the reader's and that nobody has made."""


def add_months(day: dt.date, months: int) -> dt.date:
    """Return the same day some months later; the last of the month where that day is not there."""
    at = day.year * 12 + day.month - 1 + months
    year, month = divmod(at, 12)
    return dt.date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def review_date(results: Results) -> dt.date | None:
    """Return the date by which the advice is looked at again; None without an analysis date."""
    s = results.settings
    day = s.study.analysis_date
    return None if day is None else add_months(day, s.decision.review_months)


def stop_sentence(results: Results) -> str:
    """Return the stop rule: how many further failures end the advice."""
    n = results.settings.decision.stop_failures
    limit = results.advice.overhaul_band.plan_from.hours
    below = "" if limit is None else f" below {text_hours(limit)}"
    return (
        f"Stop rule ({_from(results, 'decision.stop_failures')}): "
        f"{count(n, 'further confirmed failure')} of this kind{below}, or any failure from a cause "
        f"that the checks cannot see, {'ends' if n == 1 else 'end'} this advice until it is worked "
        f"out again with the new failures in it.{_against_forecast(results)}"
    )


def stop_against(s: StopChance) -> str:
    """Say how often the rule is reached though nothing has changed; blank where that is seldom."""
    if not s.likely:
        return ""
    below = "" if s.below_h is None else f" below {text_hours(s.below_h)}"
    ahead = f"in {count(s.months, 'month')}"
    surprising = (
        f"{count(s.surprising, 'failure')} or more{below} would come with a chance of at most "
        f"{stated(s.false_alarm)}"
    )
    if s.contradicts:
        return (
            f"The forecast itself expects about {text_number(s.expected, digits=2)} such failures "
            f"{ahead}, so a rule that ends the advice at {s.failures} contradicts it and is no "
            f"rule: {surprising} ([decision] stop_failures)."
        )
    return (
        f"Though nothing had changed, it would be reached with a chance of {chance(s.chance)} "
        f"{ahead}: reaching it alone is no sign of a change; {surprising}."
    )


def _against_forecast(results: Results) -> str:
    asked = results.chapters.get("stop-chance")
    said = stop_against(asked) if isinstance(asked, StopChance) else ""
    return f" {said}" if said else ""


def review_sentence(results: Results) -> str:
    """Return the review date and what brings it forward."""
    months = results.settings.decision.review_months
    day = review_date(results)
    when = (
        f"{count(months, 'month')} after the records end" if day is None else
        f"by {day}, {count(months, 'month')} after the records end"
    )  # fmt: skip
    return (
        f"Review ({_from(results, 'decision.review_months')}): {when}, or when the oldest engine "
        "passes the evidence horizon, whichever is first. Stop rule and review date are working "
        "rules; the holder of the maintenance programme sets the binding ones."
    )


def end_rows(results: Results) -> list[tuple[str, str]]:
    """Return stop rule and review date in a few words each, for the claim box."""
    s = results.settings.decision
    limit = results.advice.overhaul_band.plan_from.hours
    below = "" if limit is None else f" below {text_hours(limit)}"
    failures = count(s.stop_failures, "further confirmed failure")
    day = review_date(results)
    when = f"by {day}" if day is not None else f"{count(s.review_months, 'month')} on"
    asked = results.chapters.get("stop-chance")
    against = ""
    if isinstance(asked, StopChance) and asked.contradicts:
        about = text_number(asked.expected, digits=2)
        against = f"; the forecast expects about {about}, so it is no rule"
    return [
        ("Stop rule", f"{failures}{below} ({_from(results, 'decision.stop_failures')}){against}"),
        ("Review", f"{when} ({_from(results, 'decision.review_months')})"),
    ]


def _from(results: Results, key: str) -> str:
    return "chosen by the study" if key in results.study.chosen else NOT_CHOSEN
