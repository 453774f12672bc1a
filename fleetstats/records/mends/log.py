"""The mends of a study: a table of its own beside the study file, one line to each decision.

Nothing in the supplied files is changed. A line is undone by taking it out of the table.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from fleetstats.core.errors import ReadError
from fleetstats.core.files import alone_in, write_whole
from fleetstats.core.provenance import SourceFile
from fleetstats.core.value import Value, value
from fleetstats.records.mends.mend import ASIDE, VALUE, Mend
from fleetstats.study.study import MENDS_FILE, Study

HEAD = ("file", "digest", "sheet", "row", "column", "act", "old", "new", "why", "by", "when")
MOST_BYTES = 2**25
MOST_MENDS = 100_000
"""Lines past which a file is better corrected by who supplied it."""

PROBLEMS_TOLD = 10


@value
class MendLog(Value):
    """The mends of a study, in the order in which they were decided.

    `source` names the table with its digest; None where the study has none.
    """

    mends: tuple[Mend, ...] = ()
    source: SourceFile | None = None

    @property
    def holding(self) -> tuple[Mend, ...]:
        """Return those that hold: of several of one cell the last."""
        return tuple({m.place: m for m in self.mends}.values())


def read_mends(study: Study) -> MendLog:
    """Read the mends of a study; there are none where it has no such table.

    Raises
    ------
    ReadError
        If the table is no table of mends; every line that is wrong is named.
    """
    path = study.folder / MENDS_FILE
    if path.is_symlink():
        raise ReadError(f"{MENDS_FILE} is a link.", "Put the table itself into the study's folder.")
    if not path.is_file():
        return MendLog()
    if any(f.file.replace("\\", "/") == MENDS_FILE for f in study.files):
        raise ReadError(
            f"The study names '{MENDS_FILE}' as a record file, and that name is kept for mends.",
            "Give the record file another name.",
        )
    try:
        if path.stat().st_size > MOST_BYTES:
            raise ReadError(f"{MENDS_FILE} is too large.", f"At most {MOST_BYTES:,} bytes.")
        data = path.read_bytes()
    except OSError as error:
        raise ReadError(f"{MENDS_FILE} cannot be read ({error.strerror}).") from None
    mends = mends_in(data)
    digest = hashlib.sha256(data).hexdigest()
    source = SourceFile(name=MENDS_FILE, size_bytes=len(data), sha256=digest, rows=len(mends))
    return MendLog(mends=mends, source=source)


def mends_in(data: bytes) -> tuple[Mend, ...]:
    """Return the mends that a table holds.

    Raises
    ------
    ReadError
        If it is no such table.
    """
    try:
        text = data.decode("utf-8-sig")
        lines = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    except (UnicodeDecodeError, csv.Error) as error:
        raise ReadError(
            f"{MENDS_FILE} is no table of mends ({str(error)[:80]}).", "It is CSV in UTF-8."
        ) from None
    if not lines or tuple(lines[0]) != HEAD:
        raise ReadError(f"{MENDS_FILE} row 1: the columns must be {', '.join(HEAD)}.")
    if len(lines) > MOST_MENDS + 1:
        raise ReadError(f"{MENDS_FILE} has {len(lines) - 1:,} lines.", f"At most {MOST_MENDS:,}.")
    out: list[Mend] = []
    wrong: list[str] = []
    for n, cells in enumerate(lines[1:], start=2):
        if not any(cells):
            continue
        found = _problem(cells)
        if found:
            wrong.append(f"{MENDS_FILE} row {n}: {found}")
            continue
        told = dict(zip(HEAD, cells, strict=True))
        line = int(told.pop("row"))
        out.append(Mend(row=line, number=len(out) + 1, **told))
    if wrong:
        more = f"\n  … and {len(wrong) - PROBLEMS_TOLD} more" if len(wrong) > PROBLEMS_TOLD else ""
        raise ReadError(
            f"{len(wrong)} lines of {MENDS_FILE} cannot be applied:\n  "
            + "\n  ".join(wrong[:PROBLEMS_TOLD]) + more,
            "Correct the line or take it out; nothing else undoes it.",
        )  # fmt: skip
    return tuple(out)


def _problem(cells: Sequence[str]) -> str:
    """Return what is wrong with a line; blank where nothing is."""
    if len(cells) != len(HEAD):
        return f"{len(cells)} cells stand where {len(HEAD)} should be."
    told = dict(zip(HEAD, cells, strict=True))
    if not re.fullmatch(r"[0-9a-f]{64}", told["digest"]):
        return f"column 'digest': '{told['digest'][:20]}' is no SHA-256 of a file."
    if not re.fullmatch(r"[1-9][0-9]{0,8}", told["row"]):
        return f"column 'row': '{told['row'][:20]}' is no number of a row."
    if told["act"] not in (VALUE, ASIDE):
        return f"column 'act': '{told['act'][:20]}' is neither '{VALUE}' nor '{ASIDE}'."
    if told["act"] == VALUE and not told["column"]:
        return "column 'column': a value needs the column in which it stands."
    if told["act"] == VALUE and not told["new"].strip():
        return "column 'new': a value is missing; 'unknown' says that nobody knows it."
    for name in ("why", "by"):
        if not told[name].strip():
            return f"column '{name}': is empty; a mend names its reason and who decided."
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", told["when"]):
        return f"column 'when': '{told['when'][:20]}' is no day, as 2026-03-31."
    return ""


def write_mends(folder: Path, mends: Iterable[Mend]) -> None:
    """Write the table whole; without a mend it is taken away.

    Raises
    ------
    ReadError
        If the folder cannot be written to.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEAD)
    lines = [[str(getattr(m, n)) for n in HEAD] for m in mends]
    writer.writerows(lines)
    try:
        if lines:
            write_whole(folder / MENDS_FILE, out.getvalue())
        else:
            (folder / MENDS_FILE).unlink(missing_ok=True)
    except OSError as error:
        raise ReadError(f"{MENDS_FILE} cannot be written ({error.strerror}).") from None


def remove_mend(study: Study, number: int) -> Mend:
    """Take one line out of a study's mends and return it; the supplied cell holds again.

    Raises
    ------
    ReadError
        If there is no line of that number.
    """
    with alone_in(study.folder):
        return remove_held(study, number)


def remove_held(study: Study, number: int) -> Mend:
    """Do what `remove_mend` does in a folder that the caller holds."""
    log = read_mends(study)
    if not 1 <= number <= len(log.mends):
        n = len(log.mends)
        raise ReadError(
            f"There is no mend {number}: {MENDS_FILE} holds {n or 'none'}.",
            f"They are numbered from 1 to {n}." if n else "",
        )
    write_mends(study.folder, (m for m in log.mends if m.number != number))
    return log.mends[number - 1]


def added_to(log: MendLog, new: Iterable[Mend]) -> MendLog:
    """Return the mends with further ones after them, numbered on."""
    every = [*log.mends, *new]
    numbered = tuple(replace(m, number=i) for i, m in enumerate(every, start=1))
    return MendLog(mends=numbered, source=log.source)
