"""Upper edges that assume no shape: what the failures counted by an age leave of the engines.

Of all lives ever seen, each either failed by an age or may have passed it, so the share of failures
counted bounds the chance of failing from below, whatever the law of life and however late the age
(`bands/shape_free.py`). It holds for six engines of one source as for a fleet, within the evidence
and past it, and no curve may be kinder: neither edge nor estimate lies beyond. Beside the edge of a
curve it stands at half the error, since the earlier of the two is told: of fleets whose target was
just met, 1 to 6 in 100 were contradicted so (12 to 60 engines, all of them seen past the claim).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fleetstats.bands.interval import Interval
from fleetstats.bands.quantity import Quantity
from fleetstats.bands.shape_free import Settled

COUNTED = "no shape assumed, engines counted"
"""Note of an edge that counts engines."""


def counted_high(settled: Settled, what: Quantity, confidence: float) -> float | None:
    """Return the upper edge of a life (hours) or a reliability by count; None where it is none."""
    if what.kind == "life":
        return settled.life_high_h(what.p, confidence)
    low = float(settled.failure_low(np.array([what.hours]), confidence)[0])
    return 1.0 - low if low > 0.0 else None


def high_beside_curve(settled: Settled, what: Quantity, confidence: float) -> float | None:
    """Return the upper edge by count that stands beside that of a curve: at half the error."""
    return counted_high(settled, what, 0.5 * (1.0 + confidence))


def hold_to_count(out: Interval, settled: Settled, what: Quantity, confidence: float) -> Interval:
    """Return an interval no part of which lies above what the failures counted leave."""
    most = high_beside_curve(settled, what, confidence)
    if most is None or (out.high is not None and out.high <= most):
        return out
    low, estimate = (None if x is None else min(x, most) for x in (out.low, out.estimate))
    return replace(out, low=low, estimate=estimate, high=most, note_high=COUNTED)


def by_count_alone(
    out: Interval, settled: Settled, what: Quantity, confidence: float, *, low: float
) -> Interval:
    """Return an interval of which both edges count engines, without an estimate between."""
    high = counted_high(settled, what, confidence)
    return replace(
        out,
        estimate=None,
        low=low,
        high=high,
        method="shape-free",
        note_low=COUNTED,
        note_high=out.note_high if high is None else COUNTED,
    )
