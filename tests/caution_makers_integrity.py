"""Makers of cautions on failures that nobody told and on signs; see `caution_makers`."""

from __future__ import annotations

from collections.abc import Iterable

from caution_makers import MAKERS

from fleetstats.chapters.integrity.values import Effect, Integrity, RecordSign
from fleetstats.chapters.integrity.words import integrity_cautions
from fleetstats.chapters.unreported.values import Unreported
from fleetstats.chapters.unreported.words import unreported_cautions
from fleetstats.vocabulary.caution import Caution


def _untold(estimate: float, high: int) -> Iterable[Caution]:
    """Three failures more would turn the claim."""
    return unreported_cautions(
        Unreported(
            state="answered", sentence="", overlaps=(), stated=(), n_failed=9, n_alone=0,
            estimate=estimate, low=0, high=high, level=0.9, claimed_h=900.0, accepted_failure=0.1,
            to_turn=3, failure_high=0.08, failure_high_with=0.12,
        )
    )  # fmt: skip


MAKERS["unreported-failures"] = lambda over: _untold(3.0 if over else 2.9, 8 if over else 2)
MAKERS["unreported-failures/limit"] = lambda over: _untold(0.5, 3 if over else 2)


def _sign(*, out: bool = True, failed: bool = True) -> Iterable[Caution]:
    """Two engines in doubt; the claim is shown without them, or with them failed, or not."""
    effects = (Effect(failure_high=0.12 - 0.04 * ok, shown=ok, hours=None) for ok in (out, failed))
    left_out, as_failed = effects
    sign = RecordSign(
        key="contradictory", n_looked=9, n_found=2, unit="life", found="2", expected="none",
        left_out=left_out, failed=as_failed,
    )  # fmt: skip
    return integrity_cautions(
        Integrity(
            sentence="", signs=(sign,), claimed_h=900.0, accepted_failure=0.1, target=0.9,
            as_recorded=Effect(failure_high=0.09, shown=True, hours=None),
        )
    )  # fmt: skip


MAKERS["second-look"] = lambda over: _sign(out=not over)
MAKERS["second-look-failed"] = lambda over: _sign(failed=not over)
