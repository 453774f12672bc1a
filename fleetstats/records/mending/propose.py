"""What may be mended in a study: each finding with its cell, the reason, and a plain value.

The one list that a workbook and a page show.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fleetstats.core.gate import gate
from fleetstats.core.value import Value, value
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.audit.audit_fleet import misspelt_causes
from fleetstats.records.audit.finding import Audit
from fleetstats.records.condition.condition import read_condition
from fleetstats.records.life import LifeRow
from fleetstats.records.mending.plain import near_meter, near_word, plain_date, plain_number
from fleetstats.records.mending.supplied import Supplied, open_supplied
from fleetstats.records.mends.cells import DATE, NUMBER
from fleetstats.records.readers import read_records
from fleetstats.records.reading import Records
from fleetstats.study.study import STUDY, Study
from fleetstats.tables.cells import text
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.findings.entry import SEVERITIES
from fleetstats.vocabulary.fold import fold

DECIDED = ("mended-aside", "mend-refused")
"""Kinds of findings that tell of a decision made, so that none is asked for."""

ALIKE = "ids-alike"

UNREAD = ("unreadable", "unread", "date-ambiguous", "date-impossible", "cell-left-out")
"""How the codes of findings end that tell of a cell which could not be read."""

WORDS = ("ending-unknown", "log-kind-unknown")


@value
class Proposal(Value):
    """A finding about which something may be decided.

    Parameters
    ----------
    file, sheet, digest : str
        The record file, its sheet, and its SHA-256; blank where it could not be read.
    row : int
        Line in the file; 0 where the finding is of a whole file, about which the study file
        decides and nothing is mended.
    column : str
        Name of the column; blank where the row as a whole is concerned: it may be set aside.
    engine, value : str
        The engine of the row, and the cell as supplied.
    severity, code, reason, cure, action : str
        The finding, and what is done about it as things stand.
    proposed : str
        A plain value; blank where there is none.
    """

    file: str
    digest: str
    row: int
    severity: str
    code: str
    reason: str
    sheet: str = ""
    column: str = ""
    engine: str = ""
    value: str = ""
    cure: str = ""
    action: str = "accept"
    proposed: str = ""


@gate(study=STUDY)
def propose_mends(study: Study) -> tuple[Proposal, ...]:
    """Return everything odd in a study's records, worst first, with what may be read instead.

    Parameters
    ----------
    study : Study
        As read by `read_study`; what was decided before is in its records.

    Returns
    -------
    tuple of Proposal
        One for each odd cell or row, with a plain value where there is one; empty where nothing is
        odd.

    Raises
    ------
    ReadError
        If the study's table of mends is none.

    Examples
    --------
    >>> import fleetstats as fs
    >>> fs.propose_mends(fs.read_study("datasets/quiet-fleet"))
    ()
    """
    return propose_of(study, open_supplied(study))


def propose_of(study: Study, supplied: Mapping[tuple[str, str], Supplied]) -> tuple[Proposal, ...]:
    """Return what `propose_mends` does, of tables that are at hand."""
    records = read_records(study)
    return propose_from(study, supplied, records, audit_records(study, records))


def propose_from(
    study: Study, supplied: Mapping[tuple[str, str], Supplied], records: Records, audit: Audit
) -> tuple[Proposal, ...]:
    """Return what `propose_mends` does, of records that are read and audited."""
    findings = [*audit.findings, *read_condition(study, audit.used).findings]
    lives = {str(x.origin): x for x in records.rows}
    causes = misspelt_causes(records.rows, study)
    found: dict[tuple[str, ...], Proposal] = {}
    for f in findings:
        if f.code in DECIDED or not f.file:
            continue
        f, twin = _digits_last(f, lives)
        p = _proposal(f, supplied.get((f.file, f.sheet)), twin, causes)
        found.setdefault((p.file, p.sheet, str(p.row), p.column, p.code), p)
    order = {f.file: i for i, f in enumerate(study.files)}
    return tuple(
        sorted(
            found.values(),
            key=lambda p: (SEVERITIES.index(p.severity), order.get(p.file, 0), p.sheet, p.row),
        )
    )


def _digits_last(f: Finding, lives: Mapping[str, LifeRow]) -> tuple[Finding, str]:
    """Return a finding on ids that look alike at the row with fewer digits, and the other's id.

    A letter in place of a digit is the usual slip, so the id with more digits is proposed.
    """
    other = lives.get(f.related[0]) if f.code == ALIKE and f.related else None
    if other is None:
        return f, ""
    if sum(map(str.isdigit, f.engine)) <= sum(map(str.isdigit, other.engine)):
        return f, other.engine
    at = other.origin
    moved = replace(f, file=at.file, sheet=at.sheet, row=at.row, engine=other.engine)
    return moved, f.engine


def _proposal(f: Finding, of: Supplied | None, twin: str, causes: Mapping[str, str]) -> Proposal:
    raw = None if of is None or f.row is None else of.rows.get(f.row)
    at = None if of is None or raw is None or not f.column else of.position(f.column)
    shown = "" if raw is None or at is None else text(raw.cells[at])
    proposed = ""
    if of is not None and at is not None and shown:
        proposed = _plain(f, shown, of.kinds.get(at, ""), of.file.shape, twin, causes)
    return Proposal(
        file=f.file,
        sheet=f.sheet,
        digest="" if of is None else of.digest,
        row=0 if raw is None else raw.row,
        column="" if of is None or at is None else of.name(at),
        engine=f.engine,
        value=shown or f.value,
        severity=f.severity,
        code=f.code,
        reason=f.message,
        cure=f.advice,
        action=f.action,
        proposed="" if proposed == shown else proposed,
    )


def _plain(
    f: Finding, shown: str, kind: str, shape: str, twin: str, causes: Mapping[str, str]
) -> str:
    """Return the plain value of a cell that a finding is about."""
    if f.code == ALIKE:
        return twin
    if f.code == "cause-misspelt":
        return causes.get(fold(shown), "")
    if f.code in WORDS:
        return near_word(shown, shape)
    if f.code == "meter-unknown":
        return near_meter(shown)
    if not f.code.endswith(UNREAD):  # what was read is odd for what it says, not how it is written
        return ""
    if kind == NUMBER:
        return plain_number(shown)
    return plain_date(shown) if kind == DATE else ""
