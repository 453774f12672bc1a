"""What came out of reading: of one file, and of all."""

from __future__ import annotations

from dataclasses import field, fields
from typing import TYPE_CHECKING, Any

from fleetstats.core.provenance import SourceFile
from fleetstats.core.value import Value, value
from fleetstats.records.life import LifeRow
from fleetstats.records.mends.mend import Mended
from fleetstats.records.set_aside import SetAside
from fleetstats.records.trouble.hinted import Hinted
from fleetstats.vocabulary.finding import Finding

if TYPE_CHECKING:
    import pandas as pd

    from fleetstats.records.clocks.clocks import Factor
    from fleetstats.records.merging.merge import Merged
    from fleetstats.records.told import ToldFile

NOT_SHOWN = ("origin", "rows", "elsewhere", "log_file")
"""What a life holds of its place in the files, which a table of lives shows in its own way."""


@value
class Reading(Value):
    """One file, read. Every line read is in a life's `rows` or in `set_aside`.

    `told` counts the words of its endings as written, where the study maps any; `written` has those
    of each row by its number in the file; `heads` tells our names of columns = those of the file.
    """

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
    factors: tuple[Factor, ...] = ()
    told: ToldFile | None = None
    trouble: tuple[Hinted, ...] = ()
    written: dict[int, tuple[str, str]] = field(default_factory=dict)
    mended: tuple[Mended, ...] = ()
    heads: dict[str, str] = field(default_factory=dict)

    _not_in_dict = ("trouble", "written", "mended", "heads")

    @property
    def n_read(self) -> int:
        """Return the number of lines read, blank ones not counted."""
        return len(self.lines)


@value
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
    factors : tuple of Factor
        Engines' own clock factors, from readings of two meters side by side.
    merged : Merged or None
        How returns that tell of one engine were merged; None where that is switched off.
    hours_carried : float
        Hours added by carrying readings to the analysis date; 0 unless the study asks for it.
    trouble : tuple of Hinted
        Every row that hints at trouble, whatever became of it.
    mended : tuple of Mended
        What was decided about cells and rows, of files of every shape.
    """

    rows: tuple[LifeRow, ...]
    events: tuple[Any, ...] = ()
    findings: tuple[Finding, ...] = ()
    set_aside: tuple[SetAside, ...] = ()
    readings: tuple[Reading, ...] = ()
    sources: tuple[SourceFile, ...] = ()
    serials: tuple[str, ...] = ()
    factors: tuple[Factor, ...] = ()
    merged: Merged | None = None
    hours_carried: float = 0.0
    trouble: tuple[Hinted, ...] = ()
    mended: tuple[Mended, ...] = ()

    _not_in_dict = ("rows", "events", "trouble", "mended")

    def to_frame(self) -> pd.DataFrame:
        """Return the lives as read, one row each, with the file and row that each stands on."""
        import pandas as pd

        names = [f.name for f in fields(LifeRow) if f.name not in NOT_SHOWN]
        table = {n: [getattr(x, n) for x in self.rows] for n in names}
        file, row = [str(x.origin.file) for x in self.rows], [x.origin.row for x in self.rows]
        return pd.DataFrame({"file": file, "row": row, **table})

    def __repr__(self) -> str:
        n = sum(r.n_read for r in self.readings)
        return (
            f"Records: {n} rows of {len(self.readings)} files, {len(self.rows)} lives, "
            f"{len(self.findings)} findings"
        )
