"""Answer (e): where the evidence ends."""

from __future__ import annotations

from fleetstats.advice.advice import Horizon
from fleetstats.advice.equivalents import exposure_past
from fleetstats.spells import Spells
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.wording import heads, hours_exact, lives_of

COUNTS = (10, 5, 1)
"""Numbers at risk for which the greatest supported hours are listed."""


def advise_horizon(spells: Spells, settings: Settings) -> Horizon:
    """Return the hours up to which enough engines were at risk, and the oldest age seen.

    Parameters
    ----------
    spells : Spells
        Lives at risk.
    settings : Settings
        ``evidence.min_at_risk`` says how many are enough.
    """
    least = settings.evidence.min_at_risk
    supported = spells.horizon_h(least=least)
    counts = tuple((n, spells.horizon_h(least=n)) for n in sorted({least, *COUNTS}, reverse=True))
    past = exposure_past(spells, supported)
    beyond = spells.exit_upper > supported
    n_past = float(spells.weight[beyond].sum())
    enough = heads(least, engines=spells.counts_engines)
    oldest = "oldest" if spells.counts_engines else "longest life"
    claim = settings.study.claimed_interval_h
    if supported <= 0:
        text = (
            f"At no age were {enough} at risk at once, so the records carry no age at all; the "
            f"{oldest} was seen to {hours_exact(spells.oldest_h)}."
        )
    else:
        text = (
            f"The evidence ends at {hours_exact(supported, claim)}, the last age with {enough} at "
            f"risk; the {oldest} was seen to {hours_exact(spells.oldest_h)}. Past that line lie "
            f"{past:,.0f} engine hours of {lives_of(n_past, spells.engines_among(beyond))}; what "
            "is said about greater ages is extrapolation."
        )
    return Horizon(
        sentence=text,
        min_at_risk=least,
        counts_engines=spells.counts_engines,
        supported_h=supported,
        oldest_h=spells.oldest_h,
        counts=counts,
        n_past=n_past,
        exposure_past_h=past,
    )
