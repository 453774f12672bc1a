"""Audit of rows that may tell of a failure and do not say so, lives and logs alike.

A running or plainly removed engine with an internal cause, or with a filled column such as "failed
at", stops the study until it is said what the row is. Words of trouble in a note, or in a column
that is not used, are named.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fleetstats.records.audit.audit_pairs import Mark
from fleetstats.records.life import LifeRow
from fleetstats.records.reading import Records
from fleetstats.records.rules import internal_cause, judge_ending
from fleetstats.records.trouble.hinted import Hinted
from fleetstats.records.trouble.scan import STAYED
from fleetstats.study.settings import Settings
from fleetstats.vocabulary.endings import FAILING_ENDINGS
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.trouble import FAILURE, hint_of
from fleetstats.vocabulary.unknown import cause_known
from fleetstats.vocabulary.wording import listed

UNTOLD = {
    "running": "failure-or-not/running",
    "removed": "failure-or-not/removed",
    "column": "failure-or-not/column",
}
"""The finding on a row that does not say whether it tells of a failure, by its case."""

PLAIN_ENDS = ("removed", "retired")
"""Endings and kinds of event of an engine that was taken out with nothing said of a failure."""

PLANNED_ENDS = ("planned-overhaul", "overhauled", "modified")
"""Those that say why it was taken out; a cause that names a failure contradicts them."""


def audit_trouble(records: Records, lives: Sequence[LifeRow], settings: Settings) -> Iterator[Mark]:
    """Yield rows that hint at a failure and are not read as one."""
    on: dict[tuple[str, str, int], list[int]] = {}
    for i, x in enumerate(lives):
        for n in x.rows or (x.origin.row or 0,):
            on.setdefault((x.origin.file, x.origin.sheet, n), []).append(i)
    at = {key: own[0] for key, own in on.items()}
    aside = {(s.file, s.sheet, s.row) for s in records.set_aside}
    faults = {
        at[h.file, h.sheet, h.row]
        for h in records.trouble
        if h.ending == "finding" and (h.file, h.sheet, h.row) in at
    }
    for h in records.trouble:
        key = (h.file, h.sheet, h.row)
        i = next((k for k in on.get(key, ()) if h.own(lives[k])), -1)
        if key in aside or i < 0:
            continue
        yield from ((f, i) for f in tell_trouble(h, lives[i], settings, fault=i in faults))


def tell_trouble(
    h: Hinted, life: LifeRow, settings: Settings, *, fault: bool = False
) -> list[Finding]:
    """Return what a row that hints at a failure is told for, as `untold_case` has it."""
    case = untold_case(h, life, settings, fault=fault)
    if case:
        return [tell_untold(h, case)]
    return [tell_unread(h, life.ending)] if _unread(h, life) else []


def untold_case(h: Hinted, life: LifeRow, settings: Settings, *, fault: bool = False) -> str:
    """Return the case of ``failure-or-not`` that a row calls for; blank where it says what it is.

    Parameters
    ----------
    h : Hinted
        The row.
    life : LifeRow
        The life that it belongs to.
    settings : Settings
        Its causes and rules.
    fault : bool
        Whether a fault found at a check stands in the same life, which says why it was removed.
    """
    own = life.origin.row == h.row
    told = life.confirmed is not None or life.found_at_teardown is not None
    if not h.untold and (not own or fault or told or life.ending in FAILING_ENDINGS):
        return ""
    if own and judge_ending(life, settings).rule:
        return ""
    if h.untold:
        return h.untold
    if not internal_cause(life.cause, settings.question):
        return ""
    hint = hint_of(life.cause)
    says = hint is not None and hint.grade == FAILURE
    plain = h.ending in PLAIN_ENDS or (h.ending in PLANNED_ENDS and says)
    return "removed" if plain else ""


def tell_untold(h: Hinted, case: str) -> Finding:
    """Return the finding that a row does not say whether it tells of a failure."""
    what = [f"the cause '{h.cause}'"] if cause_known(h.cause) else []
    what += ["a confirmed fault"] if h.confirmed else []
    if case == "column":
        what = [f"'{w}' in the column '{c}'" for c, w in zip(h.columns, h.words, strict=True)
                if c in h.naming][:2]  # fmt: skip
    return make_finding(
        UNTOLD[case],
        file=h.file,
        sheet=h.sheet,
        row=h.row,
        column=h.columns[-1 if case == "column" else 0],
        value=h.words[-1 if case == "column" else 0][:80],
        engine=h.engine,
        ending=h.ending.replace("-", " "),
        what=listed(what),
    )


def _unread(h: Hinted, life: LifeRow) -> bool:
    """Return whether words of trouble stand beside an ending that tells of none."""
    ill = life.ending in (*FAILING_ENDINGS, "removed-finding") or life.confirmed is True
    own = h.failing or h.ending in STAYED
    return bool(h.beside) and not own and not (ill and h.row == life.origin.row)


def tell_unread(h: Hinted, ending: str) -> Finding:
    """Return the finding that words of trouble stand where nothing is read."""
    column = h.beside[0]
    word = h.words[h.columns.index(column)]
    return make_finding(
        "trouble-unread" if column in h.unused else "trouble-unread/note",
        file=h.file,
        sheet=h.sheet,
        row=h.row,
        column=column,
        value=word[:80],
        engine=h.engine,
        word=word[:80],
        name=column,
        ending=(h.ending or ending).replace("-", " "),
    )
