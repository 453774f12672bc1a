"""Makers of cautions on earlier looks, their ledger, and names replaced; see `caution_makers`."""

from __future__ import annotations

from collections.abc import Iterable

from caution_makers import NS, maker

from fleetstats.chapters.looks_made import compute
from fleetstats.chapters.origin.chapter import caution_replaced
from fleetstats.study.history import Ledger, LedgerLook
from fleetstats.study.origin import StudyOrigin
from fleetstats.vocabulary.caution import Caution


@maker("looks-altered")
def _(over: bool) -> Iterable[Caution]:
    flaws = ("Look 2 is missing.",) if over else ()
    return compute.caution_ledger(Ledger(there=True, flaws=flaws))


@maker("looks-altered/saved-anew")
def _(over: bool) -> Iterable[Caution]:
    odd = ("The last line has no end.",) if over else ()
    return compute.caution_ledger(Ledger(there=True, odd=odd))


@maker("looks-disagree")
def _(over: bool) -> Iterable[Caution]:
    def look(verdict: str, share: float) -> LedgerLook:
        asked = {"hours": 1200.0, "reliability": share}
        return LedgerLook(verb="study", date="d", data="a", asked=asked, verdict=verdict)

    before = (look("not-yet-shown" if over else "supported", 0.95),)
    base = NS(advice=NS(verdict=NS(word="supported")))
    return compute.caution_disagree(before, look("", 0.9), base)  # type: ignore[arg-type]


@maker("names-replaced")
def _(over: bool) -> Iterable[Caution]:
    account = {"read": 9, "used": 8, "set_aside": 1, "errors": 1}
    told = StudyOrigin(
        hours_step_h=1, dates="month", moved_h=0.5, account=account, reasons={"merged": 1}
    )
    return caution_replaced(told if over else None)
