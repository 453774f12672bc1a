"""Sentences on the check interval, made from the numbers alone."""

from __future__ import annotations

from fleetstats.bands.interval import Interval
from fleetstats.chapters.checks.values import CheckInterval, LongestInterval
from fleetstats.core.units import (
    round_hours,
    text_decided,
    text_hours,
    text_number,
    text_percent,
    text_stated,
)
from fleetstats.vocabulary.wording import at_least, at_most, count, listed


def between(x: Interval, *limits: float, percent: bool) -> str:
    """Say an interval's two edges, rounded outward; each shows its side of the limits."""
    low, high = x.low or 0.0, x.high
    if percent:
        top = "no upper limit" if high is None else at_most(high, *limits)
        return f"{at_least(low, *limits)} to {top}"
    top = "no upper limit" if high is None else text_number(high, digits=2)
    return f"{text_number(low, digits=2)} to {top}"


def verdict_sentence(verdict: str, answer: CheckInterval) -> str:
    """Say the verdict on the usual interval."""
    t = text_hours(answer.usual_h)
    stated = [x for x in answer.longest if x.stated]
    target = listed([f"{x.what} at most {text_stated(x.target)}" for x in stated])
    basis = f"against the stated target ({target})" if stated else ""
    if verdict == "supported":
        return f"The records support a check interval of {t} {basis}, for modes that give warning."
    if verdict == "contradicted":
        return (
            f"The records speak against a check interval of {t} {basis}: it is passed even on "
            "the optimistic edge. A shorter interval may be considered for review."
        )
    if verdict == "not-yet-shown" and _met_on_average(answer):
        return (
            f"Whether a check interval of {t} is short enough is not yet shown {basis}: the mean "
            "over all ages meets it, but faults come faster as engines age, and the old ones are "
            "not judged by a mean."
        )
    if verdict == "not-yet-shown":
        return (
            f"Whether a check interval of {t} is short enough is not yet shown {basis}: the "
            "target lies inside the band."
        )
    return (
        f"The study states no accepted risk, so a check interval of {t} is described here, not "
        "judged. A table of targets stands in place of a verdict."
    )


def _met_on_average(answer: CheckInterval) -> bool:
    """Return whether every stated target is met, and only the steady rate stands in the way."""
    lows = [x.hours.low for x in answer.longest if x.stated]
    return answer.flatters_old and all(x is None or x >= answer.usual_h for x in lows)


def interval_sentences(answer: CheckInterval) -> tuple[str, ...]:
    """Say slip share, failures per 1,000 h, the warning time and what is not covered."""
    slip, rate, mean = answer.slip_at_usual, answer.per_1000_at_usual, answer.mean_delay
    assert slip is not None
    assert rate is not None
    assert mean is not None
    t, level = text_hours(answer.usual_h), f"{100 * answer.level:g} %"
    accepted = [x.target for x in answer.longest if x.stated and x.what.startswith("share")]
    d = [text_percent(x) for x in (answer.detection[0], answer.detection[-1])]
    estimate = (
        f"about {text_decided(slip.estimate, *accepted)} of the faults that can be seen fail"
        if answer.n_failed
        else "none of the faults seen so far failed"
    )
    out = [
        f"With checks each {t}, {estimate} before a check finds them "
        f"({between(slip, *accepted, percent=True)}: {level} limits, for a chance of detection "
        f"anywhere from {d[0]} to {d[1]}).",
        f"That is {text_number(rate.estimate, digits=2)} failures per 1,000 engine hours "
        f"({between(rate, percent=False)}); the checks avoid about "
        f"{text_number(_avoided(answer), digits=2)} per 1,000 h.",
    ]
    if answer.identified:
        top = "no upper limit from these data" if mean.high is None else text_hours(mean.high)
        low = "no lower limit" if mean.low is None else text_hours(mean.low)
        out.append(
            f"A fault that gives warning does so for about {text_hours(mean.estimate)} on average "
            f"({low} to {top}). Detection and warning time are only weakly told apart by such "
            "records; their effect on the share above is what is known."
        )
    else:
        low = text_hours(mean.low) if mean.low is not None else "no length at all"
        out.append(
            f"{count(answer.n_failed, 'fault').capitalize()} failed before being found and "
            f"{answer.n_found or 'none'} {'was' if answer.n_found == 1 else 'were'} found: the "
            f"mean warning time cannot be estimated. It is at least {low} (one-sided "
            f"{50 + 50 * answer.level:g} %); more faults, or a warning time stated from the same "
            "mode elsewhere, would settle it."
        )
    blind = [m for m in answer.modes if m.detectable == "no"]
    if blind:
        n = sum(m.n_failed for m in blind)
        out.append(
            f"Not covered: {listed([m.mode for m in blind])}. The study says that these checks "
            f"cannot see it coming ({count(n, 'failure')} in the records); no interval helps "
            "there."
        )
    seen = [m for m in blind if m.n_found]
    if seen:
        out.append(
            f"Yet {listed([m.mode for m in seen])} was found at a check "
            f"{count(sum(m.n_found for m in seen), 'time')}: the study file or the finding needs a "
            "second look."
        )
    return tuple(out)


