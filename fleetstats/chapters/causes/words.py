"""What is said of failures by cause."""

from __future__ import annotations

from fleetstats.chapters.causes.values import CauseLine, RenewedAdvice
from fleetstats.spells import Spells
from fleetstats.survival.groups.causes import (
    UNKNOWN,
)
from fleetstats.vocabulary.wording import listed


def _leading(known: list[CauseLine], n_failed: float) -> str:
    """Return which cause brings the most failures, or which do; "most failures" means over half."""
    n = known[0].n_failed
    if 2 * n > n_failed:
        return f"Most failures in question are of {known[0].cause}: {n:g} of {n_failed:g}"
    first = [x.cause for x in known if x.n_failed == n]
    s, verb, each = ("", "is", "") if len(first) == 1 else ("s", "are", " each")
    return (
        f"The leading cause{s} of failures in question {verb} {listed(first)}: {n:g} of "
        f"{n_failed:g}{each}"
    )


def causes_sentence(
    lines: tuple[CauseLine, ...],
    renewed: tuple[RenewedAdvice, ...],
    n_unknown: float,
    spells: Spells,
) -> str:
    """Say which causes end most lives, and what hangs on causes that nobody wrote down."""
    known = [x for x in lines if x.in_question and x.cause != UNKNOWN]
    if not known:
        return (
            f"None of the {spells.n_failed:g} failures in question has a known cause; overhaul "
            "cannot be aimed at any."
        )
    out = (
        f"{_leading(known, spells.n_failed)}, of {len(known)} known "
        f"cause{'s' if len(known) > 1 else ''}."
    )
    spared = [x.cause for x in known if not x.renewed]
    if spared:
        out += f" Overhaul does not renew {', '.join(spared)}; see the advice without."
    if n_unknown:
        out += (
            f" The cause of {n_unknown:g} is not known; answers are given with all and with none "
            "of them counted."
        )
    spread = [r.figure.plan_from_h for r in renewed if r.figure and r.figure.plan_from_h]
    if len(spread) > 1 and max(spread) > min(spread):
        out += f" That moves the start of the band from {min(spread):,.0f} to {max(spread):,.0f} h."
    return out
