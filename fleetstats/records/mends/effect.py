"""What a mend does to what its row tells of a failure: the row as supplied beside the row as read.

Both are asked by the search that makes the ledger of trouble, so that a mend hides nothing that
the ledger would have shown.
"""

from __future__ import annotations

from fleetstats.records.mends.mend import ASIDE, Mend, Mended
from fleetstats.records.trouble.hinted import Hinted
from fleetstats.records.trouble.scan import Scanner
from fleetstats.tables.cells import text
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.table import RawRow
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.trouble import FAILURE, hint_of


def effect_of(scanner: Scanner | None, before: RawRow, after: RawRow | None) -> str:
    """Return the key of `EFFECTS` for a row as supplied and as read; `after` is None if set aside.

    A shape without a search for trouble tells of no failure.
    """
    if scanner is None:
        return ""
    was, now = scanner.hinted(before), None if after is None else scanner.hinted(after)
    told, tells = _how_much(was), _how_much(now)
    if told != tells:
        return "removed" if told > tells else "added"
    if was is None or now is None or not told:
        return ""
    if was.hours_h != now.hours_h or was.told_h != now.told_h:
        return "hours"
    return "cause" if fold(was.cause) != fold(now.cause) else ""


def _how_much(h: Hinted | None) -> int:
    """Return 2 where a row is read as a failure, 1 where it hints at one otherwise, else 0.

    A word that nobody knows hints at none by itself.
    """
    if h is None or (h.confirmed is False and not h.naming):
        return 0
    if h.failing:
        return 2
    hints = [hint_of(w) for w in h.words]
    worded = any(x is not None and x.grade == FAILURE for x in hints)
    return int(bool(h.untold or h.naming or h.confirmed or worded))


def told_of(
    mends: list[Mend], before: RawRow, after: RawRow, match: ColumnMatch, scanner: Scanner | None
) -> tuple[Mended, ...]:
    """Return the mends of one row with what they did; the effect is of them all together."""
    aside = any(m.act == ASIDE for m in mends)
    effect = effect_of(scanner, before, None if aside else after)
    at = match.index.get("engine")
    engine = "" if at is None else text(after.cells[at])
    last = len(mends) - 1
    # the row has one effect, told once: with the mend that sets it aside, else with the last
    named = next((i for i, m in enumerate(mends) if m.act == ASIDE), last)
    return tuple(
        Mended(mend=m, engine=engine, effect=effect if i == named else "")
        for i, m in enumerate(mends)
    )
