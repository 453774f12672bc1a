"""What is said of answers since a date beside those of all dates."""

from __future__ import annotations

from collections.abc import Sequence

from fleetstats.advice.advice import VERDICTS
from fleetstats.chapters.since.values import SinceAnswer
from fleetstats.vocabulary.wording import count


def say_since(answers: Sequence[SinceAnswer]) -> str:
    """Say whether the verdict, or the number failed, hangs on the dates that count."""
    whole, later = answers[0], answers[1:]
    text = "Each line counts only what happened after its date; engines enter at the age reached."
    if whole.verdict:
        turned = [a for a in later if a.verdict != whole.verdict]
        if turned:
            told = ", ".join(f"{VERDICTS[a.verdict]} {a.run.name}" for a in turned)
            text += f" The verdict is {VERDICTS[whole.verdict]} from all that counts, {told}."
        else:
            text += " The verdict is the same from each."
    undated = max((a.cut.n_undated for a in later if a.cut is not None), default=0)
    failed = max((a.cut.undated_failed for a in later if a.cut is not None), default=0)
    if undated:
        text += f" {count(undated, 'life', 'lives')} that no date places are in none of them."
    if failed:
        text += f" {count(failed, 'failure')} that no date places are in each, without their hours."
    return text


def say_fewer(answers: Sequence[SinceAnswer]) -> str:
    """Say what a verdict that turns means: fewer hours, or another rate."""
    whole = answers[0]
    weaker = [a for a in answers[1:] if a.verdict != whole.verdict]
    if not weaker:
        return ""
    rate = whole.n_failed / whole.exposure_h if whole.exposure_h > 0 else 0.0
    worse = [a for a in weaker if a.n_failed > rate * a.exposure_h]
    if worse:
        return (
            "Since then failures came more often for the hours flown than over all dates; whether "
            "beyond chance, the parts on growth and on change say."
        )
    return "Failures came no more often since then: fewer hours count, and so less can be shown."
