"""The limits of every reader: how much a file from a stranger may ask of this machine.

They are set well above what honest records need, so that only what is out of proportion is refused.
Each has its value here and nowhere else, with what it counts and why it stands where it does.
(`vocabulary/limits.py` holds the thresholds of statistical rules.)
"""

from __future__ import annotations

from dataclasses import dataclass

MIB = 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingLimit:
    """One limit of a reader.

    Parameters
    ----------
    value : int
        The most that is read.
    unit : str
        What is counted; ``"bytes"`` is shown in MiB.
    reason : str
        Why no honest file comes near, and what a larger one would cost.
    """

    value: int
    unit: str
    reason: str

    def __str__(self) -> str:
        if self.unit == "bytes":
            return (
                f"{self.value // MIB:,} MiB" if self.value >= MIB else f"{self.value // 1024} kiB"
            )
        return f"{self.value:,} {self.unit}"


_TEXT = 131_072
_DEPTH = 64

LIMITS: dict[str, ReadingLimit] = {
    "table_bytes": ReadingLimit(
        value=256 * MIB, unit="bytes",
        reason="A record file read whole; a million lives take less, and longer tables of lives "
        "are read by chunks.",
    ),
    "rows": ReadingLimit(
        value=1_000_000, unit="rows", reason="Of a table read whole; there are no larger fleets.",
    ),
    "columns": ReadingLimit(
        value=500, unit="columns", reason="No list of engines has more; a wrong delimiter has.",
    ),
    "cells": ReadingLimit(
        value=20_000_000, unit="cells", reason="Of a table read whole: about 2 GB of memory.",
    ),
    "chunked_rows": ReadingLimit(
        value=200_000_000, unit="rows",
        reason="Of a table read by chunks: seven times the largest that was tried.",
    ),
    "pattern_files": ReadingLimit(
        value=4_096, unit="files",
        reason="That one pattern of a study means: a file for every working day of sixteen years.",
    ),
    "drawn_bytes": ReadingLimit(
        value=32 * 1024 * MIB, unit="bytes",
        reason="Drawn from one URL: more than the rows that are read by chunks take as text.",
    ),
    "cell_text": ReadingLimit(
        value=_TEXT, unit="characters",
        reason="One cell or text; a workbook's own limit is 32,767. What follows the first 2,000 "
        "is cut with a finding.",
    ),
    "line_bytes": ReadingLimit(
        value=8 * MIB, unit="bytes",
        reason="One line of a delimited text; 500 columns of 2,000 characters take 1 MiB.",
    ),
    "line_cells": ReadingLimit(
        value=20_000, unit="cells",
        reason="In one line of a delimited text: forty times the columns that a table may have.",
    ),
    "sheet_cells": ReadingLimit(
        value=5_000_000, unit="cells",
        reason="Of a workbook's sheets together, and of the used area of one; each takes 100 to "
        "200 bytes of memory while it is read.",
    ),
    "merged_cells": ReadingLimit(
        value=200_000, unit="cells",
        reason="Under merged areas and links together: each becomes a cell of its own, so that "
        "6 kB of areas over the whole sheet took 1.1 GB.",
    ),
    "formula_text": ReadingLimit(
        value=64 * MIB, unit="characters",
        reason="Of formulas once those that cells share are written out for each.",
    ),
    "workbook_bytes": ReadingLimit(
        value=512 * MIB, unit="bytes", reason="A workbook once unpacked.",
    ),
    "workbook_members": ReadingLimit(
        value=2_000, unit="members", reason="Parts of a workbook; a sheet has a handful.",
    ),
    "workbook_elements": ReadingLimit(
        value=500_000, unit="elements",
        reason="Of XML in one part of a workbook, those of cells and shared texts aside.",
    ),
    "ratio": ReadingLimit(
        value=400, unit="times",
        reason="A member of an archive above 1 MiB over its packed size; tables and pages stay "
        "below 50, bombs reach 1,000.",
    ),
    "directory_bytes": ReadingLimit(
        value=4 * MIB, unit="bytes",
        reason="An archive's table of members, which is read before anything else is known.",
    ),
    "parquet_bytes": ReadingLimit(
        value=1024 * MIB, unit="bytes",
        reason="Columns of a Parquet file unpacked, as its own metadata state them: of the whole "
        "file where it is read whole, of one group of rows where it is read by chunks.",
    ),
    "parquet_text": ReadingLimit(
        value=1024 * MIB, unit="bytes",
        reason="Texts of a Parquet table, or of one chunk of it, with every repetition written "
        "out: counted on the dictionary before it is expanded. A million rows of 20 columns of "
        "50 letters.",
    ),
    "depth": ReadingLimit(
        value=_DEPTH, unit="levels", reason="Nesting of JSON, TOML or XML; ours go down 12.",
    ),
    "digits": ReadingLimit(
        value=300, unit="digits",
        reason="Of one whole number; the largest that a decimal can hold has 309.",
    ),
    "study_bytes": ReadingLimit(
        value=MIB, unit="bytes", reason="A study file; the fullest of ours has 12 kB.",
    ),
    "study_dots": ReadingLimit(
        value=200, unit="dots",
        reason="In one line of a study file: the time to read a dotted key grows with its square.",
    ),
    "study_files": ReadingLimit(
        value=500, unit="record files", reason="Named by one study file.",
    ),
    "history_bytes": ReadingLimit(
        value=32 * MIB, unit="bytes", reason="The ledger of looks; ten thousand looks take less.",
    ),
    "kept_bytes": ReadingLimit(
        value=MIB, unit="bytes", reason="What a portfolio keeps of one family.",
    ),
    "key_bytes": ReadingLimit(
        value=65_536, unit="bytes", reason="A key file; the longest in use have 10 kB.",
    ),
    "bundle_bytes": ReadingLimit(
        value=512 * MIB, unit="bytes",
        reason="A bundle, packed or unpacked; a study's report is some megabytes.",
    ),
    "bundle_members": ReadingLimit(
        value=5_000, unit="members", reason="Ours have about 150.",
    ),
    "bundle_name": ReadingLimit(
        value=240, unit="characters", reason="A member's name; systems end at 255.",
    ),
    "json_bytes": ReadingLimit(
        value=64 * MIB, unit="bytes", reason="A bundle's list, or results; ours have 1 MiB.",
    ),
    "verify_memory": ReadingLimit(
        value=4096 * MIB,
        unit="bytes",
        reason="Address space of the process that verifies a bundle: our demos take 700 MiB, and "
        "libraries reserve more on a machine of many processors.",
    ),
    "verify_seconds": ReadingLimit(
        value=600, unit="seconds",
        reason="Processor time and time by the clock of verifying; our demos take below 20.",
    ),
}  # fmt: skip
"""Name of a limit: its value, what it counts and why. The one place of each."""


def most(name: str) -> int:
    """Return the value of a limit.

    Parameters
    ----------
    name : str
        A key of `LIMITS`.
    """
    return LIMITS[name].value


def above(found: int, name: str) -> str:
    """Return "" where a limit is kept, else what was found and what the limit is, as a clause.

    Examples
    --------
    >>> from fleetstats.core.limits import above
    >>> above(65, "depth"), above(64, "depth")
    ('65 levels, and the limit is 64 levels', '')
    """
    limit = LIMITS[name]
    if found <= limit.value:
        return ""
    in_mib = limit.unit == "bytes" and found >= max(1.1 * limit.value, MIB)
    shown = f"{found / MIB:,.1f} MiB" if in_mib else f"{found:,} {limit.unit}"
    return f"{shown}, and the limit is {limit}"
