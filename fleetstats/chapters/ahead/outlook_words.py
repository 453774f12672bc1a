"""What is said of single engines and of the list as a whole."""

from __future__ import annotations

from fleetstats.chapters.ahead.outlook_curves import Chance
from fleetstats.chapters.ahead.outlook_values import EngineOutlook, Sign
from fleetstats.core.units import one_in, text_hours, text_percent
from fleetstats.vocabulary.wording import at_least, at_most, count, listed


def edges(chance: Chance) -> str:
    """Say the band of a chance, rounded outward; a missing edge is named."""
    high = "no upper limit" if chance.high is None else at_most(chance.high)
    return f"up to {high}" if not chance.low else f"{at_least(chance.low)} to {high}"


def chance_words(chance: Chance) -> str:
    """Say an engine's chance with its band."""
    return (
        f"chance of failing within {chance.width_h:g} h {text_percent(chance.estimate)} "
        f"({edges(chance)})"
    )


def reason_words(signs: tuple[Sign, ...], chance: str, beyond: bool, horizon: float) -> str:
    """Say why an engine stands where it does: its signs, and its chance or that it is too old."""
    said = [s.text for s in signs]
    said.append(f"older than the evidence reaches ({text_hours(horizon)})" if beyond else chance)
    return "; ".join(said)


def oldest_sentence(n: int, of: int) -> str:
    """Say that only the oldest engines are looked at."""
    return (
        f"Of {of:,} engines that run, the {n:,} with most hours are looked at; every count here is "
        "of these, and only the place of their hours is among all."
    )


def outlook_sentences(
    rows: tuple[EngineOutlook, ...], horizon: float, check_h: float, level: float
) -> tuple[str, ...]:
    """Say which engines to look at first, which soon, and which no figure ranks."""
    ranked = [e for e in rows if e.rank is not None]
    apart = [e for e in rows if e.rank is None]
    signed = [e for e in ranked if any(s.weight > 1 for s in e.signs)]
    first = [e for e in signed if e.signs[0].weight > 2]
    out = []
    if first:
        out.append(
            f"Look first at {_named(first)}: signs at their checks put them there, and a bad sign "
            "outranks every statistic here."
        )
    soon = [e for e in signed if e.signs[0].weight <= 2]
    if soon:
        out.append(f"Look soon at {_named(soon)}: weaker signs, which a retest may settle.")
    plain = [e for e in ranked if not e.beyond and not any(s.weight > 1 for s in e.signs)]
    if plain:
        e = plain[0]
        c = e.next_check
        out.append(
            f"By hours alone {e.engine} comes first, with {text_hours(e.age_h)}: its chance of the "
            f"failure in question within the next {check_h:g} h is "
            f"{'not known' if c.estimate is None else one_in(c.estimate)} ({edges(c)}, "
            f"{100 * level:g} % band)."
        )
    if apart:
        out.append(
            f"{count(sum(e.count for e in apart), 'engine is', 'engines are')} older than "
            f"{text_hours(horizon)}, where the evidence ends; nothing here ranks them. Their own "
            "checks alone can speak for them."
        )
    out.append("No place on this list is a clean bill of health.")
    return tuple(out)


def _named(rows: list[EngineOutlook]) -> str:
    names = [e.engine for e in rows[:5]]
    return listed(names if len(rows) <= 5 else [*names, f"{len(rows) - 5} more"])
