"""What is said of the facts that the records do not hold."""

from __future__ import annotations

from fleetstats.advice.tipping import Tipping
from fleetstats.chapters.hidden.values import (
    Hidden,
)
from fleetstats.core.units import round_hours, text_number
from fleetstats.vocabulary.wording import at_most, count, hours_down, listed


def hidden_sentence(h: Hidden) -> str:
    """Say which doubt moves the hours shown most, and what would turn the claim."""
    if h.state != "answered":
        return "The records show no hours for the target reliability, so there is nothing to upset."
    worst = h.tornado[0]
    text = (
        f"The records as they stand show the target reliability to {hours_down(h.base_hours)}; "
        f"the doubt that moves this most is {worst.title} "
        f"({round_hours(worst.low_h):,.0f} to {round_hours(worst.high_h):,.0f} h)."
    )
    if h.left_out:
        text += f" They count {h.left_out}, where these would hurt most."
    if max(h.base_hours, worst.high_h) > h.supported_h:
        text += f" Hours beyond {h.supported_h:,.0f} h lie past the evidence: extrapolation."
    if not h.shown or h.claimed_h is None:
        return text
    turning = _turning(h.tipping, h)
    if turning:
        text += f" The claim of {h.claimed_h:,.0f} h would no longer be shown with {turning}."
    return text


def _turning(tipping: Tipping | None, h: Hidden) -> str:
    parts = []
    if tipping is not None and tipping.least is not None:
        parts.append(count(tipping.least, "unreported failure"))
    if h.reporting_share is not None:
        parts.append(f"fewer than {at_most(h.reporting_share, 1.0)} of failures reported")
    if h.lost is not None and h.lost.to_turn is not None:
        parts.append(f"{h.lost.to_turn} of the {h.lost.n_lost} lost engines failed")
    if h.findings is not None and h.findings.hazard_ratio is not None:
        ratio = text_number(h.findings.hazard_ratio, digits=2)
        parts.append(f"engines removed on a finding {ratio} times as likely to fail as the others")
    return listed(parts, "or")
