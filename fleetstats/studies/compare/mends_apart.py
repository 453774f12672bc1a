"""What was decided about cells and rows in one of two studies and not in the other."""

from __future__ import annotations

from collections.abc import Sequence

from fleetstats.records.mends.log import read_mends
from fleetstats.records.mends.mend import ASIDE, Mend, Mended
from fleetstats.records.mends.words import say_mends
from fleetstats.study.study import Study
from fleetstats.vocabulary.wording import listed

NAMED = 6
"""Mends named of each study; each report has its own table of all."""


def say_mends_apart(old: Study, new: Study) -> tuple[str, ...]:
    """Say how much each study mends, and name what only one of them does.

    A mend is the same in both if it gives the same cell the same value, or sets the same row
    aside, whatever version of the file it was decided on.
    """
    was, now = read_mends(old).holding, read_mends(new).holding
    if not was and not now:
        return ()
    return (
        f"Earlier study: {_told(was, now)}.",
        f"Later study: {_told(now, was)}.",
    )


def _told(own: Sequence[Mend], other: Sequence[Mend]) -> str:
    known = {(*m.place, m.new) for m in other}
    only = [m for m in own if (*m.place, m.new) not in known]
    text = say_mends([Mended(mend=m) for m in own])
    if not only or not own:
        return text
    named = [f"{m.where} ({_what(m)}: {m.why.rstrip('.')})" for m in only[:NAMED]]
    more = len(only) - len(named)
    here = listed([*named, f"{more} more"] if more else named)
    return f"{text}; only here {here}"


def _what(m: Mend) -> str:
    return "set aside" if m.act == ASIDE else f"“{m.old}” read as “{m.new}”"
