"""The audit: everything odd in the records, what is done about it, and what became of each row."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from fleetstats.core.gate import an, gate
from fleetstats.core.pause import collection_paused
from fleetstats.core.value import changed
from fleetstats.records.audit.audit_categories import audit_categories
from fleetstats.records.audit.audit_dates import audit_dates
from fleetstats.records.audit.audit_fleet import (
    audit_built,
    audit_causes,
    audit_covariates,
    audit_heaps,
    audit_meters,
    audit_undated,
    misspelt_causes,
)
from fleetstats.records.audit.audit_pairs import Mark, audit_pairs
from fleetstats.records.audit.audit_trouble import audit_trouble
from fleetstats.records.audit.copied import copy_findings
from fleetstats.records.audit.far_lives import far_findings
from fleetstats.records.audit.finding import Audit, FileAccount, by_head
from fleetstats.records.audit.near_names import alike_findings, slip_findings
from fleetstats.records.life import LifeRow
from fleetstats.records.reading import Reading, Records
from fleetstats.records.set_aside import SetAside
from fleetstats.records.spelling import spell_alike
from fleetstats.study.settings import Settings
from fleetstats.study.study import STUDY, Study
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.findings import LIFE_FINDINGS
from fleetstats.vocabulary.fold import fold

RECORDS = an(Records, "Read them by fs.read_records(study).")


NO_LIFE = "not-part-of-a-life"
"""Reason of a line that no life was made from and that no finding speaks of."""


TWICE = ("duplicate-row", "duplicate-life")
"""Reasons of rows for which another row, the finding's first related one, stands."""


@collection_paused()
@gate(study=STUDY, records=RECORDS)
def audit_records(study: Study, records: Records) -> Audit:
    """Audit records: collect every finding, decide what is done, and account for every row.

    Parameters
    ----------
    study : Study
        Its ``[treat]`` says what is done about a kind of finding; an error stops the study where
        it is silent.
    records : Records
        What the readers made of the files.

    Returns
    -------
    Audit
        `ok` is false while a finding stops the study. For each file, rows read are rows used plus
        rows set aside.

    Examples
    --------
    >>> import fleetstats as fs
    >>> study = fs.read_study("datasets/quiet-fleet")
    >>> print(fs.audit_records(study, fs.read_records(study)))
    260 rows read = 260 used + 0 set aside; 0 errors, 0 warnings, 0 notes
      fleet.csv: 260 = 260 + 0
    """
    settings = study.settings
    lives = records.rows
    place = {(x.origin.file, x.origin.sheet, x.origin.row): i for i, x in enumerate(lives)}
    marks: list[Mark] = [
        (f, place.get((f.file, f.sheet, f.row), -1) if f.code in LIFE_FINDINGS else -1)
        for f in records.findings
    ]
    for i, x in enumerate(lives):
        marks += [(f, i) for f in audit_dates(x, settings)]
    marks += audit_trouble(records, lives, settings)
    marks += _of_the_whole(study, records)
    heads = {(r.file, r.sheet): r.heads for r in records.readings}
    marks = [(_decide(by_head(f, heads.get((f.file, f.sheet), {})), settings), i) for f, i in marks]
    out: dict[int, Finding] = {}
    for f, i in marks:
        if i >= 0 and f.action != "accept":
            out.setdefault(i, f)
    _whole_rows(lives, out)
    slips = misspelt_causes(lives, study)
    mended = [
        changed(x, cause=slips[fold(x.cause)]) if slips and fold(x.cause) in slips else x
        for i, x in enumerate(lives)
        if i not in out
    ]
    used = spell_alike(mended, study)
    aside = [*records.set_aside, *_rows_of(lives, out)]
    accounts, listed = _account(records.readings, used, aside)
    order = {r.file: n for n, r in enumerate(records.readings)}
    found = sorted(
        (f for f, _ in marks),
        key=lambda f: (order.get(f.file, len(order)), f.sheet, f.row or 0),
    )
    return Audit(findings=tuple(found), accounts=accounts, set_aside=listed, used=used)


