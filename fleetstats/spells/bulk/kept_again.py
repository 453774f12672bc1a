"""Rows of a long table that were read again by themselves, kept from one run to the next.

Which rows are in doubt or are looked at one by one is known only when all are read, so the file is
gone through a second time. What a row says by itself stays as it is however much is added below:
of a file that grew only the rows asked for besides are read again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from fleetstats.core.shelf import Shelf
from fleetstats.core.value import Array
from fleetstats.records.life import LifeRow
from fleetstats.records.trouble.hinted import Hinted
from fleetstats.spells.bulk.kept_rows import Known, kind_of, told_settings
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile
from fleetstats.tables.chunks import TextPlace

KIND = "again"

FROM_SHARE = 0.05
"""Share of rows read anew from which they are kept anew."""

Reread = tuple[Hinted | None, list[tuple[LifeRow, bool]]]
"""What a row hints at, and its lives, each with whether it is used."""


@dataclass(slots=True, kw_only=True)
class KeptAgain:
    """Rows of one file that were read again.

    Parameters
    ----------
    shelf : Shelf
        Where they are kept.
    file : RecordFile
        The file.
    settings : Settings
        Plain, or telling which keys are read.
    reads : callable
        Says which settings were read so far, as ``table.key``.
    before, now : Known or None
        Bytes of the file of which a run before may have kept rows, and those of which this one may.
    """

    shelf: Shelf
    file: RecordFile
    settings: Settings
    reads: Callable[[], tuple[str, ...]]
    before: Known | None
    now: Known | None
    _held: dict[int, Reread] | None = field(default=None, init=False)
    _asked: dict[int, Reread] = field(default_factory=dict, init=False)
    _n_anew: int = field(default=0, init=False)

    @property
    def kind(self) -> str:
        """Return the kind of kept result."""
        return kind_of(KIND, self.file)

    def take(self, lines: Array) -> dict[int, Reread]:
        """Return those of some lines that are kept."""
        if self._held is None:
            found = () if self.before is None else self.shelf.take(self.kind, self._fits)
            self._held = found[1] if found else {}
        out = {n: self._held[n] for n in lines.tolist() if n in self._held}
        self._asked |= out
        return out

    def after(self, lines: Array) -> TextPlace | None:
        """Return a place above all of some lines, from which on the file may be read."""
        if self.before is None or self.before.holds(lines).any():
            return None
        return self.before.place

    def note(self, reread: Mapping[int, Reread]) -> None:
        """Take in what was read again."""
        lines = np.array(list(reread), dtype=np.int64)
        if self.now is not None:
            mine = lines[self.now.holds(lines)].tolist()
            self._asked |= {n: reread[n] for n in mine}
            self._n_anew += len(mine)

    def keep(self) -> None:
        """Keep the rows that were asked for, where many of them were read anew."""
        if self.now is None or self._n_anew <= FROM_SHARE * len(self._asked):
            return
        known = {n: x for n, x in self._asked.items() if self.now.holds(np.array([n]))[0]}
        self.shelf.keep(self.kind, self._about(self.now, self.reads()), known)

    def _about(self, known: Known, keys: Sequence[str]) -> dict[str, Any]:
        return {"rows": known.digest, "settings": told_settings(self.settings, keys)}

    def _fits(self, about: Mapping[str, Any]) -> bool:
        return self.before is not None and about == self._about(self.before, [*about["settings"]])


def by_line(
    hints: Mapping[int, Hinted], lives: Sequence[tuple[LifeRow, bool]]
) -> dict[int, Reread]:  # fmt: skip
    """Return lives that were read again by their lines, each line with what it hints at."""
    out: dict[int, Reread] = {}
    for x in lives:
        line = x[0].origin.row or 0
        out.setdefault(line, (hints.get(line), []))[1].append(x)
    return out
