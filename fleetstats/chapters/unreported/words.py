"""What is said of failures that nobody reported."""

from __future__ import annotations

from fleetstats.chapters.unreported.values import Overlap, Unreported
from fleetstats.core.units import text_number, text_percent
from fleetstats.survival.counting.capture import Unseen
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import at_most, count, listed


def unreported_sentence(u: Unreported) -> str:
    """Say how many were probably told by nobody, and how many would turn the claim."""
    if u.state != "answered":
        return (
            "Some engines are in more than one source, but of no two sources did both tell a "
            "failure of them: the overlap says nothing of failures that nobody told."
        )
    untold = sum(o.quoted is None for o in u.overlaps)
    text = (
        f"Of {count(sum(o.n_told for o in u.overlaps), 'failure')} that two or more sources could "
        f"have told, {told_apart(u)}. If what one tells does not hang on what another tells, "
        f"{_more(u.estimate)} told by nobody ({limits_words(u.low, u.high)})."
    )
    if untold:
        text += (
            f" {capital(count(untold, 'overlap'))} of {len(u.overlaps)} tell nothing: one of the "
            "sources told no failure there."
        )
    if u.to_turn:
        text += (
            f" The claim of {u.claimed_h:,.0f} h would no longer be shown with "
            f"{count(u.to_turn, 'unreported failure')}."
        )
    return text


def told_apart(u: Unreported) -> str:
    """Say how many were told by more than one, and how many by one alone."""
    more = sum(n for o in u.overlaps for told, n in o.patterns if sum(told) > 1)
    one = sum(n for o in u.overlaps for told, n in o.patterns if sum(told) == 1)
    was = "was" if more == 1 else "were"
    return f"{_none(more)} {was} told by more than one and {_none(one)} by one alone"


def beside_tipping(u: Unreported) -> str:
    """Say the estimate in a line, for where tipping points stand."""
    if u.state != "answered":
        return u.sentence
    text = (
        f"By the overlap of what sources tell, {_more(u.estimate)} probably told by nobody "
        f"({limits_words(u.low, u.high)})"
    )
    return text + (f"; {u.to_turn:,} would turn the claim." if u.to_turn else ".")


def basis_words(u: Unreported) -> list[str]:
    """Say what the estimate rests on."""
    out = []
    if u.stated:
        out.append(
            f"The study says that {listed(list(u.stated))} each set out to tell every failure of "
            "the same engines (merge.same_population); that is as stated, not shown."
        )
    else:
        out.append(
            "An engine counts as covered by a source that lists it, if that source lists running "
            "engines too. This supposes that a source would list it whether it failed or not; "
            "where it does not, too few are estimated. merge.same_population in the study file "
            "states sources of one population."
        )
    out.append(
        "A source that hears of failures from another, or two that both miss the same owners, make "
        "the estimate too low; sources that share the engines out between them, too high. The "
        "odds ratio says how much: 2 means that the odds of telling are doubled where the other "
        "tells."
    )
    if u.n_alone:
        out.append(
            f"{capital(count(u.n_alone, 'failure'))} of the {u.n_failed:,} could have been told by "
            "one source only; of the failures untold among such engines no overlap speaks."
        )
    undated = sum(o.n_undated for o in u.overlaps)
    if undated:
        out.append(
            f"{capital(count(undated, 'failure'))} without a date {_is(undated)} taken as within "
            "the time of every source that lists the engine. If a return is older than the "
            "failure, it could not have told it, and too many are estimated."
        )
    return out


def effect_words(u: Unreported) -> str:
    """Say what the estimated number does to the bound at the claim; blank without a claim."""
    if u.failure_high is None or u.claimed_h is None:
        return ""
    text = (
        f"As recorded, at most {at_most(u.failure_high, u.accepted_failure)} fail by "
        f"{u.claimed_h:,.0f} h"
    )
    if u.failure_high_with is None:
        return text + "; so many more failures as are estimated were not tried."
    return (
        text + f"; with the estimated number of further failures at the least favourable ages, "
        f"{at_most(u.failure_high_with, u.accepted_failure)}."
    )


def model_name(m: Unseen, o: Overlap) -> str:
    """Name a model by the sources that may depend on each other."""
    pair = next((b for b in m.blocks if len(b) > 1), None)
    if pair is None:
        return "all independent"
    return listed([o.sources[i] for i in pair]) + " depend on each other"


def limits_words(low: int | None, high: int | None) -> str:
    """Say limits of a count."""
    if low is None:
        return "no limits"
    return (
        f"limits {low:,} to {high:,}" if high is not None else f"at least {low:,}, no upper limit"
    )


def confidence_words(level: float) -> str:
    """Say what the limits are."""
    return f"each limit one-sided at {text_percent(0.5 * (1.0 + level))}"


def unreported_cautions(u: Unreported) -> tuple[Caution, ...]:
    """Return the caution that as many failures may be untold as would turn the claim."""
    if u.state != "answered" or not u.to_turn:
        return ()
    limit = f"{count(u.to_turn, 'failure')} would turn the claim"
    told = {"least": count(u.to_turn, "failure"), "limits": limits_words(u.low, u.high)}
    if u.estimate >= u.to_turn:
        about = _about(u.estimate)
        return (caution("unreported-failures", value=about, limit=limit, about=about, **told),)
    if u.high is None or u.high >= u.to_turn:
        most = "any number of failures" if u.high is None else f"up to {u.high:,} failures"
        return (
            caution(
                "unreported-failures/limit",
                value=most, limit=limit, most=most, about=_about(u.estimate), **told,
            ),
        )  # fmt: skip
    return ()


def _about(x: float) -> str:
    if x == 0.0:
        return "none"
    return f"about {text_number(x, digits=2 if x < 100.0 else 3)}"


def _more(x: float) -> str:
    return "no further failure was" if x == 0.0 else f"{_about(x)} more were"


def _none(n: int) -> str:
    return "none" if n == 0 else f"{n:,}"


def _is(n: float) -> str:
    return "is" if n == 1 else "are"
