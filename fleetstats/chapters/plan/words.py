"""The sentences of a plan."""

from __future__ import annotations

import datetime as dt
import math

from fleetstats.advice.judge import Judgement
from fleetstats.advice.left_out import say_further
from fleetstats.chapters.plan.values import PlanNeed, PlanOption, PlanStep
from fleetstats.chapters.plan.ways import Ask
from fleetstats.spells.left_out import LeftOut
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.wording import (
    NOT_LIKELY_TO_SHOW,
    at_most,
    chance,
    count,
    shape_words,
    stated,
)


def need_sentence(
    ask: Ask,
    worst: PlanNeed,
    n_running: int,
    settings: Settings,
    judged: Judgement | None,
    new: int | None = None,
) -> str:
    """Say what is missing for the target, at the least favourable shape, and when it would come.

    `judged` is the judgement on the claim, where it is what the plan is asked for; `new` the new
    engines that make it by the rule for claims.
    """
    aim = (
        f"a reliability of {stated(ask.target)} at {ask.hours:,.0f} h with "
        f"{100 * ask.confidence:g} % confidence"
    )
    shown = judged is not None and judged.word == "supported"
    if worst.missing <= 0 and judged is not None and not shown:
        return (
            f"For every shape in the stated range the records hold lives enough for {aim}, but the "
            f"claim is not shown: {judged.because}."
        )
    if worst.missing <= 0:
        spare = f" even with {count(ask.failures, 'further failure')}" if ask.failures else ""
        return f"The records support {aim}{spare}, for every shape in the stated range."
    lacking = worst.new_to_target if new is None else new
    without = count(ask.failures, "failure") if ask.failures else "no failure"
    aim_of = (
        f"The records support {aim}. Were the least favourable shape the true one,"
        if shown
        else f"To show {aim}"
    )
    text = (
        f"{aim_of} the records lack the worth of {lacking:,} engines run from "
        f"new to {ask.hours:,.0f} h (least favourable shape {shape_words(worst.shape)})."
    )
    truth = ask.truth
    if truth.fit is not None and truth.kind == "fit":
        estimate = 1.0 - float(truth.fit.reliability(ask.hours))
        if estimate > 1.0 - ask.target:
            text += (
                f" But the best estimate is {chance(estimate, 1.0 - ask.target)} by then, above "
                "the accepted "
                f"{stated(1.0 - ask.target)}: {NOT_LIKELY_TO_SHOW}."
            )
    if worst.hours_each is None:
        return (
            f"{text} No engine in the records is running, so it would take "
            f"{lacking:,} new engines with {without}."
        )
    text += (
        f" The {count(n_running, 'running engine')} would have to add about "
        f"{worst.hours_each:,.0f} h each with {without}"
    )
    text += _when(worst, settings)
    if worst.chance is not None:
        text += (
            f". The chance of that is {chance(worst.chance)}, on the assumption of "
            f"{ask.truth.words}"
        )
    return text + "."


def _when(worst: PlanNeed, settings: Settings) -> str:
    """Say when the running engines would have the hours."""
    if worst.years is None:
        return " (state the hours flown per year to turn that into a date: fleet.hours_per_year)"
    if worst.shown_on is None:
        return f", {worst.years:,.1f} years at the stated use"
    return (
        f", which at {settings.fleet.hours_per_year:,.0f} h a year is reached about "
        f"{worst.shown_on:%B %Y}"
    )


def rule_sentence(
    ask: Ask,
    worst: PlanNeed,
    rule_h: float | None,
    settings: Settings,
    *,
    judged: Judgement | None = None,
) -> str:
    """Say what the rule by which claims are quoted asks beyond the table of known shapes."""
    each = worst.hours_each if worst.missing > 0 else 0.0
    if rule_h is None or each is None or rule_h <= 1.01 * each:
        return ""
    by = "the worst over the shapes left open"
    if judged is not None and judged.extrapolated:
        by += " and by engines at risk there"
    when = ""
    use, day = settings.fleet.hours_per_year, settings.study.analysis_date
    if use and day is not None and rule_h / use < 500:
        reached = day + dt.timedelta(days=round(365.25 * rule_h / use))
        when = f", about {reached:%B %Y} at that use"
    return (
        f" A claim of {ask.hours:,.0f} h is judged by {by} too, which asks more: about "
        f"{math.ceil(rule_h):,} h each with no failure{when}."
    )


def left_out_sentence(left_out: tuple[LeftOut, ...]) -> str:
    """Say that every figure of a plan counts the failures that no life counts; blank without."""
    if not left_out:
        return ""
    return (
        f" All of this counts {say_further(left_out)}; to learn their hours may be worth more than "
        "running on."
    )


def options_sentence(ask: Ask, options: tuple[PlanOption, ...], shape: float) -> str:
    """Compare new engines with the oldest run on, at one shape."""
    pair = {o.option: o for o in options if o.shape == shape}
    new, old = pair["new"], pair["oldest"]
    accepted = 1.0 - ask.target
    if not old.n_engines:
        return "No running engine is younger than the hours planned, so none can be run on."
    return (
        f"At shape {shape_words(shape)}, {count(new.n_engines, 'new engine')} run to "
        f"{ask.run_to_h:,.0f} h "
        f"would take the upper bound at {ask.hours:,.0f} h from "
        f"{at_most(new.failure_high_now, accepted)} to "
        f"{at_most(new.failure_high_after, accepted)}, with a chance of {chance(new.chance_none)} "
        "that "
        f"none fails on the way; the {count(old.n_engines, 'oldest engine')} run on to the same "
        f"age would take it to {at_most(old.failure_high_after, accepted)}, with "
        f"{chance(old.chance_none)}. The chance that the bound ends worse than today's is "
        f"{chance(new.chance_worse)} and {chance(old.chance_worse)}."
    )


def steps_sentence(steps: tuple[PlanStep, ...]) -> str:
    """Say how the fleet would move up, or where it stops for want of engines."""
    if not steps:
        return "The hours asked for are not above those at which the fleet stands: no step needed."
    last = steps[-1]
    if last.n_leaders is None:
        return (
            f"The step from {last.from_h:,.0f} to {last.to_h:,.0f} h cannot be shown by the "
            f"engines now running, even if none fails: more engines are needed first."
        )
    parts = []
    for s in steps:
        if s.n_leaders == 0:
            parts.append(f"to {s.to_h:,.0f} h the records already carry")
        else:
            stop = f", stop at {count(s.stop_after or 1, 'failure')}" if s.stop_after else ""
            parts.append(f"to {s.to_h:,.0f} h with {count(s.n_leaders or 0, 'leader')}{stop}")
    return "In steps: " + "; ".join(parts) + ". The fleet follows only when a step is shown."
