"""The cautions on mends that touch what tells of a failure."""

from __future__ import annotations

from collections.abc import Sequence

from fleetstats.chapters.mends.values import MendsApplied
from fleetstats.records.mends.mend import Mended
from fleetstats.records.mends.words import say_effects
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import count, listed

NAMED = 3
"""Mends named in a caution by their numbers; the table has all."""


def list_mends(mended: Sequence[Mended]) -> MendsApplied | None:
    """Return the mends of a study with their cautions; None where nothing was decided."""
    if not mended:
        return None
    return MendsApplied(mended=tuple(mended), cautions=caution_mends(mended))


def caution_mends(mended: Sequence[Mended]) -> tuple[Caution, ...]:
    """Return the cautions on mends that take failures out or change what is told of them."""
    out = []
    gone = [m for m in mended if m.effect == "removed"]
    if gone:
        one = len(gone) == 1
        out.append(
            caution(
                "failure-mended-away", value=count(len(gone), "row"), limit="0 rows",
                n=count(len(gone), "row"), tells="tells" if one else "tell",
                do="does" if one else "do", which=_which(gone),
            )
        )  # fmt: skip
    other = [m for m in mended if m.effect and m.effect != "removed"]
    if other:
        out.append(
            caution(
                "failure-mended", value=count(len(other), "row"), limit="0 rows",
                effects=say_effects(other), which=_which(other),
            )
        )  # fmt: skip
    return tuple(out)


def _which(mended: Sequence[Mended]) -> str:
    shown = [f"{m.mend.where} ({m.mend.by})" for m in mended[:NAMED]]
    more = len(mended) - len(shown)
    return listed([*shown, f"{more} more"] if more else shown)
