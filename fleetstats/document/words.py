"""Values into sentences, by rules that are tested.

Rules that every sentence keeps: a bound names its confidence and its side; an edge that does not
exist is said to be missing, never shown as a large number; hours beyond the evidence are called
extrapolation; advice is rounded to 50 h and never to the unsafe side; the word "significant" does
not occur; nothing is called safe.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from fleetstats.bands.interval import Interval
from fleetstats.core.errors import ReportError
from fleetstats.core.units import text_decided
from fleetstats.document.cells import set_text
from fleetstats.document.document import TONES, Document
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.provisos import but_open
from fleetstats.vocabulary.wording import at_least, at_most, count, hours_down, hours_near, listed

TONE_LABELS = {
    "fact": "",
    "answer": "Answer",
    "caution": "Caution",
    "extrapolation": "Beyond the evidence",
    "missing": "The data cannot say",
    "assumption": "Assumed",
}
"""What stands above a statement, so that its tone does not hang on colour alone."""

VERDICT_TEXT = {
    "supported": "Supported at the chosen confidence",
    "not-yet-shown": "Not yet shown",
    "contradicted": "Contradicted by the records",
    "hours-do-not-tell": "Hours do not tell",
    "answered": "An overhaul band, with its evidence",
    "evidence-limit": "The records end before wear-out shows",
    "target-not-shown": "The risk target is shown at no age",
    "not-enough-evidence": "Not enough evidence",
    "ranked": "Families ranked, each by its own records",
}
"""Verdicts on a claimed interval; the four before the last stand where none is claimed, the last
on a portfolio."""

_TONE = {
    "supported": "supported",
    "answered": "supported",
    "contradicted": "against",
    "not-yet-shown": "open",
    "evidence-limit": "open",
    "target-not-shown": "open",
}

_MARKS = {
    "supported": '<circle cx="12" cy="12" r="9" fill="currentColor"/>',
    "open": '<path d="M12 3a9 9 0 0 1 0 18z" fill="currentColor"/>',
    "against": '<path d="M7 7l10 10M17 7L7 17" stroke-width="2.6"/>',
    "mute": '<path d="M6.5 12h11" stroke-width="2.6"/>',
}
"""Marks of the verdict: full, half, crossed and barred ring. Shape tells them apart, not colour;
none is a traffic light."""

FORBIDDEN = re.compile(
    r"\bsignifican(?:t|tly|ce)\b|\bsafe to\b|\bguarantee|\bproves?\b|\bproven\b"
    r"|\bengines? (?:should|must|may|can) (?:not )?(?:pass|fly|run on|go on)\b|\bdo not go beyond\b"
    r"|\b(?:fit|cleared) to fly\b|\bmay be flown\b",
    re.IGNORECASE,
)
"""Words that promise more than a record can hold, or that order or permit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictFace:
    """A verdict as a reader sees it: style, mark (SVG), what it is on, and its words."""

    tone: str
    mark: object
    label: str
    text: str


def verdict_face(document: Document) -> VerdictFace:
    """Return how a document's verdict is shown; raises `ReportError` for an unknown word."""
    from markupsafe import Markup

    if document.verdict not in VERDICT_TEXT:
        raise ReportError(
            f"Report: unknown verdict '{document.verdict}'.", f"Use one of {sorted(VERDICT_TEXT)}."
        )
    tone = _TONE.get(document.verdict, "mute")
    mark = (
        '<svg viewBox="0 0 24 24" aria-hidden="true" focusable="false" fill="none" '
        'stroke="currentColor" stroke-width="1.8"><circle cx="12" cy="12" r="9"/>'
        f"{_MARKS[tone]}</svg>"
    )
    return VerdictFace(
        tone=tone,
        mark=Markup(mark),
        label=set_text(document.asked) or "Verdict",
        text=VERDICT_TEXT[document.verdict] + but_open(document.provisos),
    )


def check_tone(tone: str) -> str:
    """Return a tone; raises `ReportError` when it is unknown."""
    if tone not in TONES:
        raise ReportError(f"Statement: unknown tone '{tone}'.", f"Use one of {', '.join(TONES)}.")
    return tone


