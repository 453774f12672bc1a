"""What came out of reading: of one file, and of all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fleetstats.core.provenance import SourceFile
from fleetstats.core.value import Value
from fleetstats.records.finding import Finding, SetAside
from fleetstats.records.life import LifeRow


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading(Value):
    """One file, read. Every line read is in a life's `rows` or in `set_aside`."""

    file: str
    shape: str
    source: str = ""
    sheet: str = ""
    rows: tuple[LifeRow, ...] = ()
    events: tuple[Any, ...] = ()
    findings: tuple[Finding, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
    lines: tuple[int, ...] = ()
    n_blank: int = 0
    engines: tuple[str, ...] = ()

    @property
    def n_read(self) -> int:
        """Return the number of lines read, blank ones not counted."""
        return len(self.lines)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Records(Value):
    """All files of a study, read and converted to standard hours.

    Parameters
    ----------
    rows : tuple of LifeRow
        The lives, those of logs included.
    events : tuple
        Events of log files as written, for analyses that need more than lives.
    findings, set_aside : tuple
        What the readers found, and the lines that could not become lives.
    readings : tuple of Reading
        Per file, what it held.
    sources : tuple of SourceFile
        The files with their digests.
    serials : tuple of str
        Every serial built, where the study names a list.
    """

    rows: tuple[LifeRow, ...]
    events: tuple[Any, ...] = ()
    findings: tuple[Finding, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
    readings: tuple[Reading, ...] = ()
    sources: tuple[SourceFile, ...] = ()
    serials: tuple[str, ...] = ()

    def __repr__(self) -> str:
        n = sum(r.n_read for r in self.readings)
        return (
            f"Records: {n} rows of {len(self.readings)} files, {len(self.rows)} lives, "
            f"{len(self.findings)} findings"
        )
