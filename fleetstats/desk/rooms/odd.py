"""Odd cells: what the audit found, by kind, each in its row, and what is done about it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fleetstats.core.errors import DataError
from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.standing import Standing
from fleetstats.desk.words import words
from fleetstats.records.audit.lines_to_add import MAPS
from fleetstats.study.edit import set_key, unset_key
from fleetstats.study.scaffold import toml_text
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.findings import FILE_FINDINGS, FINDINGS, LIFE_FINDINGS, LOG_FINDINGS
from fleetstats.vocabulary.findings.entry import SEVERITIES

MOST_ROWS = 40


@dataclass(frozen=True, slots=True, kw_only=True)
class OddKind:
    """All findings of one kind.

    Parameters
    ----------
    code, severity, meaning : str
        From the catalogue.
    shown : tuple of (Finding, tuple)
        The first findings, each with its row as the file has it: head and cell.
    n, n_more : int
        How many there are, and how many of them are not shown.
    action : str
        What is done about the kind now.
    stated : bool
        Whether the study file says so.
    actions : tuple of str
        What may be chosen; empty where only the file itself, or its maps, can mend it.
    words : bool
        Whether giving words a meaning mends it.
    """

    code: str
    severity: str
    meaning: str
    shown: tuple[tuple[Finding, tuple[tuple[str, str], ...]], ...]
    n: int
    n_more: int
    action: str
    stated: bool
    actions: tuple[str, ...]
    words: bool


def show(place: DeskPlace, form: Sent) -> dict[str, Any]:
    """Return the kinds of findings, the worst first, and the account of rows."""
    del form
    now = place.reader.stand()
    if now.audit is None or now.study is None:
        return {"kinds": [], "account": "", "stops": 0}
    by_code: dict[str, list[Finding]] = {}
    for f in sorted(now.audit.findings, key=lambda f: SEVERITIES.index(f.severity)):
        by_code.setdefault(f.code, []).append(f)
    kinds = [_kind(code, found, now) for code, found in by_code.items()]
    kinds.sort(key=lambda k: k.action != "stop")
    return {"kinds": kinds, "account": now.audit.summary(), "stops": len(now.audit.stops)}


def _kind(code: str, found: list[Finding], now: Standing) -> OddKind:
    treat = {} if now.study is None else now.study.settings.treat.actions
    actions = sorted({f.action for f in found})
    return OddKind(
        code=code,
        severity=found[0].severity,
        meaning=FINDINGS[code].meaning,
        shown=tuple((f, _row_of(f, now)) for f in found[:MOST_ROWS]),
        n=len(found),
        n_more=max(len(found) - MOST_ROWS, 0),
        action="stop" if "stop" in actions else actions[0],
        stated=code in treat,
        actions=actions_for(code) if found[0].severity != "note" or code in treat else (),
        words=code in MAPS,
    )


def actions_for(code: str) -> tuple[str, ...]:
    """Return what the study may say is done about a kind of finding."""
    if code in FILE_FINDINGS or code not in LIFE_FINDINGS | LOG_FINDINGS:
        return ()
    accept = ("accept",) if FINDINGS[code].may_accept else ()
    return (*accept, "set-aside", "stop")


def _row_of(f: Finding, now: Standing) -> tuple[tuple[str, str], ...]:
    """Return the row of a finding as its file has it."""
    from fleetstats.tables.cells import text

    for (file, sheet), table in now.tables.items():
        if file != f.file or (f.sheet and f.sheet not in (sheet, table.sheet)):
            continue
        row = next((r for r in table.rows if r.row == f.row), None)
        if row is not None:
            told = ((h, text(c)) for h, c in zip(table.header, row.cells, strict=False))
            return tuple((h, c) for h, c in told if c)
    return ()


def treat(place: DeskPlace, form: Sent) -> str:
    """Say what is done about a kind of finding, and why; blank takes the study's say back."""
    code, action = form.text("code"), form.text("action")
    path = ("treat", code)
    if code not in FINDINGS or (action and action not in actions_for(code)):
        raise DataError(words("frame", "no_such_form"))
    if not action:
        said = f"study.toml: [treat] {code}: {words('frame', 'taken_out')}"
        place.desk.edit(form.version, said, lambda t: unset_key(t, path))
        return words("odd", "taken_back", code=code)
    why = " ".join(form.text("why").split())[:300]
    if action == "set-aside" and not why:
        raise DataError(words("odd", "say_why"))
    said = f"study.toml: [treat] {code} = {toml_text(action)}{f'  # {why}' if why else ''}"
    place.desk.edit(form.version, said, lambda t: set_key(t, path, action, comment=why))
    return words("odd", "treated", code=code, action=words("odd", f"done_{action}"))


ACTS = {"treat": treat}
