"""From a ledger and the look at hand to the looks before it, and to what they put in doubt."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from fleetstats.advice.advice import VERDICTS
from fleetstats.advice.advise import advise_hours
from fleetstats.chapters.looks_made.values import LooksMade, ToldLook
from fleetstats.chapters.looks_made.words import say_changed, say_looks
from fleetstats.document.cells import plain_text
from fleetstats.study.history import Ledger, LedgerLook
from fleetstats.study.history.look import canonical
from fleetstats.vocabulary.caution import Caution
from fleetstats.vocabulary.cautions import caution
from fleetstats.vocabulary.wording import count, listed

if TYPE_CHECKING:
    from fleetstats.chapters.chapter import Base

MOST_TOLD = 3
"""Flaws that a caution tells; the chapter tells all."""


def find_looks(ledger: Ledger, now: LedgerLook, base: Base) -> LooksMade:
    """Return the looks that were made before `now` was first asked.

    Parameters
    ----------
    ledger : Ledger
        What the study's folder holds.
    now : LedgerLook
        What is asked of which records now; its answers do not count.
    base : Base
        The study's lives and settings, asked for the verdict only where an earlier look at the
        same records said otherwise.
    """
    before = looks_before(ledger, now)
    last: LedgerLook | None = None
    told = []
    for look in before:
        told.append(_earlier(look, last))
        last = look
    out = LooksMade(
        earlier=tuple(told),
        n_earlier=len({x.question for x in before}),
        since="" if last is None else say_changed(last, now),
        flaws=ledger.flaws,
        odd=ledger.odd,
        identity=_identity(before, ledger),
        cautions=(*caution_ledger(ledger), *caution_disagree(before, now, base)),
    )
    said = say_looks(out)
    return replace(out, sentences=said, prompt_lines=said[:1])


def looks_before(ledger: Ledger, now: LedgerLook) -> tuple[LedgerLook, ...]:
    """Return the looks before the first that asked the same of the same records."""
    out = []
    for look in ledger.looks:
        if look.question == now.question:
            break
        out.append(look)
    return tuple(out)


def caution_ledger(ledger: Ledger) -> tuple[Caution, ...]:
    """Return the caution that the ledger is not as it was written."""
    flaws = ledger.flaws or ledger.odd
    if not flaws:
        return ()
    more = f" And {len(flaws) - MOST_TOLD} more." if len(flaws) > MOST_TOLD else ""
    case = "looks-altered" if ledger.flaws else "looks-altered/saved-anew"
    return (
        caution(
            case,
            value=count(len(flaws), "sign"),
            limit="0 signs",
            flaws=" ".join(flaws[:MOST_TOLD]) + more,
        ),
    )


def caution_disagree(
    before: tuple[LedgerLook, ...], now: LedgerLook, base: Base
) -> tuple[Caution, ...]:
    """Return the caution that other settings gave these records another verdict on these hours."""
    hours = now.asked.get("hours")
    other = [
        x
        for x in before
        if (x.data, x.date) == (now.data, now.date)
        and hours is not None
        and x.asked.get("hours") == hours
        and x.verdict in VERDICTS
        and x.verdict != "supported"
    ]
    if not other or _word(base) != "supported":
        return ()
    words = listed([f"“{VERDICTS[w]}”" for w in dict.fromkeys(x.verdict for x in other)])
    return (
        caution(
            "looks-disagree",
            value=f"{count(len(other), 'look')}: {words}",
            limit="one verdict",
            looks=count(len(other), "earlier look"),
            hours=f"{hours:,.0f} h",
            words=words,
        ),
    )


def _word(base: Any) -> str:
    """Return the verdict's word, worked out where the run at hand did not."""
    advice = getattr(base, "advice", None)
    if advice is None:
        advice = advise_hours(base.spells, base.fit, base.settings, curves=False)
    return "" if advice.verdict is None else advice.verdict.word


def _earlier(look: LedgerLook, last: LedgerLook | None) -> ToldLook:
    return ToldLook(
        number=look.number,
        verb=plain_text(look.verb),
        date=plain_text(look.date),
        verdict=look.verdict if look.verdict in VERDICTS else "",
        report=plain_text(look.report),
        hours=number_in(look.asked, "hours"),
        reliability=number_in(look.asked, "reliability"),
        failed=number_in(look.answers, "failed"),
        exposure_h=number_in(look.answers, "exposure_h"),
        failure_high=number_in(look.answers, "failure_high"),
        plan_from_h=number_in(look.answers, "plan_from_h"),
        changed="" if last is None else say_changed(last, look),
    )


def number_in(told: Mapping[str, Any], name: str) -> float | None:
    """Return a finite number that a line of the ledger holds under a name; None where none is."""
    held = told.get(name)
    if isinstance(held, bool) or not isinstance(held, int | float):
        return None
    try:
        number = float(held)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None


def _identity(before: tuple[LedgerLook, ...], ledger: Ledger) -> str:
    """Return a digest of what is told: no day of the clock is in it, nor later looks."""
    if not before and not ledger.flaws and not ledger.odd:
        return ""
    told = [[{"number": x.number, **x.content} for x in before], ledger.flaws, ledger.odd]
    return hashlib.sha256(canonical(told).encode()).hexdigest()
