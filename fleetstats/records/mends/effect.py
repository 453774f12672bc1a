"""What a mend does to what its row tells of a failure: the row as supplied beside the row as read.

Both are asked by the search that makes the ledger of trouble, so that a mend hides nothing that
the ledger would have shown.
"""

from __future__ import annotations

from fleetstats.records.mends.mend import ASIDE, Mend, Mended
from fleetstats.records.trouble.hinted import Hinted
from fleetstats.records.trouble.scan import Scanner
from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import is_blank, text
from fleetstats.tables.columns import ColumnMatch
from fleetstats.tables.table import RawRow
from fleetstats.vocabulary.endings import ENDINGS_BY_WORD, FAILING_ENDINGS
from fleetstats.vocabulary.fields.headers import meaning_of
from fleetstats.vocabulary.fields.history_heads import read_name
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.trouble import FAILURE, hint_of


class HistoryTells:
    """What rows of histories tell of failures: how many, at which hours, of which causes.

    Parameters
    ----------
    match : ColumnMatch
        The columns, those of happenings by their names.
    file : RecordFile
        Its words for endings.
    """

    def __init__(self, match: ColumnMatch, file: RecordFile) -> None:
        self.ends = {w: e for w, (e, _) in ENDINGS_BY_WORD.items()}
        self.ends |= {fold(w): e for w, e in file.endings.items()}
        self.status = match.index.get("ending")
        self.at: dict[int, dict[str, int]] = {}
        for name, i in match.index.items():
            head = read_name(name)
            if head is not None and head.happening == "failed":
                self.at.setdefault(head.number, {})[head.told] = i

    def effect(self, before: RawRow, after: RawRow | None) -> str:
        """Return the key of `EFFECTS`, as `effect_of`."""
        was, now = self._failures(before), [] if after is None else self._failures(after)
        if len(was) != len(now):
            return "removed" if len(was) > len(now) else "added"
        pairs = list(zip(was, now, strict=True))
        if any((a[0], a[1]) != (b[0], b[1]) for a, b in pairs):
            return "hours"
        return "cause" if any(a != b for a, b in pairs) else ""

    def _failures(self, row: RawRow) -> list[tuple[str, ...]]:
        """Return the failures of a row: hours, day, and what else is told of each."""
        out = []
        for at in self.at.values():
            told = {k: "" if is_blank(row.cells[i]) else text(row.cells[i]) for k, i in at.items()}
            if any(told.values()):
                told = {k: fold(v) for k, v in told.items()}
                rest = (v for k, v in sorted(told.items()) if k not in ("hours", "date"))
                out.append((told.get("hours", ""), told.get("date", ""), *rest))
        word = "" if self.status is None else text(row.cells[self.status])
        if not out and meaning_of(word, self.ends) in FAILING_ENDINGS:
            out.append(("", "", ""))
        return out


def effect_of(scanner: Scanner | HistoryTells | None, before: RawRow, after: RawRow | None) -> str:
    """Return the key of `EFFECTS` for a row as supplied and as read; `after` is None if set aside.

    A shape without a search for trouble tells of no failure.
    """
    if scanner is None:
        return ""
    if isinstance(scanner, HistoryTells):
        return scanner.effect(before, after)
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
    mends: list[Mend],
    before: RawRow,
    after: RawRow,
    match: ColumnMatch,
    scanner: Scanner | HistoryTells | None,
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
