"""Column names: ours, the words that clubs use for them, and the match to a file's header."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.capitals import small
from fleetstats.vocabulary.fields.categories import CATEGORIES, Category
from fleetstats.vocabulary.fields.field import Field
from fleetstats.vocabulary.fields.headers import plain_name
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.nearest import nearest

LINES_ABOVE = 20
"""Lines below the first in which column names are looked for under a title."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnMatch:
    """Where each of our columns stands in a file.

    `index` maps our names to positions, `shown` to the file's own header; `unused` are headers
    that nothing was made of.
    """

    index: dict[str, int]
    shown: dict[str, str]
    unused: tuple[str, ...]
    findings: tuple[Finding, ...]
    usable: bool


def field_words(fields: Iterable[Field]) -> dict[str, str]:
    """Return every accepted plain name with the name of ours that it stands for."""
    out: dict[str, str] = {}
    for f in fields:
        for word in (f.name, *f.words):
            out.setdefault(plain_name(word), f.name)
    return out


def match_columns(
    table: RawTable,
    fields: tuple[Field, ...],
    mapping: Mapping[str, str],
    covariates: tuple[str, ...] = (),
    categories: tuple[str, ...] = (),
) -> ColumnMatch:
    """Find each of our columns in a file's header.

    The study file's mapping comes first, then our own names, then the known words. A header
    claimed twice, a mapped header that is not there and a missing required column are findings.

    Parameters
    ----------
    table : RawTable
        The file.
    fields : tuple of Field
        The columns of its shape.
    mapping : mapping
        Our name to the file's header, from the study file.
    covariates : tuple of str
        Headers of numeric covariates, ours by name.
    categories : tuple of str
        Columns of words, by our name or by another header that we know for it.
    """
    m = _Matching(table, _line_of_names(table, fields, mapping))
    m.take_mapped(mapping)
    own = {plain_name(f.name): f.name for f in fields}
    for names in (own, field_words(fields)):
        m.take_named({word: ours for word, ours in names.items() if ours not in mapping})
    for name in covariates:
        if name not in m.index and plain_name(name) in m.plain:
            m.index[name] = m.plain.index(plain_name(name))
    for name in categories:
        heads = (name, *CATEGORIES.get(name, Category()).headers)
        m.take_named({plain_name(h): name for h in heads} if name not in m.index else {})
    taken = set(m.index.values())
    unused = tuple(h for i, h in enumerate(table.header) if i not in taken and h)
    m.miss([f for f in fields if f.required and f.name not in {*m.index, *mapping}], unused)
    usable = not m.found
    if unused:
        m.find("column-unused", unused=_shown(unused))
    shown = {ours: table.header[i] or ours for ours, i in m.index.items()}
    return ColumnMatch(
        index=m.index, shown=shown, unused=unused, findings=tuple(m.found), usable=usable
    )


class _Matching:
    """The columns of one file found so far; `lower` is what to state of a title above them."""

    def __init__(self, table: RawTable, lower: str) -> None:
        self.table, self.lower = table, lower
        self.plain = [plain_name(h) for h in table.header]
        self.index: dict[str, int] = {}
        self.found: list[Finding] = []

    def find(self, key: str, column: str = "", **fields: Any) -> None:
        t = self.table
        self.found.append(
            make_finding(key, file=t.file, sheet=t.sheet, row=t.header_row, column=column, **fields)
        )

    def take_mapped(self, mapping: Mapping[str, str]) -> None:
        """Find the headers that the study file names."""
        header = self.table.header
        exact = {h.strip(): i for i, h in reversed(list(enumerate(header)))}
        for ours, theirs in mapping.items():
            at = exact.get(theirs.strip())
            if at is None and plain_name(theirs) in self.plain:
                at = self.plain.index(plain_name(theirs))
            if at is not None:
                self.index[ours] = at
                continue
            near = nearest(theirs, [h for h in header if h])
            self.find(
                "column-missing/mapped-near" if near else "column-missing/mapped",
                column=theirs,
                ours=ours,
                theirs=theirs,
                near=near,
                headers=_shown(header),
                lower=self.lower,
            )

    def take_named(self, names: Mapping[str, str]) -> None:
        """Find the headers that are among some names of ours; the first of two stands."""
        taken = set(self.index.values())
        seen: dict[str, int] = {}
        for i, p in enumerate(self.plain):
            ours = names.get(p)
            if ours is None or i in taken:
                continue
            if ours in seen:
                first, second = self.table.header[seen[ours]], self.table.header[i]
                self.find("column-twice", column=second, first=first, second=second, ours=ours)
            elif ours not in self.index:
                seen[ours] = self.index[ours] = i

    def miss(self, missing: Iterable[Field], unused: tuple[str, ...]) -> None:
        """Say which columns are missing; one of the `unused` headers may be meant."""
        for f in missing:
            self.find(
                "column-missing",
                column=f.name,
                name=f.name,
                doc=small(f.doc.split(".")[0]),
                header=nearest(f.name.replace("_", " "), unused) or "your header",
                headers=_shown(self.table.header),
                lower=self.lower,
            )


def _line_of_names(table: RawTable, fields: tuple[Field, ...], mapping: Mapping[str, str]) -> str:
    """Return what to state where a title stands above the column names; else an empty text."""
    ours = {plain_name(w) for f in fields for w in (f.name, *f.words)}
    names = ours | {plain_name(theirs) for theirs in mapping.values()}
    if any(plain_name(h) in names for h in table.header if h):
        return ""
    for row in table.rows[:LINES_ABOVE]:
        hits = sum(isinstance(c, str) and plain_name(c) in names for c in row.cells if c)
        if hits >= min(2, len(table.header)):
            n = row.row
            return f" Line {n} looks like the column names: state header_row = {n} for this file."
    return ""


def _shown(names: Iterable[str]) -> str:
    listed = [f"'{n[:40]}'" for n in names if n]
    return ", ".join(listed[:12]) + (f" and {len(listed) - 12} more" if len(listed) > 12 else "")
