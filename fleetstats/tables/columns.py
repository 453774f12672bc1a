"""Column names: ours, the words that clubs use for them, and the match to a file's header."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.capitals import small
from fleetstats.vocabulary.finding import Finding, make_finding
from fleetstats.vocabulary.headers import plain_name
from fleetstats.vocabulary.nearest import nearest

LINES_ABOVE = 20
"""Lines below the first in which column names are looked for under a title."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """A column that a shape knows: our name, other words for it, what it holds, an example."""

    name: str
    doc: str
    words: tuple[str, ...] = ()
    unit: str = ""
    required: bool = False
    example: str = ""


LIFE_FIELDS = (
    Field(
        name="engine",
        doc="Engine id or serial number; the same engine must always have the same id.",
        words=("engine id", "engine serial", "engine serial number", "engine no", "engine number",
               "serial", "serial number", "serial no", "sn", "s n"),
        required=True,
        example="E-0101",
    ),
    Field(
        name="source",
        doc="Who reported the row; the file's source where empty.",
        words=("reported by", "club", "shop", "reporter"),
        example="club A",
    ),
    Field(
        name="build",
        doc="Build standard of the engine.",
        words=("build standard", "build std", "standard", "variant", "model", "version"),
        example="B1",
    ),
    Field(
        name="entry_hours",
        doc="Hours when observation began. Empty means 0: the engine was followed from new. "
        "If you first heard of it at 600 h, write 600.",
        words=("entry", "entry h", "hours at entry", "hours when joined", "hours at start",
               "start hours", "first known hours", "hours first known"),
        unit="h",
        example="600",
    ),
    Field(
        name="exit_hours",
        doc="Hours now, or at the end.",
        words=("exit", "exit h", "hours", "hours at exit", "hours at end", "end hours",
               "hours now", "current hours", "last known hours", "total time", "total hours",
               "tt", "ttsn", "tsn", "time since new", "hours since new", "engine hours"),
        unit="h",
        required=True,
        example="1180",
    ),
    Field(
        name="last_good_hours",
        doc="For a fault found at a check or teardown: last hours at which the engine was known "
        "good. The failure lies between these and the exit hours.",
        words=("last good", "last good h", "last known good", "last known good hours",
               "last clean check", "hours at last clean check", "previous check hours"),
        unit="h",
        example="1130",
    ),
    Field(
        name="ending",
        doc="How it ended: running, failed, found-at-check, removed-finding (removed because of a "
        "finding), planned-overhaul, removed (for another reason), lost, modified.",
        words=("status", "event", "outcome", "how it ended", "end", "fate", "reason for end"),
        required=True,
        example="running",
    ),
    Field(
        name="cause",
        doc="Cause of the failure or the removal.",
        words=("failure cause", "removal cause", "reason", "reason for removal", "removal reason"),
        example="exhaust valve",
    ),
    Field(
        name="confirmed",
        doc="Whether the shop confirmed the fault: yes, no, or empty.",
        words=("fault confirmed", "shop confirmed", "confirmed by shop"),
        example="yes",
    ),
    Field(
        name="in_service_date",
        doc="Date on which the engine entered service.",
        words=("in service", "date in service", "entry into service", "installed", "date new",
               "installation date", "first flight"),
        example="2015-04-01",
    ),
    Field(
        name="observed_from_date",
        doc="Date on which your records of this engine begin.",
        words=("observed from", "observation start", "joined", "date joined", "records begin",
               "first record"),
        example="2017-01-01",
    ),
    Field(
        name="last_reading_date",
        doc="Date of the last hour reading.",
        words=("last reading", "reading date", "date of reading", "date of last reading",
               "last report", "last update", "as of"),
        example="2026-10-31",
    ),
    Field(
        name="ended_date",
        doc="Date of the failure or the removal.",
        words=("ended", "end date", "failure date", "removal date", "date ended", "date removed",
               "date of removal", "date of failure"),
        example="2026-05-11",
    ),
    Field(
        name="meter",
        doc="Meter kind of the hours: flight, tach or hobbs; the file's where empty.",
        words=("meter kind", "clock", "hour meter", "meter type"),
        example="tach",
    ),
    Field(
        name="found_at_teardown",
        doc="Whether the teardown after a planned removal found an internal fault: yes, no, or "
        "empty when there was none.",
        words=("teardown found", "teardown finding", "found at strip", "strip finding",
               "fault at teardown"),
        example="no",
    ),
    Field(
        name="overhauled_at_hours",
        doc="Hours since new at the last overhaul; only where the hours above are since new.",
        words=("overhauled at", "last overhaul hours", "hours at overhaul",
               "hours at last overhaul"),
        unit="h",
    ),
    Field(
        name="since_overhaul_hours",
        doc="Hours since overhaul at the exit hours; another way to say the same.",
        words=("hours since overhaul", "time since overhaul", "tso", "smoh", "tsmoh", "soh"),
        unit="h",
    ),
    Field(
        name="modified_at_hours",
        doc="Hours at which the engine was modified to another build standard; build is then the "
        "standard before.",
        words=("modified at", "hours at modification", "modification hours", "retrofit hours"),
        unit="h",
    ),
    Field(
        name="modified_to",
        doc="Build standard after the modification.",
        words=("build after", "build after modification", "modified to build", "new build"),
    ),
    Field(
        name="count",
        doc="Number of equal engines that the row stands for; empty means 1.",
        words=("number of engines", "quantity", "qty", "units"),
    ),
    Field(name="note", doc="Anything else.", words=("notes", "remark", "remarks", "comment",
                                                  "comments")),
)  # fmt: skip
"""The columns of record shape "lives", in the order of the template."""


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
    """
    found: list[Finding] = []
    where: dict[str, Any] = {"file": table.file, "sheet": table.sheet, "row": table.header_row}
    plain = [plain_name(h) for h in table.header]
    exact = {h.strip(): i for i, h in reversed(list(enumerate(table.header)))}
    index: dict[str, int] = {}
    lower = _line_of_names(table, fields, mapping)
    for ours, theirs in mapping.items():
        at = exact.get(theirs.strip())
        if at is None and plain_name(theirs) in plain:
            at = plain.index(plain_name(theirs))
        if at is None:
            near = nearest(theirs, [h for h in table.header if h])
            found.append(
                make_finding(
                    "column-missing/mapped-near" if near else "column-missing/mapped",
                    ours=ours,
                    theirs=theirs,
                    near=near,
                    headers=_shown(table.header),
                    lower=lower,
                    column=theirs,
                    **where,
                )
            )
        else:
            index[ours] = at
    taken = set(index.values())
    words = field_words(fields)
    mapped = set(mapping)
    own = {plain_name(f.name): f.name for f in fields}
    for names in (own, words):
        seen: dict[str, int] = {}
        for i, p in enumerate(plain):
            ours_or_none = names.get(p)
            if ours_or_none is None or i in taken or ours_or_none in mapped:
                continue
            ours = ours_or_none
            if ours in seen:
                found.append(
                    make_finding(
                        "column-twice",
                        column=table.header[i],
                        **where,
                        first=table.header[seen[ours]],
                        second=table.header[i],
                        ours=ours,
                    )
                )
            elif ours not in index:
                seen[ours] = index[ours] = i
                taken.add(i)
    for name in covariates:
        if name not in index and plain_name(name) in plain:
            at = plain.index(plain_name(name))
            index[name] = at
            taken.add(at)
    missing = [f for f in fields if f.required and f.name not in index and f.name not in mapped]
    unused = tuple(h for i, h in enumerate(table.header) if i not in taken and h)
    for f in missing:
        near = nearest(f.name.replace("_", " "), unused)
        found.append(
            make_finding(
                "column-missing",
                column=f.name,
                **where,
                name=f.name,
                doc=small(f.doc.split(".")[0]),
                header=near or "your header",
                headers=_shown(table.header),
                lower=lower,
            )
        )
    usable = not found
    if unused:
        found.append(make_finding("column-unused", **where, unused=_shown(unused)))
    shown = {ours: table.header[i] or ours for ours, i in index.items()}
    return ColumnMatch(
        index=index, shown=shown, unused=unused, findings=tuple(found), usable=usable
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
