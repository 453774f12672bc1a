"""The sentence about a claim that may be quoted, and the one that may not."""

from __future__ import annotations

from fleetstats.advice.judge import BY_COUNT
from fleetstats.advice.left_out import say_beside
from fleetstats.advice.looks.words import say_look
from fleetstats.chapters.claim.values import AgePattern, Claim
from fleetstats.core.value import Array
from fleetstats.document.population_words import say_level
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.provisos import but
from fleetstats.vocabulary.wording import (
    at_least,
    at_most,
    count,
    heads,
    hours_down,
    hours_exact,
    lives_of,
    one_in_at_most,
    stated,
)
from fleetstats.vocabulary.wording import chance as say_chance


def nothing_quoted(claim: Claim) -> bool:
    """Return whether the claimed hours lie past the evidence and nothing may be said of them."""
    return claim.extrapolated and claim.state != "contradicted"


def may_quote(claim: Claim, settings: Settings) -> str:
    """Return the sentence that these records carry, and which look at them it stands on."""
    told = "" if claim.look is None else say_look(claim.look)
    return _may_quote(claim, settings) + (f" {told}" if told else "")


def _may_quote(claim: Claim, settings: Settings) -> str:
    accepted, seen, beside = 1.0 - claim.target, _seen(claim, settings), _beside(claim)
    end = hours_exact(claim.supported_h, claim.hours)
    if nothing_quoted(claim):
        enough = heads(settings.evidence.min_at_risk, engines=claim.counts_engines)
        return (
            f"{seen}. Fewer than {enough} were at risk beyond "
            f"{end}: these records say nothing that may be quoted about "
            f"{claim.hours:,.0f} h. They carry to {hours_down(claim.shown_to_h, claim.hours)} for "
            f"a reliability of {stated(claim.target)}{beside}."
        )
    if claim.state == "contradicted" and claim.because == BY_COUNT:
        return (
            f"{seen}. At {100 * claim.confidence:g} % confidence (one-sided) at least "
            f"{at_least(claim.failure_low, accepted)} meet this failure by {claim.hours:,.0f} h, "
            "whatever the law of life: the failures seen by then are counted. So the accepted "
            f"{stated(accepted)} is contradicted{beside}."
        )
    if claim.state == "contradicted" and claim.extrapolated:
        return (
            f"{seen}. At {100 * claim.confidence:g} % confidence (one-sided) at least "
            f"{at_least(claim.failure_low, accepted)} meet this failure by {end} "
            f"already, where the evidence ends, so the accepted {stated(accepted)} is "
            f"contradicted; no more engines can reach {claim.hours:,.0f} h{beside}."
        )
    if claim.refused:
        return f"{seen}. {_refused(claim)}"
    condition = {
        "open-shapes": ", for every Weibull shape that the records leave open",
        "near-claim": ", by the count of engines at risk on the way; the curve alone is kinder",
        "shape-free": ", whatever the law of life: engines followed to that age are counted",
    }.get(claim.governed_by, "")
    if not claim.n_failed and claim.governed_by == "open-shapes":
        low, high = claim.rows[0].shape, claim.rows[-1].shape
        condition = f", for any Weibull shape from {low:g} to {high:g}"
    tail = {
        "not-yet-shown": f" This does not show the accepted {stated(accepted)}.",
        "hours-do-not-tell": f" This does not show the accepted {stated(accepted)}, and hours do "
        f"not tell: {claim.because}.",
        "contradicted": f" At least {at_least(claim.failure_low, accepted)} do (one-sided lower "
        "bound), so "
        f"the accepted {stated(accepted)} is contradicted.",
    }.get(claim.state, "")
    if claim.hidden_to_turn:
        failures = count(claim.hidden_to_turn, "unreported failure")
        tail = f" {failures} would leave the accepted {stated(accepted)} not shown."
    return (
        f"{seen}. At {100 * claim.confidence:g} % confidence (one-sided upper bound) at most "
        f"{at_most(claim.failure_high, accepted)} of engines "
        f"({one_in_at_most(claim.failure_high)}) "
        f"meet this failure by {claim.hours:,.0f} h{condition}{beside}"
        f"{but(claim.provisos, beside)}. The evidence ends at {end}.{tail}"
    )


def _seen(claim: Claim, settings: Settings) -> str:
    """Say what stands behind a claim: lives, hours, how many went so far, failures."""
    question = settings.question.name
    reported = f"{count(claim.n_failed, question)} reported"
    if claim.n_left_out and not claim.n_failed:
        reported = f"no {question} that could be counted"
    return (
        f"{lives_of(claim.n_lives, claim.n_engines)} were seen over {claim.exposure_h:,.0f} h, "
        f"{_assumed(claim)}{_reached(claim)} at {claim.hours:,.0f} h and beyond, with "
        f"{reported} ({say_level(settings.question.level, unlooked=claim.unlooked)})"
    )


def _beside(claim: Claim) -> str:
    """Say the failures left out, with the bound that counts them where one may be quoted."""
    high, n = claim.failure_high_with_left_out, claim.n_left_out
    if high is None:
        return ""
    if claim.extrapolated:
        return f"; {claim.left_out} and {'is' if n == 1 else 'are'} in no figure here"
    return f"; {say_beside(claim.left_out, n, high, 1.0 - claim.target)}"


