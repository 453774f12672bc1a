"""Years: the looks at these records that were written down, one a line."""

from __future__ import annotations

from typing import Any

from fleetstats.advice.advice import VERDICT_WORDS
from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.study.history import read_history


def show(place: DeskPlace, form: Sent) -> dict[str, Any]:
    """Return the ledger of looks, the latest first, and what is wrong with it."""
    del form
    ledger = read_history(place.desk.folder)
    looks = [
        {
            "number": x.number,
            "date": x.date,
            "verb": x.verb,
            "asked": x.asked,
            "answers": x.answers,
            "verdict": VERDICT_WORDS.get(x.verdict, x.verdict),
            "report": x.report,
            "written": x.written,
        }
        for x in reversed(ledger.looks)
    ]
    return {"looks": looks, "flaws": ledger.flaws, "there": ledger.there}


ACTS: dict[str, Any] = {}
