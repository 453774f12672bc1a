"""The ledger of trouble of a table read by chunks: every row counted, the first of each place kept.

A row in whose note or unused columns a word of trouble may stand, or that hints at a failure and
is not read as one, is not plain: it is read by itself, so that it is judged as in a whole table.
What is left are failures with nothing odd about them, which are counted by columns.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fleetstats.core.value import Array
from fleetstats.records.audit.audit import TWICE
from fleetstats.records.audit.audit_trouble import tell_trouble
from fleetstats.records.audit.finding import Audit
from fleetstats.records.life import LifeRow
from fleetstats.records.reading import Records
from fleetstats.records.rules import Ruling
from fleetstats.records.set_aside import SetAside
from fleetstats.records.trouble.hinted import Hinted
from fleetstats.records.trouble.scan import FAILING, Scanner
from fleetstats.spells.left_out import LeftOut
from fleetstats.spells.trouble.place import Clerk, Judged, Placed
from fleetstats.spells.trouble.values import PLACES, Trouble, TroubleRow
from fleetstats.study.settings import Settings
from fleetstats.tables.chunks import Chunk
from fleetstats.tables.table import RawRow
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.trouble import FAILURE, MAY_HINT

FIRST = 100
"""Rows of each place that the ledger of a long table shows."""

TOLD_BY = ("ending", "cause", "confirmed", "found_at_teardown")
"""Columns whose cells together tell how a life ended."""


class ChunkLedger:
    """The ledger of one table while its chunks are read.

    Parameters
    ----------
    settings : Settings
        The study's.
    scanner : Scanner
        The search of its rows.
    """

    def __init__(self, settings: Settings, scanner: Scanner) -> None:
        self.settings, self.scanner = settings, scanner
        none = Audit(findings=(), accounts=(), set_aside=(), used=())
        self.clerk = Clerk(settings, Records(rows=()), none, ())
        self.hints: dict[int, Hinted] = {}
        self.placed: dict[int, Placed] = {}
        self.aside: dict[int, SetAside] = {}
        self.plain: Counter[str] = Counter()
        self.shown: dict[int, TroubleRow] = {}

    # -- rows that are looked at one by one --------------------------------------------------------

    def suspects(self, chunk: Chunk) -> Array:
        """Return (n,) bool: the rows of a chunk that are to be read by themselves."""
        cells = self.scanner.cells
        out = np.zeros(chunk.n, dtype=bool)
        note = cells.index.get("note")
        for at in (*([] if note is None else [note]), *(at for at, _ in cells.unused)):
            out |= chunk.filled(at) if at in cells.naming else chunk.matching(at, MAY_HINT)
        columns = [(cells.index[n], chunk.coded(cells.index[n])) for n in TOLD_BY
                   if n in cells.index]  # fmt: skip
        told = np.zeros(chunk.n, dtype=np.int64)
        for _, coded in columns:
            told = told * max(len(coded.cells), 1) + coded.codes
        kinds, first, at_kind = np.unique(told, return_index=True, return_inverse=True)
        odd = np.zeros(len(kinds), dtype=bool)
        for k, i in enumerate(first.tolist()):
            row = [None] * len(chunk.header)
            for at, coded in columns:
                row[at] = coded.cells[int(coded.codes[i])]
            h = self.scanner.hinted(RawRow(row=0, cells=tuple(row)))
            odd[k] = h is not None and h.ending not in FAILING["lives"]
        return np.asarray(out | odd[at_kind.ravel()])

    def scan(self, row: RawRow) -> None:
        """Look at one row."""
        h = self.scanner.hinted(row)
        if h is not None:
            self.hear(h)

    def hear(self, h: Hinted) -> None:
        """Take in what a row hints at."""
        self.hints[h.row] = h
        if h.failing:
            self.clerk.told_at.add(str(h.origin))

    def findings(self, life: LifeRow) -> list[Finding]:
        """Return what the audit says of a life because of hints in its row."""
        h = self.hints.get(life.origin.row or 0)
        return [] if h is None else tell_trouble(h, life, self.settings)

    def see(self, hours: Sequence[float] | Array) -> None:
        """Take notice of the ages in the records."""
        self.clerk.oldest_h = max(self.clerk.oldest_h, float(np.max(hours, initial=0.0)))

    def put_aside(self, line: int, reason: str, message: str = "", into: str = "") -> None:
        """Note that a row is in no life."""
        if line in self.hints:
            self.placed.pop(line, None)
            file = self.hints[line].file
            self.aside[line] = SetAside(
                file=file, row=line, reason=reason, message=message, into=into
            )
            self.clerk.note_aside(self.aside[line])

    def put_life(self, line: int, parts: Sequence[Judged]) -> None:
        """Note the life of a row, in its parts, judged."""
        if line in self.hints and line not in self.aside and parts:
            self.placed[line] = self.clerk.in_life(self.hints[line], parts)

    # -- rows that are counted by columns ----------------------------------------------------------

    def count(self, life: LifeRow, v: Ruling, lines: Array, exits_h: Array, good_h: Array) -> None:
        """Count plain rows whose lives end alike."""
        if life.ending not in FAILING["lives"]:
            return
        h = self._plain_hint(life)
        place = self.clerk.place_of(h, life, v)
        for k in range(len(lines) if place == "excluded" else min(len(lines), FIRST)):
            line, good = int(lines[k]), float(good_h[k])
            one = replace(life, origin=replace(life.origin, row=line), exit_h=float(exits_h[k]),
                          last_good_h=good if good == good else None)  # fmt: skip
            placed = self.clerk.in_life(replace(h, row=line), [(one, v)])
            if place == "excluded":
                self.placed[line] = placed
            elif sum(r.place == place for r in self.shown.values()) < FIRST:
                self.shown[line] = placed[0]
        if place != "excluded":
            self.plain[place] += len(lines)

    def _plain_hint(self, life: LifeRow) -> Hinted:
        return Hinted(
            file=life.origin.file, row=0, source=life.source, build=life.build, cause=life.cause,
            ending=life.ending, columns=(self.scanner.cells.shown.get("ending", "ending"),),
            words=(life.ending,), grade=FAILURE, failing=True, confirmed=life.confirmed,
        )  # fmt: skip

    # -- rows that are set aside when the whole is known -------------------------------------------

    def take_back(self, life: LifeRow, v: Ruling, finding: Finding) -> None:
        """Set a row aside that was counted, since another row tells of the same."""
        line = life.origin.row or 0
        h = self.hints.get(line)
        if h is None:
            return
        if line not in self.placed:
            self.plain[self.clerk.place_of(h, life, v)] -= 1
            self.shown.pop(line, None)
        into = finding.related[0] if finding.code in TWICE and finding.related else ""
        self.put_aside(line, finding.code, finding.message, into)

    def stand(self, judged: Sequence[Judged]) -> None:
        """Note lives that may stand for rows taken back."""
        for life, v in judged:
            self.clerk.by_origin.setdefault(str(life.origin), []).append((life, v))

    def entries(self) -> tuple[Counter[str], list[TroubleRow], list[Placed]]:
        """Return how many rows are in each place, those shown, and failures left out with theirs.

        Rows counted by columns are in the counts; of them the first stand among those shown.
        """
        set_aside = [self.clerk.set_aside(self.hints[n], s) for n, s in sorted(self.aside.items())]
        placed = [*self.placed.values(), *set_aside]
        counts = Counter(self.plain)
        counts.update(r.place for r, _ in placed)
        return counts, [*self.shown.values(), *(r for r, _ in placed)], placed


def join_ledgers(
    ledgers: Sequence[ChunkLedger],
) -> tuple[Trouble, tuple[LeftOut, ...]]:
    """Return the ledger of all files of a table, and the failures that no spell counts.

    A row that another file's row stands for is found there.
    """
    first, *others = (x.clerk for x in ledgers)
    for clerk in others:
        first.told_at |= clerk.told_at
        first.by_origin |= clerk.by_origin
        first.aside_at |= clerk.aside_at
        first.oldest_h = max(first.oldest_h, clerk.oldest_h)
    for clerk in others:
        clerk.told_at, clerk.by_origin = first.told_at, first.by_origin
        clerk.aside_at, clerk.oldest_h = first.aside_at, first.oldest_h
    counts: Counter[str] = Counter()
    rows: dict[str, list[TroubleRow]] = {p: [] for p in PLACES}
    left: list[LeftOut] = []
    for ledger in ledgers:
        n, shown, placed = ledger.entries()
        counts.update(n)
        for place in PLACES:
            mine = sorted((r for r in shown if r.place == place), key=lambda r: r.row)
            rows[place] += mine[: FIRST - len(rows[place])]
        left += [x for _, x in placed if x is not None]
    order = {x.scanner.file.file: i for i, x in enumerate(ledgers)}
    told = sorted((r for p in PLACES for r in rows[p]), key=lambda r: (order[r.file], r.row))
    return Trouble(rows=tuple(told), places=dict(counts)), tuple(left)
