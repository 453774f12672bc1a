"""The claim from hours after a change only."""

from __future__ import annotations

from fleetstats.chapters.change.values import ChangeLine, Since
from fleetstats.chapters.claim import advise_claim
from fleetstats.core.errors import FleetstatsError
from fleetstats.spells.dated import Dated
from fleetstats.study.settings import Settings
from fleetstats.survival.weibull.fit_weibull import try_fit


def claim_since(line: ChangeLine, dated: Dated, settings: Settings) -> Since | None:
    """Return the claim from what came since a rise in question; None without either.

    Each life enters at the age that it had reached by the date, so nothing before it counts.
    """
    hours = settings.study.claimed_interval_h
    if not (line.rose and line.asked) or hours is None:
        return None
    lives = dated.since(line.change.day - 1.0)
    if not len(lives):
        return None
    try:
        claim = advise_claim(lives, settings, hours, fit=try_fit(lives))
    except FleetstatsError:
        return None
    return Since(
        day=line.since,
        hours=hours,
        n_failed=lives.n_failed,
        exposure_h=lives.exposure_h,
        failure_high=claim.failure_high,
        state=claim.state,
        shown_to_h=claim.shown_to_h,
        extrapolated=claim.extrapolated,
    )
