"""The looks that a ledger tells of, joined to the settings by which this look may speak."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fleetstats.advice.judge import accepted_failure
from fleetstats.advice.looks.look import EarlierLook, information_of, join_looks
from fleetstats.chapters.looks_made.compute import looks_before
from fleetstats.chapters.looks_made.present import INFORMATION, begin_look
from fleetstats.core.provenance import SourceFile
from fleetstats.spells.spells import Spells
from fleetstats.study.history import LedgerLook, read_history
from fleetstats.study.study import Study


def with_looks_made(study: Study, sources: Sequence[SourceFile], spells: Spells) -> Study:
    """Return the study knowing how many looks at earlier states of its records were made.

    A number that the study file states stands, as do settings without a claim. Looks to one date
    are one look, whatever their settings and however often rows were mended between: what was known
    then is nearly the same, and another caution asks about settings. Without dates, one state of
    the files is one look.

    Parameters
    ----------
    study : Study
        As read; its folder may hold a ledger.
    sources : sequence of SourceFile
        Files read, with their digests.
    spells : Spells
        The lives.
    """
    s = study.settings
    hours = s.study.claimed_interval_h
    if hours is None or {"looks.made", "looks.information"} & set(study.chosen):
        return study
    ledger = read_history(study.folder)
    if not ledger.there:
        return study
    now = begin_look(study, sources, "", spells)
    earlier: dict[str, LedgerLook] = {}
    for look in looks_before(ledger, now):
        before = look.date < now.date if look.date and now.date else look.data != now.data
        if before and look.verdict:
            earlier[look.date or look.data] = look
    if not earlier:
        return study
    told = [x.answers.get(INFORMATION) for x in earlier.values()]
    if any(not isinstance(x, int | float) for x in told):
        looks = replace(s.looks, made=len(earlier) + 1)
        return replace(study, settings=replace(s, looks=looks))
    known = [EarlierLook(number=i + 1, information=float(x or 0.0)) for i, x in enumerate(told)]
    here = information_of(spells, s, hours=hours, target=1.0 - accepted_failure(s))
    return replace(study, settings=join_looks(s, known, here))
