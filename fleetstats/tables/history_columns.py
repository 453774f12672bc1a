"""Which column of a file tells what of an engine's history."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from fleetstats.study.study import RecordFile
from fleetstats.tables.cells import CellError, is_blank, parse_number
from fleetstats.tables.columns import ColumnMatch, field_words, match_columns
from fleetstats.tables.table import RawTable
from fleetstats.vocabulary.fields.field import Field
from fleetstats.vocabulary.fields.headers import plain_name
from fleetstats.vocabulary.fields.histories import HISTORY_FIELDS
from fleetstats.vocabulary.fields.history_heads import Head, read_head

FIXED = tuple(f.name for f in HISTORY_FIELDS)


@dataclass(frozen=True, slots=True)
class HistoryColumns:
    """The columns of a file of histories.

    `table` is the file with a head of its own for each column; `match` finds fixed columns by our
    names and those of happenings by `Head.name`; `heads` holds the latter.
    """

    table: RawTable
    match: ColumnMatch
    heads: tuple[Head, ...]

    @property
    def hour_names(self) -> tuple[str, ...]:
        """Return the names of the columns of hours."""
        return ("entry_hours", "hours_now", *self.of("hours"), *self.of("reading"))

    @property
    def date_names(self) -> tuple[str, ...]:
        """Return the names of the columns of dates."""
        return ("in_service_date", "observed_from_date", "last_reading_date", *self.of("date"))

    def of(self, told: str) -> tuple[str, ...]:
        """Return the names of the columns that tell one thing, such as hours."""
        return tuple(h.name for h in self.heads if h.told == told)


def find_columns(
    table: RawTable, file: RecordFile, categories: tuple[str, ...] = ()
) -> HistoryColumns:
    """Find what each column of a file of histories tells.

    The study file's map comes first, then our own names, then heads that name a happening. A head
    that stands again is the next of its kind, so that "failed at, cause, failed at, cause" tells of
    two failures.
    """
    table = replace(table, header=_apart(table.header))
    fixed = {ours: theirs for ours, theirs in file.columns.items() if ours in FIXED}
    mapped = _mapped(table, file.columns)
    words = {w for w, ours in field_words(HISTORY_FIELDS).items() if ours not in fixed}
    theirs = {plain_name(t) for t in (*fixed.values(), *categories)}
    taken: set[str] = {h.name for h in mapped.values()}
    fields: list[Field] = [Field(name=h.name, doc="") for h in mapped.values()]
    heads: list[Head] = list(mapped.values())
    free = {ours: t for ours, t in file.columns.items() if ours not in mapped}
    at_hand = {plain_name(file.columns[ours]) for ours in mapped}
    for i, header in enumerate(table.header):
        plain = plain_name(header)
        if not plain or plain in words or plain in theirs or plain in at_hand:
            continue
        head = _settled(read_head(header), table, i)
        if head is None:
            continue
        while head.name in taken:
            head = replace(head, number=head.number + 1)
        taken.add(head.name)
        heads.append(head)
        fields.append(Field(name=head.name, doc="", words=(header,)))
    mapping = {mapped[ours].name if ours in mapped else ours: t
               for ours, t in (file.columns | free).items()}  # fmt: skip
    match = match_columns(table, (*HISTORY_FIELDS, *fields), mapping, categories=categories)
    heads = [h for h in heads if h.name in match.index]
    return HistoryColumns(table=table, match=match, heads=tuple(heads))


def _apart(header: tuple[str, ...]) -> tuple[str, ...]:
    """Return heads of which each stands once: the second of its kind is numbered."""
    taken = {plain_name(h) for h in header}
    seen: set[str] = set()
    out = []
    for head in header:
        n, apart, plain = 1, head, plain_name(head)
        if plain in seen and read_head(head) is not None:
            while plain_name(apart) in taken:
                n += 1
                apart = f"{head} {n}"
            taken.add(plain_name(apart))
        seen.add(plain)
        out.append(apart)
    return tuple(out)


def _mapped(table: RawTable, columns: Mapping[str, str]) -> dict[str, Head]:
    """Return what the columns tell that the study file maps to a happening."""
    plains = [plain_name(h) for h in table.header]
    out: dict[str, Head] = {}
    for ours, theirs in columns.items():
        head = None if ours in FIXED else read_head(ours)
        if head is None:
            continue
        at = plains.index(plain_name(theirs)) if plain_name(theirs) in plains else None
        settled = _settled(head, table, at) if at is not None else replace(head, told="hours")
        out[ours] = settled or replace(head, told="hours")
    return out


def _settled(head: Head | None, table: RawTable, at: int | None) -> Head | None:
    """Return a head of which the cells tell whether it is of hours: numbers, or what was done."""
    if head is None or head.told or at is None:
        return head
    cells = [r.cells[at] for r in table.rows if not is_blank(r.cells[at])]
    numbers = sum(map(_is_number, cells))
    if numbers and 2 * numbers >= len(cells):
        return replace(head, told="hours")
    return Head("failed", "work", head.number) if head.happening == "repair" else None


def _is_number(cell: object) -> bool:
    try:
        return parse_number(cell) is not None
    except CellError:
        return False
