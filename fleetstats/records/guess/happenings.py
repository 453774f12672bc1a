"""Whether a sheet has one row an engine with its history in columns, by its heads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from fleetstats.records.guess.profile import Profile
from fleetstats.vocabulary.fields.headers import plain_name
from fleetstats.vocabulary.fields.histories import HAPPENINGS, HISTORY_FIELDS
from fleetstats.vocabulary.fields.history_heads import Head, read_head

GOES_ON: Final = ("back", "meter changed", "prop strike", "repair")
"""What happens to an engine that goes on after it; a life of its own has no column for these."""

_ONCE = frozenset(plain_name(w) for f in HISTORY_FIELDS for w in (f.name, *f.words))


def happenings_of(columns: Sequence[Profile]) -> dict[int, Head]:
    """Return what each column tells of a happening, by its place; columns that stand once apart."""
    out = {}
    for c in columns:
        head = None if plain_name(c.head) in _ONCE else read_head(c.head)
        if head is not None:
            out[c.at] = head
    return out


def tells_histories(columns: Sequence[Profile]) -> str:
    """Return why a sheet is one of histories, or an empty text.

    It must tell the hours of a failure or removal, and besides that an engine went on: a return, a
    repair by the name of what was renewed, a new meter, or the same happening again.
    """
    found = happenings_of(columns)
    heads = {c.at: c.head for c in columns}
    ends = [i for i, h in found.items()
            if h.happening in ("failed", "removed") and h.told in ("", "hours")]  # fmt: skip
    seen: set[str] = set()
    again = []
    for i, h in found.items():
        repeated = h.name in seen or h.number > 1
        renewal = h.happening not in HAPPENINGS
        if repeated or renewal or h.happening in GOES_ON:
            again.append(i)
        seen.add(h.name)
    if not ends or not again:
        return ""
    named = ", ".join(f"'{heads[i]}'" for i in dict.fromkeys((ends[0], *again[:3])))
    return f"the heads {named} tell what happened to one engine and that it went on"
