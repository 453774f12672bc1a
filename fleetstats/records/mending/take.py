"""Decisions about odd cells become mends: all of them, or none where one cannot be.

The supplied files are not touched. A decision that stands already is not written again.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence

from fleetstats.core.errors import RecordError
from fleetstats.core.files import alone_in
from fleetstats.core.gate import TABLE, gate
from fleetstats.core.value import Value, value
from fleetstats.records.mending.plain import plain_date, plain_number
from fleetstats.records.mending.supplied import Supplied, open_supplied
from fleetstats.records.mends.cells import DATE, NUMBER
from fleetstats.records.mends.log import MOST_MENDS, added_to, read_mends, write_mends
from fleetstats.records.mends.mend import ASIDE, VALUE, Mend
from fleetstats.study.study import MENDS_FILE, STUDY, Study
from fleetstats.tables.cells import exact_text, text

TAKE, GIVE, SET_ASIDE, LEAVE = "take it", "give another", "set aside", "leave"
CHOICES: Mapping[str, str] = {
    TAKE: "the proposed value is read in place of the cell",
    GIVE: "the other value is read in place of the cell",
    SET_ASIDE: "the whole row is set aside, with the reason",
    LEAVE: "nothing is changed",
}
"""What may be decided about a cell, in words."""

MOST_TEXT = 500
"""Longest value, reason or role, in characters."""

TOLD = 20
"""Problems told at once."""


@value
class Decision(Value):
    """What somebody decided about one finding.

    Parameters
    ----------
    file, sheet, row, column : str, str, int, str
        The cell, as a proposal names it; without a column only the row can be set aside.
    act : str
        One of `CHOICES`.
    new : str
        What is to be read: the proposed value, or another.
    why, by : str
        The reason, and the role of who decides.
    old : str or None
        The cell as it was seen when the decision was made; None does not compare.
    digest : str
        SHA-256 of the file that was seen; blank does not compare.
    place : str
        Where the decision stands, for messages.
    """

    file: str
    row: int
    act: str
    sheet: str = ""
    column: str = ""
    new: str = ""
    why: str = ""
    by: str = ""
    old: str | None = None
    digest: str = ""
    place: str = ""


@value
class MendsTaken(Value):
    """What became of decisions: mends written, those that stood already, and cells left."""

    written: tuple[Mend, ...]
    again: int = 0
    left: int = 0

    def __str__(self) -> str:
        """Return it in a line for a person."""
        n, again, left = len(self.written), self.again, self.left
        return (
            f"{n} mend{'' if n == 1 else 's'} written to {MENDS_FILE}; {again} stood there "
            f"already; {left} left as {'it is' if left == 1 else 'they are'}."
        )


@gate(study=STUDY, supplied=TABLE.or_none)
def take_mends(
    study: Study,
    decisions: Iterable[Decision],
    *,
    today: dt.date | None = None,
    supplied: Mapping[tuple[str, str], Supplied] | None = None,
) -> MendsTaken:
    """Write decisions into a study's mends, which are applied whenever its records are read.

    Parameters
    ----------
    study : Study
        As read by `read_study`.
    decisions : iterable of Decision
        Those that leave a cell, and those that stand already, change nothing.
    today : date, optional
        Day to write; by default the clock's, in universal time.
    supplied : mapping of (file, sheet) to Supplied, optional
        The study's tables, where they are open; else they are opened.

    Returns
    -------
    MendsTaken

    Raises
    ------
    RecordError
        If one of them cannot be: its cell is not there or is another by now, a value, the reason
        or the role is missing, or a cell is decided in two ways. All are named and none is written.
    ReadError
        If the mends cannot be read or written.

    Examples
    --------
    >>> import fleetstats as fs
    >>> print(fs.take_mends(fs.read_study("datasets/quiet-fleet"), ()))
    0 mends written to mends.csv; 0 stood there already; 0 left as they are.
    """
    with alone_in(study.folder):
        return take_held(study, decisions, today=today, supplied=supplied)


def take_held(
    study: Study,
    decisions: Iterable[Decision],
    *,
    today: dt.date | None = None,
    supplied: Mapping[tuple[str, str], Supplied] | None = None,
) -> MendsTaken:
    """Do what `take_mends` does in a folder that the caller holds (`core.files.alone_in`)."""
    every = tuple(decisions)
    asked = [d for d in every if d.act != LEAVE]
    day = (today or dt.datetime.now(dt.UTC).date()).isoformat()
    log = read_mends(study)
    if supplied is None:
        supplied = open_supplied(study) if asked else {}
    mends, wrong = _mends(asked, supplied, day)
    if len(log.mends) + len(mends) > MOST_MENDS:
        wrong.append(f"{MENDS_FILE} would have more than {MOST_MENDS:,} lines.")
    if wrong:
        more = [f"… and {len(wrong) - TOLD} more"] if len(wrong) > TOLD else []
        raise RecordError(
            "Nothing was taken; to be put right first:\n  " + "\n  ".join([*wrong[:TOLD], *more])
        )
    held = {m.place: m for m in log.holding}
    new = [m for m in mends if not _holds(held.get(m.place), m)]
    whole = added_to(log, new)
    if new:
        write_mends(study.folder, whole.mends)
    written = whole.mends[len(log.mends) :]
    return MendsTaken(written=written, again=len(mends) - len(new), left=len(every) - len(asked))


def _holds(held: Mend | None, m: Mend) -> bool:
    return held is not None and (held.new, held.digest) == (m.new, m.digest)


def _mends(
    asked: Sequence[Decision], supplied: Mapping[tuple[str, str], Supplied], day: str
) -> tuple[list[Mend], list[str]]:
    """Return the mends of decisions, each place once, and what is wrong with them."""
    found: dict[tuple[str, str, int, str], Mend] = {}
    wrong: list[str] = []
    for d in asked:
        m = _mend(d, supplied.get((d.file, d.sheet)), day)
        if isinstance(m, str):
            wrong.append(f"{_where(d)}: {m}")
            continue
        other = found.setdefault(m.place, m)
        if other.new != m.new:
            wrong.append(
                f"{_where(d)}: column '{m.column}', value '{m.new}': the same cell is given "
                f"'{other.new}' by another line. Decide it once, and leave the other."
            )
    return list(found.values()), wrong


def _where(d: Decision) -> str:
    sheet = f" [{d.sheet}]" if d.sheet else ""
    own = f"{d.file}{sheet} row {d.row}"
    return f"{d.place} ({own})" if d.place else own


def _mend(d: Decision, of: Supplied | None, day: str) -> Mend | str:
    """Return the mend of a decision, or what is wrong with it."""
    if d.act not in CHOICES:
        return f"decision '{d.act[:40]}' is none of {', '.join(CHOICES)}."
    if of is None:
        return f"the study has no readable record file '{d.file[:80]}' with that sheet."
    if d.digest and d.digest != of.digest:
        return (
            f"the file has changed since (SHA-256 {d.digest[:12]} was seen, {of.digest[:12]} is "
            "there). Write the workbook anew with 'check --out'."
        )
    raw = of.rows.get(d.row)
    if raw is None:
        return "decides about no row of the table. What concerns a whole file stands in study.toml."
    at = of.position(d.column) if d.column else None
    if d.column and at is None:
        return f"column '{d.column[:60]}' is not in the file, or stands there twice."
    stands = "" if at is None else exact_text(raw.cells[at])
    seen = () if at is None else (stands, text(raw.cells[at]))  # a proposal shows fewer digits
    if d.old is not None and at is not None and text(d.old) not in seen:
        return f"column '{d.column}': '{text(d.old)[:60]}' was seen, '{stands[:60]}' stands there."
    new, why, by = (text(x)[:MOST_TEXT] for x in (d.new, d.why, d.by))
    if at is not None:
        new = settled(new, of.kinds.get(at, ""))
    lacking = _lacking(d, at, stands, new, why, by)
    if lacking:
        return lacking
    aside = d.act == SET_ASIDE
    return Mend(
        file=d.file, digest=of.digest, sheet=d.sheet, row=d.row,
        column="" if at is None else of.name(at), act=ASIDE if aside else VALUE, old=stands,
        new="" if aside else new, why=why, by=by, when=day,
    )  # fmt: skip


def settled(new: str, kind: str) -> str:
    """Return a value as mends write it: a number with a point, a day as year-month-day.

    What can be read in two ways, or is no such thing, stays as it was typed.
    """
    if kind == NUMBER:
        return plain_number(new) or new
    return plain_date(new) or new if kind == DATE else new


def _lacking(d: Decision, at: int | None, stands: str, new: str, why: str, by: str) -> str:
    """Return what a decision lacks; blank where it is complete."""
    if d.act != SET_ASIDE:
        if at is None:
            return f"'{d.act}' needs a column; a row without one can only be set aside or left."
        if not new:
            which = "no value is proposed; use 'give another'" if d.act == TAKE else (
                "the other value is empty; 'unknown' says that nobody knows it")  # fmt: skip
            return f"column '{d.column}': {which}."
        if new == stands:
            return f"column '{d.column}': '{new[:60]}' is what stands there; leave it."
    if not why:
        return "the reason is empty; say why, since the report prints it."
    return "" if by else "the role of who decides is empty, as 'records keeper'; no name is wanted."