def say_confidence(level: float) -> str:
    """Say what the edges of a two-sided interval at `level` are, one side at a time.

    0.90 gives "one-sided 95 %".
    """
    return f"one-sided {_percent(0.5 * (1.0 + level))}"


def _percent(share: float) -> str:
    return f"{100.0 * share:.6g} %"


def say_value(x: float | None, unit: str, *limits: float | None, edge: str = "") -> str:
    """Write one number in its unit; "none" where there is none.

    A probability that is the ``"low"`` or ``"high"`` edge of a band is rounded down or up, in every
    sentence and table alike. A number beside `limits` shows on which side of them it lies.
    """
    if x is None or math.isnan(x):
        return "none"
    if unit == "h":
        return text_decided(x, *limits, unit="h")
    if unit == "probability":
        return text_decided(x, *limits, edge=edge)
    return text_decided(x, *limits, unit="") + (f" {unit}" if unit else "")


def say_interval(interval: Interval, *limits: float | None) -> str:
    """Say an estimate and its edges: best estimate, each edge with its side, missing edges said.

    "1,850 h; at least 1,420 h (one-sided 95 % lower); at most 2,600 h (one-sided 95 % upper)".
    Each number shows on which side of `limits` it lies.
    """
    side = say_confidence(interval.level)
    unit = interval.unit
    parts = []
    if interval.estimate is not None:
        parts.append(f"best estimate {say_value(interval.estimate, unit, *limits)}")
    if interval.low is not None:
        text = say_value(interval.low, unit, *limits, edge="low")
        parts.append(f"at least {text} ({side} lower)")
    else:
        parts.append(_missing("lower", interval.note_low))
    if interval.high is not None:
        text = say_value(interval.high, unit, *limits, edge="high")
        parts.append(f"at most {text} ({side} upper)")
    else:
        parts.append(_missing("upper", interval.note_high))
    return "; ".join(parts)


def _missing(side: str, note: str) -> str:
    out = f"no {side} limit from these data"
    note = note.strip().rstrip(".")
    return out if not note or fold(note) == fold(out) else f"{out} ({note})"


def say_marked(
    x: float | None, unit: str, supported_to_h: float, *limits: float | None, edge: str = ""
) -> str:
    """Write one number as `say_value` does; hours beyond the evidence are marked so."""
    beyond = x is not None and unit == "h" and x > supported_to_h + 1e-9
    return say_value(x, unit, *limits, edge=edge) + (" (extrapolated)" if beyond else "")


def say_range(interval: Interval, *limits: float | None, supported_to_h: float = math.inf) -> str:
    """Write the edges alone: "1,420 to 2,600 h" or "1,420 h, no upper limit".

    Hours beyond `supported_to_h` are marked as extrapolation; each edge shows on which side of
    `limits` it lies.
    """
    low, high = interval.low, interval.high
    if low is None and high is None:
        return "no limits from these data"
    least = say_marked(low, interval.unit, supported_to_h, *limits, edge="low")
    most = say_marked(high, interval.unit, supported_to_h, *limits, edge="high")
    if high is None:
        return f"{least}, no upper limit"
    if low is None:
        return f"no lower limit, up to {most}"
    return f"{least} to {most}"


def say_agreement(differences: list[float], *, tolerance: float) -> str:
    """Say how far second opinions lie from ours (relative differences)."""
    if not differences:
        return "No library could be asked the same question."
    worst = max(abs(d) for d in differences)
    shown = f"{100.0 * worst:.2g} %" if worst >= 1e-6 else "less than 0.0001 %"
    if worst <= tolerance:
        return f"All routes agree: the largest difference is {shown}."
    return (
        f"The routes differ by up to {shown}, more than {100.0 * tolerance:g} %. One of them did "
        "not reach the maximum, or they answer different questions; the table says which."
    )


__all__ = [
    "FORBIDDEN",
    "TONE_LABELS",
    "VERDICT_TEXT",
    "VerdictFace",
    "at_least",
    "at_most",
    "check_tone",
    "count",
    "hours_down",
    "hours_near",
    "listed",
    "say_agreement",
    "say_confidence",
    "say_interval",
    "say_range",
    "say_value",
    "verdict_face",
]
