"""Why a Weibull likelihood has no maximum, as the error that says so."""

from __future__ import annotations

from fleetstats.core.errors import NoMaximum


def explain_no_maximum(n_failed: int, oldest: float, *, at_top: bool) -> NoMaximum:
    """Return the error for `n_failed` failures and an oldest age in hours, with its reason."""
    if n_failed == 0:
        return NoMaximum(
            "No life ended by the failure in question, so no Weibull fit exists.",
            "Bounds for assumed shapes can still be given.",
            reason="no-failures",
        )
    if at_top and n_failed == 1:
        return NoMaximum(
            f"The only failure is at the oldest age seen, {oldest:g} h, so the likelihood keeps "
            "rising with shape.",
            "Bounds for assumed shapes can still be given.",
            reason="one-failure-at-oldest-age",
        )
    if at_top:
        return NoMaximum(
            f"All {n_failed} failures are at one age, {oldest:g} h, and no life went past it, so "
            "the likelihood keeps rising with shape.",
            "If the failures were found at checks, give the last hours known good.",
            reason="all-failures-at-one-age",
        )
    return NoMaximum(
        "Every life was first seen late, and failures came so early after entry that the "
        "likelihood keeps rising as shape falls to 0.",
        "Lives followed from new, or bounds for assumed shapes, would answer.",
        reason="shape-falls-to-zero",
    )
