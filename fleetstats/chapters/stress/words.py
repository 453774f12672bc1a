"""What is said of a claim tried on made-up fleets."""

from __future__ import annotations

from fleetstats.chapters.stress.values import LEVEL, Stress, StressedTruth
from fleetstats.core.units import text_percent
from fleetstats.vocabulary.wording import count, listed, shape_words, stated

NO_PROOF = (
    "What if, and no proof: each row asks what the rule would say if that were true, at the "
    "strength stated. It does not say which of them is true of this fleet, and a truth that is not "
    "in the table may be worse."
)


def stress_sentence(s: Stress) -> str:
    """Say under which truth the claim would be supported wrongly most often."""
    aim = f"that at most {stated(s.accepted)} fail by {s.hours:,.0f} h"
    first, worst = s.truths[0], s.worst
    if worst.supported == 0:
        return (
            f"Of fleets watched as this one was, none had the claim {aim} supported wrongly under "
            f"any of {len(s.truths)} truths, {count(s.fleets, 'fleet')} each" + _power(s)
        )
    if worst.key == first.key:
        return (
            f"If {first.when} and {stated(s.accepted)} truly fail by {s.hours:,.0f} h, the claim "
            f"would have been supported wrongly in {how_often(first)} such fleets; no other truth "
            f"of the {len(s.truths)} tried did worse{_power(s)}"
        )
    return (
        f"If {worst.when} and {stated(s.accepted)} truly fail by {s.hours:,.0f} h, this claim "
        f"would have been made wrongly in {how_often(worst)} such fleets; "
        f"if {first.when}, in {how_often(first)}{_power(s)}"
    )


def _power(s: Stress) -> str:
    """Say how often the claim is supported where the true chance is half of the accepted."""
    return (
        f". Were the true chance {stated(s.better.chance)}, it would have been supported in "
        f"{how_often(s.better)}."
    )


def how_often(t: StressedTruth) -> str:
    """Say a share of fleets as a count that one can picture: "1 in 5", or "84 of 400"."""
    if t.supported == 0:
        return f"none of {t.fleets:,}"
    n = t.fleets / t.supported
    if n >= 1.9:
        return f"about 1 of {round(n):,}"
    return f"{t.supported:,} of {t.fleets:,}"


def basis_sentences(s: Stress) -> tuple[str, ...]:
    """Say how the fleets were made and how far the shares may be off."""
    wide = max(0.5 * (t.limits[1] - t.limits[0]) for t in s.truths)
    out = [
        f"Each row is {count(s.fleets, 'fleet')} of {count(s.n_lives, 'life', 'lives')} made up "
        f"(seed {s.seed}) with this fleet's own hours of entry, ends of watching, sources and "
        "builds, and judged by the rule of the verdict. In each, a new engine of today, of any "
        f"batch and source, fails by {s.hours:,.0f} h with a chance of exactly "
        f"{stated(s.accepted)}, the one accepted, so calling the claim supported is "
        f"wrong there; the study's confidence promises that in at most "
        f"{stated(round(s.promised, 10))}.",
        f"The Weibull has shape {shape_words(s.shape)} ({s.shape_from}). For the number of fleets "
        f"tried, a share may be off by up to {text_percent(wide)} "
        f"({stated(LEVEL)} limits).",
        f"In the row on the last two years, {s.change}.",
        f"Cautions looked for in fleets called supported: {listed(list(s.signs))}. How often they "
        "are false alarms the first row and the last say. Others hang on the rows of files, which "
        "made-up fleets do not have.",
    ]
    if s.left_out:
        out.append(
            f"Left out: {listed(list(s.left_out))}, since no failure here was found at a check."
        )
    return tuple(out)


def stress_lines(s: Stress) -> list[str]:
    """Return the answer for a prompt: the sentence, the table, what it rests on."""
    head = f"{'if':31} {'supported':>16} {'contradicted':>13} {'cautioned':>10}"
    lines = [s.sentence, "", head]
    lines += [_line(t, t.title) for t in s.truths]
    lines += [_line(s.better, f"Weibull, {stated(s.better.chance)} fail (right)"), ""]
    return [*lines, *basis_sentences(s), NO_PROOF]


def _line(t: StressedTruth, title: str) -> str:
    low, high = t.limits
    wide = f"({100 * low:.0f}-{100 * high:.0f})"
    seen = f"{t.any_sign} of {t.supported}" if t.supported else "–"
    return (
        f"{title:31} {100 * t.share:5.1f} % {wide:>8} {100 * t.share_contradicted:11.1f} % "
        f"{seen:>10}"
    )