LAW_WORDS = {
    "exponential": "exponential",
    "weibull": "Weibull",
    "unseen-share": "exponential beside a share of faults that no check sees",
}
"""The laws of the warning time in words."""


ALIKE = 1.25
"""Ratio to the interval at which the checks were made up to which the laws need no comparing."""


def laws_sentences(answer: CheckInterval) -> tuple[str, ...]:
    """Say which laws of the warning time were averaged, and how they differ beside today's."""
    if not answer.laws:
        return ()
    named = listed([f"{LAW_WORDS[x.law]} (weight {text_percent(x.weight)})" for x in answer.laws])
    parts = [
        f"each {text_hours(t)}, at {listed([text_percent(x.slip[i]) for x in answer.laws])}"
        for i, t in enumerate(answer.laws[0].hours)
        if not answer.made_h / ALIKE <= t <= answer.made_h * ALIKE
    ]
    return (
        f"These figures are averaged over {len(answer.laws)} laws of the warning time: {named}. "
        f"The checks were made each {text_hours(answer.made_h)} or so; at other intervals the laws "
        f"differ. In that order they put the share that fails first, with checks {listed(parts)}. "
        "Limits are the widest over the laws that the records do not rule out." + _unseen(answer),
    )


def _unseen(answer: CheckInterval) -> str:
    """Say how many faults may be out of any check's sight; such records bound it from above."""
    v = answer.unseen_share
    if v is None or v.high is None:
        return ""
    return (
        f" {between(v, percent=True).capitalize()} of the faults may be such that no check sees "
        "them; records at one interval hardly tell more."
    )


def _avoided(answer: CheckInterval) -> float:
    assert answer.intervals_h is not None
    assert answer.avoided_per_1000_h is not None
    at = int(abs(answer.intervals_h - answer.usual_h).argmin())
    return float(answer.avoided_per_1000_h[at])


def longest_sentence(x: LongestInterval, answer: CheckInterval) -> str:
    """Say the longest interval that keeps a stated target."""
    h = x.hours
    if h.low == 0.0:
        careful = "no interval is short enough"
    elif h.low is None:
        careful = "every interval searched is short enough"
    else:
        careful = f"the longest interval is {_near(h.low, answer.usual_h)}"
    best = "not reached" if h.estimate is None else _near(h.estimate, answer.usual_h)
    return (
        f"To keep the {x.what} at or under {text_stated(x.target)}, {careful} on the careful edge "
        f"of the band (one-sided {50 + 50 * answer.level:g} %); as estimated: {best}. Both are "
        "rounded down to whole steps."
    )


def _near(hours: float, usual_h: float) -> str:
    """Round a check interval down: to 5 h from 10 h on, else to whole hours.

    Finer where that would carry it past the usual interval, which it decides about.
    """
    step = 5.0 if hours >= 10 else 1.0
    down = max(round_hours(hours, usual_h, step_h=step, down=True), min(hours, 1.0))
    return text_decided(down, usual_h, unit="h")


def no_fault_sentences(
    exposure_h: float, high_per_1000_h: float | None, one_sided: float
) -> tuple[str, ...]:
    """Say what no fault at all can tell."""
    out = [
        "No fault was found at a check and none failed, so these records cannot say whether the "
        "checks are frequent enough.",
    ]
    if high_per_1000_h is not None:
        out.append(
            f"In {text_hours(exposure_h)} without a fault, faults arise at most "
            f"{text_number(high_per_1000_h, digits=2)} times per 1,000 h (one-sided "
            f"{100 * one_sided:g} %). The first few faults, each with the hours of the last clean "
            "check, would tell more."
        )
    return tuple(out)


def compliance_sentence(
    step: float, allowed: float, due: int, done: int, late: int, found: int, without: int
) -> str:
    """Say how many of the checks that were due are in the records, and how many came late."""
    text = (
        f"Checks each {step:g} h over the hours watched make {due:,} due; the records hold "
        f"{done:,}, which found {count(found, 'fault')}. "
    )
    text += (
        f"{count(late, 'gap').capitalize()} between them {'is' if late == 1 else 'are'} longer "
        f"than {text_hours(allowed)}."
        if late
        else f"No gap is longer than {text_hours(allowed)}."
    )
    if without:
        text += (
            f" {count(without, 'engine').capitalize()} {'has' if without == 1 else 'have'} no "
            "check record at all: checks asserted are not checks evidenced."
        )
    return text
