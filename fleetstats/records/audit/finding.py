"""What became of the records: the account of every row, and the audit with all its findings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field, fields
from typing import TYPE_CHECKING, Any

from fleetstats.core.value import Value, changed, value
from fleetstats.records.audit.lines_to_add import lines_to_add
from fleetstats.records.life import LifeRow
from fleetstats.records.set_aside import SetAside
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.findings.entry import SEVERITIES

if TYPE_CHECKING:
    import pandas as pd


@value
class FileAccount(Value):
    """The rows of one file. ``n_read == n_used + n_set_aside``; blank lines are no rows."""

    file: str
    source: str
    shape: str
    n_read: int
    n_used: int
    n_set_aside: int
    n_blank: int = 0
    sheet: str = ""
    reasons: dict[str, int] = field(default_factory=dict)


@value
class Audit(Value):
    """What the audit found and what became of every row.

    Parameters
    ----------
    findings : tuple of Finding
        Everything found, by file and row.
    accounts : tuple of FileAccount
        One for each file; their sums are `n_read`, `n_used` and `n_set_aside`.
    set_aside : tuple of SetAside
        Each row not used, with its reason.
    used : tuple of LifeRow
        The lives that the study goes on with.
    """

    findings: tuple[Finding, ...]
    accounts: tuple[FileAccount, ...]
    set_aside: tuple[SetAside, ...]
    used: tuple[LifeRow, ...]

    _not_in_dict = ("used",)

    @property
    def n_read(self) -> int:
        """Return the number of rows read, blank lines not counted."""
        return sum(a.n_read for a in self.accounts)

    @property
    def n_used(self) -> int:
        """Return the number of rows used."""
        return sum(a.n_used for a in self.accounts)

    @property
    def n_set_aside(self) -> int:
        """Return the number of rows set aside."""
        return sum(a.n_set_aside for a in self.accounts)

    @property
    def n_blank(self) -> int:
        """Return the number of blank lines."""
        return sum(a.n_blank for a in self.accounts)

    @property
    def reasons(self) -> dict[str, int]:
        """Return how many rows were set aside for each reason."""
        out: dict[str, int] = {}
        for a in self.accounts:
            for k, n in a.reasons.items():
                out[k] = out.get(k, 0) + n
        return out

    @property
    def stops(self) -> tuple[Finding, ...]:
        """Return the findings that stop the study."""
        return tuple(f for f in self.findings if f.action == "stop")

    @property
    def ok(self) -> bool:
        """Return whether the study can go on."""
        return not self.stops

    def of(self, severity: str) -> tuple[Finding, ...]:
        """Return the findings of one severity."""
        return tuple(f for f in self.findings if f.severity == severity)

    def counts(self) -> dict[str, int]:
        """Return how many findings there are of each severity."""
        return {s: len(self.of(s)) for s in SEVERITIES}

    def _members(self) -> dict[str, Any]:
        """Return what the audit's dictionary holds: with the sums and counts."""
        out: dict[str, Any] = {"schema": "fleetstats/audit/1"}
        out |= {"n_read": self.n_read, "n_used": self.n_used, "n_set_aside": self.n_set_aside}
        out |= {"n_blank": self.n_blank, "reasons": self.reasons, "counts": self.counts()}
        out |= {"findings": self.findings, "accounts": self.accounts, "set_aside": self.set_aside}
        return out

    def to_frame(self) -> pd.DataFrame:
        """Return the findings as a table, one row each."""
        import pandas as pd

        rows = [{k: v for k, v in f.to_dict().items() if k != "schema"} for f in self.findings]
        names = [f.name for f in fields(Finding)]
        frame = pd.DataFrame(rows, columns=names)
        frame["related"] = [", ".join(f.related) for f in self.findings]
        return frame

    def summary(self) -> str:
        """Return the account of rows and the counts of findings on one line."""
        c = self.counts()
        said = ", ".join(f"{n} {s}{'' if n == 1 else 's'}" for s, n in c.items())
        return (
            f"{self.n_read} row{'' if self.n_read == 1 else 's'} read = {self.n_used} used + "
            f"{self.n_set_aside} set aside; {said}"
        )

    def __str__(self) -> str:
        """Return the whole audit for a person: the account, the reasons, every finding."""
        out = [self.summary()]
        out += [
            f"  {a.file}{f' [{a.sheet}]' if a.sheet else ''}: {a.n_read} = {a.n_used} + "
            f"{a.n_set_aside}{_reasons(a.reasons)}"
            f"{_besides(a.n_blank)}"
            for a in self.accounts
        ]
        return "\n".join([*out, *_told(self.findings), *lines_to_add(self.findings)])

    def __repr__(self) -> str:
        return f"Audit: {self.summary()}"


def by_head(f: Finding, heads: Mapping[str, str]) -> Finding:
    """Return a finding that names its column as its file does.

    Parameters
    ----------
    f : Finding
        What lives say against each other is told by our names; a reader tells the file's own.
    heads : mapping
        Our names = the file's own.
    """
    own = heads.get(f.column, f.column)
    return f if own == f.column or f.column in heads.values() else changed(f, column=own)


def _reasons(reasons: dict[str, int]) -> str:
    return f" ({', '.join(f'{n} {k}' for k, n in reasons.items())})" if reasons else ""


def _besides(n_blank: int) -> str:
    return f"; {n_blank} blank line{'' if n_blank == 1 else 's'} besides" if n_blank else ""


_DONE = {"stop": " (stops the study)", "set-aside": " (set aside)", "accept": " (used)"}
_MOST_ROWS = 12
"""Rows listed where many rows have the same finding."""
_MOST_ALIKE = 12
"""Findings of one kind told one by one; of more, only the first are."""
_FIRST = 5


def _told(findings: tuple[Finding, ...]) -> list[str]:
    """Return the findings as lines, worst first; rows that say the same share one.

    A column in which every row has the same trouble, each with a value of its own, would fill
    screens and hide the rest: of such a kind the first few are told, and the rows of the others.
    """
    kinds: dict[tuple[str, ...], dict[str, list[Finding]]] = {}
    for f in sorted(findings, key=lambda f: SEVERITIES.index(f.severity)):
        kind = (f.severity, f.code, f.action, f.file, f.sheet, f.column, f.advice)
        kinds.setdefault(kind, {}).setdefault(f.message, []).append(f)
    out = []
    for alike in kinds.values():
        groups = list(alike.values())
        shown = groups if len(groups) <= _MOST_ALIKE else groups[:_FIRST]
        for group in shown:
            f = group[0]
            done = "" if f.severity == "note" else _DONE[f.action]
            also = _rows([x for x in group[1:] if x.row != f.row])
            out += [f"{f.severity} {f.code}{done}", f"  {f}{f' Also {also}.' if also else ''}"]
        left = [f for group in groups[len(shown) :] for f in group]
        if left:
            where = f", in {_rows(left)}" if _rows(left) else ""
            out.append(f"  And {len(left)} more like these{where}; with --json each is printed.")
    return out


def _rows(findings: list[Finding]) -> str:
    """Return the rows of findings as "rows 3, 4 and 7 more"; empty where none has a row."""
    rows = [str(n) for n in dict.fromkeys(f.row for f in findings if f.row is not None)]
    rest = f" and {len(rows) - _MOST_ROWS} more" if len(rows) > _MOST_ROWS else ""
    word = "row" if len(rows) == 1 else "rows"
    return f"{word} {', '.join(rows[:_MOST_ROWS])}{rest}" if rows else ""
