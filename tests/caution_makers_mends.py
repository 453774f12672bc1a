"""Makers of cautions on decisions about cells; see `caution_makers`."""

from __future__ import annotations

from collections.abc import Iterable

from caution_makers import maker

from fleetstats.chapters.mends import caution_mends
from fleetstats.records.mends.mend import VALUE, Mend, Mended
from fleetstats.vocabulary.caution import Caution


def mended(effect: str) -> tuple[Mended, ...]:
    """Return one mend with an effect on what its row tells of a failure."""
    mend = Mend(
        file="a.csv", digest="d", row=2, column="ending", act=VALUE, old="failed", new="running",
        why="typed in the wrong row", by="records keeper", when="2026-01-05", number=1,
    )  # fmt: skip
    return (Mended(mend=mend, engine="E-1", effect=effect),)


@maker("failure-mended-away")
def _(over: bool) -> Iterable[Caution]:
    return caution_mends(mended("removed" if over else "hours"))


@maker("failure-mended")
def _(over: bool) -> Iterable[Caution]:
    return caution_mends(mended("hours" if over else ""))