def _assumed(claim: Claim) -> str:
    """Say how many of the hours nobody read; blank where all were."""
    return f"of which {claim.assumed_h:,.0f} h were assumed, not seen, " if claim.assumed_h else ""


def _refused(claim: Claim) -> str:
    """Return what is left to say at a confidence where the word of the bounds was refused."""
    high, w = claim.failure_high, claim.prior_weight
    if claim.refused == "assumed-hours" and claim.failure_high_as_read is not None:
        high = claim.failure_high_as_read
    elif claim.refused == "rate-rose" and claim.failure_high_since_rise is not None:
        high = claim.failure_high_since_rise
    elif w is not None:
        high = max(w.high, w.high_default, w.high_alone)
    room = (
        "leave room for any number of engines meeting it"
        if high >= 1.0
        else f"leave room for up to {at_most(high, 1.0 - claim.target)} of engines meeting it"
    )
    return (
        f"At {100 * claim.confidence:g} % confidence (one-sided upper bound) the records alone "
        f"{room} by {claim.hours:,.0f} h: {claim.because}. This does not show the accepted "
        f"{stated(1.0 - claim.target)}."
    )


def _reached(claim: Claim) -> str:
    """Say how many of those seen were at the hours: engines, or lives where they differ."""
    n = claim.n_reached
    if not n:
        return "none of them" if claim.counts_engines else "none of these lives"
    if claim.counts_engines:
        return count(n, "of them", "of them")
    whose = claim.n_engines_reached
    of = "" if whose is None else f", of {count(whose, 'engine')},"
    return f"{count(n, 'of these lives', 'of these lives')}{of}"


def may_not_quote(claim: Claim) -> str:
    """Return a sentence that is often said of such records, and why they do not carry it."""
    if nothing_quoted(claim):
        return (
            f"“The records support {claim.hours:,.0f} h.” Too few engines have been there; what "
            f"is computed for that age is extrapolation."
        )
    if claim.n_left_out:
        few = "None" if claim.n_failed == 0 else f"Only {count(claim.n_failed, 'engine')}"
        they = "it" if claim.n_left_out == 1 else "they"
        return (
            f"“{few} failed.” {capital(claim.left_out)}, but {they} happened; a count that leaves "
            f"{'it' if they == 'it' else 'them'} out is no count of failures."
        )
    if claim.n_failed == 0:
        return (
            f"“None failed, therefore none will by {claim.hours:,.0f} h.” No failure among "
            f"{lives_of(claim.n_lives, claim.n_engines)} is also what a true failure chance of up "
            f"to {at_most(claim.failure_high, 1.0 - claim.target)} would show in 1 fleet of "
            f"{1.0 / (1.0 - claim.confidence):,.0f}."
        )
    n = claim.n_lives if claim.n_engines is None else claim.n_engines
    ours = "lives" if claim.n_engines is None else "engines"
    rate = 100.0 * claim.n_failed / n
    if rate > 50.0:
        return (
            f"“{rate:.0f} % of our {ours} have failed, so that share will fail by "
            f"{claim.hours:,.0f} h.” A share of {ours} is not a chance of reaching an age: it "
            "counts failures at any hours, and engines that were never watched so long."
        )
    shown = float(f"{rate:.2g}")
    why = (
        f"Most {'engines' if claim.counts_engines else 'lives'} in the records are "
        f"{'younger' if claim.counts_engines else 'shorter'} than that"
        if 2 * claim.n_reached < claim.n_lives
        else "That counts failures at any hours, and engines that were never watched so long"
    )
    return (
        f"“Only {shown:g} % of our {ours} have failed, so {100 - shown:g} % will reach "
        f"{claim.hours:,.0f} h.” {why}; a share of {ours} is not a "
        "chance of reaching an age."
    )


TELLING = 0.05
"""A chance of ages so early (or so late) below this speaks against a pattern."""


def ages_sentence(
    ages: Array,
    causes: tuple[str, ...],
    high: float,
    without: float,
    chance: float,
    patterns: tuple[AgePattern, ...],
    hours: float,
    accepted: float,
) -> str:
    """Say what the ages of the first failures tell of their kind."""
    at = "; ".join(f"{a:,.0f} h: {c}" for a, c in zip(ages, causes, strict=True))
    text = (
        f"{count(len(ages), 'failure').capitalize()} ({at}) "
        f"{'moves' if len(ages) == 1 else 'move'} the upper bound by {hours:,.0f} h from "
        f"{at_most(without, accepted)} to {at_most(high, accepted)}. If the accepted "
        f"{stated(accepted)} were the "
        f"truth, a fleet with these hours would show at least that many with a chance of "
        f"{say_chance(chance)}."
    )
    early, steady, wear = patterns
    if wear.chance_so_early < TELLING:
        text += (
            f" Failures so young speak against wear-out ({say_chance(wear.chance_so_early)} of "
            "the time if the shape were 3): look at build, assembly and overhaul first."
        )
    elif early.chance_so_late < TELLING:
        text += (
            f" Failures so old speak against early faults ({say_chance(early.chance_so_late)} of "
            "the time if the shape were 0.5)"
        )
        text += (
            " and against chance: wear-out is the first question."
            if steady.chance_so_late < TELLING
            else "."
        )
    else:
        text += " Their ages do not tell early faults, chance and wear-out apart."
    return text
