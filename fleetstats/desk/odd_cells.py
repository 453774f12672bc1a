"""What is odd in a study's records as the page shows it: kinds, and in each its cells in rows.

The proposals are those of `check --out`, and what is decided is written as `check --take` does.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fleetstats.desk.standing import Standing
from fleetstats.records.audit.lines_to_add import MAPS
from fleetstats.records.mending.propose import DECIDED, Proposal
from fleetstats.records.mending.take import Decision
from fleetstats.tables.cells import text
from fleetstats.vocabulary.findings import FILE_FINDINGS, FINDINGS, LIFE_FINDINGS, LOG_FINDINGS
from fleetstats.vocabulary.findings.entry import SEVERITIES

MOST_ROWS = 40
"""Cells of a kind that are shown at once."""

OPEN_FAILURE = "failure-or-not"
FAILED = "failed"
"""The word by which an ending tells of a failure."""

OPEN_ROW = "not-counted"
"""Place in the ledger of trouble of a row that hints at a failure and counts as none."""

DENYING = ("confirmed", "found_at_teardown")
"""Columns of ours in which a "no" says that there was no failure, the first that a file has."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OddCell:
    """One thing to decide, in its row.

    Parameters
    ----------
    told : Proposal
        The finding, the cell as supplied, and a plain value where there is one.
    row : tuple of (head, cell)
        The row as its file has it, blank cells left out.
    key : str
        Name of its own on the page.
    may_give, may_set_aside : bool
        What may be decided about it alone.
    failed_in, confirmed_in : str
        Columns in which a row says that it was a failure, and that it was none; blank where it
        is not asked, or the file has no such column.
    """

    told: Proposal
    row: tuple[tuple[str, str], ...]
    key: str
    may_give: bool
    may_set_aside: bool
    failed_in: str = ""
    confirmed_in: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OddKind:
    """All findings of one kind.

    Parameters
    ----------
    code, severity, meaning : str
        From the catalogue.
    shown : tuple of OddCell
        Those that are shown now; they begin with number `first`, from 0.
    n, n_proposed : int
        How many there are, and for how many a plain value is proposed.
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
    shown: tuple[OddCell, ...]
    first: int
    n: int
    n_proposed: int
    action: str
    stated: bool
    actions: tuple[str, ...]
    words: bool

    @property
    def before(self) -> int | None:
        """Return the first number of the cells before; None where there are none."""
        return max(self.first - MOST_ROWS, 0) if self.first > 0 else None

    @property
    def after(self) -> int | None:
        """Return the first number of the cells after; None where there are none."""
        end = self.first + len(self.shown)
        return end if end < self.n else None


def odd_kinds(now: Standing, of: str = "", first: int = 0) -> list[OddKind]:
    """Return what is odd, what stops the study first, then the worst.

    Parameters
    ----------
    now : Standing
        With its proposals.
    of, first : str, int
        A kind whose cells are shown from that number on; of the others the first are shown.
    """
    by_code: dict[str, list[Proposal]] = {}
    for p in [*(now.proposals or ()), *_unplaced(now)]:
        by_code.setdefault(p.code, []).append(p)
    kinds = [_kind(c, found, now, first if c == of else 0) for c, found in by_code.items()]
    return sorted(kinds, key=lambda k: (k.action != "stop", SEVERITIES.index(k.severity)))


def _unplaced(now: Standing) -> Iterable[Proposal]:
    """Yield findings about which nothing is proposed: of no file, or of a decision made."""
    for f in now.audit.findings if now.audit is not None else ():
        if f.code in DECIDED or not f.file:
            yield Proposal(
                file=f.file, sheet=f.sheet, digest="", row=f.row or 0, severity=f.severity,
                code=f.code, reason=f.message, cure=f.advice, action=f.action, engine=f.engine,
                value=f.value,
            )  # fmt: skip


def _kind(code: str, found: list[Proposal], now: Standing, first: int) -> OddKind:
    treat = {} if now.study is None else now.study.settings.treat.actions
    actions = sorted({p.action for p in found})
    first = first if 0 <= first < len(found) else 0
    return OddKind(
        code=code,
        severity=found[0].severity,
        meaning=FINDINGS[code].meaning,
        shown=tuple(
            _cell(p, now, f"{code}-{i}")
            for i, p in enumerate(found[first : first + MOST_ROWS], start=first + 1)
        ),
        first=first,
        n=len(found),
        n_proposed=sum(bool(p.proposed) for p in found),
        action="stop" if "stop" in actions else actions[0],
        stated=code in treat,
        actions=actions_for(code) if found[0].severity != "note" or code in treat else (),
        words=code in MAPS,
    )


def _cell(p: Proposal, now: Standing, key: str) -> OddCell:
    of = (now.supplied or {}).get((p.file, p.sheet))
    raw = None if of is None else of.rows.get(p.row)
    row: tuple[tuple[str, str], ...] = ()
    if of is not None and raw is not None:
        told = ((h, text(c)) for h, c in zip(of.table.header, raw.cells, strict=False))
        row = tuple((h, c) for h, c in told if c)
    placed = bool(row) and p.code not in DECIDED
    asked = placed and p.code in (OPEN_FAILURE, OPEN_ROW)
    index = of.match.index if asked and of is not None else {}
    denied = next((c for c in DENYING if c in index), "")
    return OddCell(
        told=p,
        row=row,
        key=key,
        may_give=placed and bool(p.column),
        may_set_aside=placed,
        failed_in=of.name(index["ending"]) if of is not None and "ending" in index else "",
        confirmed_in=of.name(index[denied]) if of is not None and denied else "",
    )


def open_cells(now: Standing) -> tuple[tuple[OddCell, ...], int]:
    """Return rows that hint at a failure, count as none, and are asked nowhere else.

    The first of them, and how many there are.
    """
    found = _open_rows(now)
    first = enumerate(found[:MOST_ROWS], start=1)
    return tuple(_cell(p, now, f"{OPEN_ROW}-{i}") for i, p in first), len(found)


def _open_rows(now: Standing) -> list[Proposal]:
    asked = {(p.file, p.sheet, p.row) for p in now.proposals or () if p.code == OPEN_FAILURE}
    out = []
    for r in now.trouble.rows if now.trouble is not None else ():
        of = (now.supplied or {}).get((r.file, r.sheet))
        if r.place != OPEN_ROW or (r.file, r.sheet, r.row) in asked:
            continue
        out.append(
            Proposal(
                file=r.file, sheet=r.sheet, digest="" if of is None else of.digest, row=r.row,
                severity=FINDINGS["trouble-unread"].severity, code=OPEN_ROW, reason=r.meaning,
                engine=r.engine,
                column=r.columns[0] if r.columns else "", value="; ".join(r.words),
            )
        )  # fmt: skip
    return out


def actions_for(code: str) -> tuple[str, ...]:
    """Return what the study may say is done about a kind of finding."""
    if code in FILE_FINDINGS or code not in LIFE_FINDINGS | LOG_FINDINGS:
        return ()
    accept = ("accept",) if FINDINGS[code].may_accept else ()
    return (*accept, "set-aside", "stop")


def say_decision(d: Decision) -> str:
    """Return a decision as the line of the mends that it becomes."""
    sheet = f" [{d.sheet}]" if d.sheet else ""
    did = f"{d.column} → '{d.new}'" if d.new else "set aside"
    return f"mends.csv: {d.file}{sheet} row {d.row}: {did} ({d.why})"