def _of_the_whole(study: Study, records: Records) -> list[Mark]:
    """Return what lives say against each other, and the records as a whole."""
    lives, settings = records.rows, study.settings
    marks: list[Mark] = [*audit_pairs(lives)]
    marks += far_findings(lives, settings)
    marks += alike_findings(lives)
    marks += slip_findings(lives, records.readings)
    marks += copy_findings(lives, settings)
    marks += audit_causes(lives, study)
    marks += [(f, -1) for f in audit_meters(lives, settings)]
    marks += [(f, -1) for f in audit_heaps(lives, settings)]
    marks += [(f, -1) for f in audit_undated(lives)]
    marks += [(f, -1) for f in audit_covariates(lives, settings)]
    marks += [(f, -1) for f in audit_categories(lives, settings)]
    marks += audit_built(records, lives, settings)
    return marks


def _decide(f: Finding, settings: Settings) -> Finding:
    """Give a finding its action: the study's choice for its kind, else the kind's own."""
    kind = LIFE_FINDINGS.get(f.code)
    if kind is None:
        return f
    action = settings.treat.actions.get(f.code, kind.usual)
    return f if action == f.action else changed(f, action=action)


def _whole_rows(lives: Sequence[LifeRow], out: dict[int, Finding]) -> None:
    """Add to the lives that are set aside those that the same single row tells of."""
    gone = {lives[i].lines: f for i, f in reversed(out.items()) if len(lives[i].lines) == 1}
    if not gone:
        return
    for i, x in enumerate(lives):
        if len(x.rows) + len(x.elsewhere) == 1 and x.lines in gone:
            out.setdefault(i, gone[x.lines])


def _rows_of(lives: Sequence[LifeRow], out: dict[int, Finding]) -> list[SetAside]:
    return [
        SetAside(
            file=file,
            sheet=sheet,
            row=n,
            reason=f.code,
            message=f.message,
            engine=lives[i].engine,
            source=lives[i].source,
            into=f.related[0] if f.code in TWICE and f.related else "",
        )
        for i, f in out.items()
        for file, sheet, n in lives[i].lines
    ]


def _account(
    readings: Sequence[Reading], used: Sequence[LifeRow], aside: Sequence[SetAside]
) -> tuple[tuple[FileAccount, ...], tuple[SetAside, ...]]:
    """Sort every line of every file into used or set aside; a line of a used life is used."""
    lines_used: dict[tuple[str, str], set[int]] = {}
    for x in used:
        at = x.origin
        lines_used.setdefault((at.file, at.sheet), set()).update(x.rows)
        for o in x.elsewhere:
            lines_used.setdefault((o.file, o.sheet), set()).add(o.row or 0)
    reasons: dict[tuple[str, str], dict[int, SetAside]] = {}
    for s in aside:
        reasons.setdefault((s.file, s.sheet), {}).setdefault(s.row, s)
    accounts: list[FileAccount] = []
    listed: list[SetAside] = []
    for r in readings:
        kept = lines_used.get((r.file, r.sheet), set())
        why = reasons.get((r.file, r.sheet), {})
        out = []
        for n in r.lines:
            if n not in kept:
                blank = SetAside(file=r.file, sheet=r.sheet, row=n, reason=NO_LIFE,
                                 source=r.source)  # fmt: skip
                out.append(why.get(n, blank))
        listed += out
        accounts.append(
            FileAccount(
                file=r.file,
                sheet=r.sheet,
                source=r.source,
                shape=r.shape,
                n_read=r.n_read,
                n_used=len(kept.intersection(r.lines)),
                n_set_aside=len(out),
                n_blank=r.n_blank,
                reasons=dict(Counter(s.reason for s in out)),
            )
        )
    return tuple(accounts), tuple(listed)
