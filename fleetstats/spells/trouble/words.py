"""What is said of failures that no spell counts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from fleetstats.spells.left_out import LeftOut
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import count, listed

HINTED = "is told beside an end that is none"
"""Reason of a failure that stands in words only, beside an engine that is said to go on."""

_MANY = {"has": "have", "is": "are", "was": "were"}


def reason_for(n: int, reason: str) -> str:
    """Return a reason as a clause about `n` failures."""
    verb, _, rest = reason.partition(" ")
    return f"{_MANY.get(verb, verb) if n != 1 else verb} {rest}"


def caution_left_out(left_out: Sequence[LeftOut]) -> list[Caution]:
    """Return the caution that failures told by the records are in no figure; none where all are."""
    by_reason: Counter[str] = Counter()
    for x in left_out:
        by_reason[x.reason] += x.count
    n = sum(by_reason.values())
    if not n:
        return []
    hinted = set(by_reason) == {HINTED}
    what = count(n, "possible failure" if hinted else "failure").partition(" ")[2]
    value, limit = count(n, "failure"), "0 failures"
    if len(by_reason) == 1:
        reason = reason_for(n, next(iter(by_reason)))
        one = n == 1
        return [
            caution(
                "failures-left-out", value=value, limit=limit, n=f"{n:,}", what=what,
                reason=reason, are="is" if one else "are", them="it" if one else "them",
            )
        ]  # fmt: skip
    parts = listed([f"{k:,} {reason_for(k, r)}" for r, k in by_reason.most_common()])
    return [
        caution(
            "failures-left-out/several", value=value, limit=limit, n=f"{n:,}", what=what,
            parts=parts,
        )
    ]  # fmt: skip
