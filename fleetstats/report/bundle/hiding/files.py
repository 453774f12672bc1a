"""The record files of a study, written anew row by row, each row with what is wrong in it.

A row that was set aside leaves as a row that will be set aside for the same reason. Rows keep their
order within an engine; engines are put in an order that is drawn from what leaves, so it tells
nothing of the order at home.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from fleetstats.core.errors import ReportError
from fleetstats.core.seeds import stream
from fleetstats.records.condition.bench_records import bench_cells
from fleetstats.records.condition.checks import CHECK_CELLS
from fleetstats.records.condition.leakdown import leakdown_cells
from fleetstats.records.lives.life_cells import HOUR_COLUMNS, life_cells, more_cells
from fleetstats.records.log.log_cells import LOG_HOURS, log_cells
from fleetstats.records.mends.apply import with_mends
from fleetstats.records.mends.log import read_mends
from fleetstats.records.rows.meaning import Meaning, Ways
from fleetstats.report.bundle.hiding.cells import END_OF, SINCE_START, Hider, RowHider
from fleetstats.report.bundle.hiding.steps import rising, same_hours
from fleetstats.report.bundle.hiding.words import UNREAD
from fleetstats.study.settings import Settings
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.cells import is_blank, text
from fleetstats.tables.columns import ColumnMatch, match_columns
from fleetstats.tables.open_table import open_table
from fleetstats.tables.settle import settle_file
from fleetstats.tables.table import RawRow, RawTable, TableError
from fleetstats.vocabulary.events import EVENTS_BY_WORD
from fleetstats.vocabulary.fields.bench import BENCH_FIELDS
from fleetstats.vocabulary.fields.checks import CHECK_FIELDS
from fleetstats.vocabulary.fields.field import Field
from fleetstats.vocabulary.fields.headers import meaning_of
from fleetstats.vocabulary.fields.leakdown import LEAKDOWN_FIELDS
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.ids import normalise_id
from fleetstats.vocabulary.trouble import hint_of, names_failure

BEGIN_OR_END = (
    "entry_hours", "exit_hours", "last_good_hours", "overhauled_at_hours", "modified_at_hours",
)  # fmt: skip
"""Hours of a life that begin or end something; two that differ go on differing."""
GOES_ON = ("reading", "check", "unscheduled", "part-removed", "part-fitted", "teardown")
"""Events of a log that begin and end nothing."""

Cells = Callable[[RecordFile, Settings], tuple[Meaning, ...]]
SHAPES: dict[str, tuple[tuple[Field, ...], Cells]] = {
    "lives": (LIFE_FIELDS, lambda f, s: (*life_cells(f, s), *more_cells(f, s))),
    "log": (LOG_FIELDS, log_cells),
    "checks": (CHECK_FIELDS, lambda _f, _s: CHECK_CELLS),
    "leakdown": (LEAKDOWN_FIELDS, lambda _f, s: leakdown_cells(s.leakdown)),
    "bench": (BENCH_FIELDS, lambda _f, _s: bench_cells("")),
}


@dataclass(slots=True)
class OpenFile:
    """A record file at hand: its table, its columns by our names, and how it writes."""

    file: RecordFile
    table: RawTable
    match: ColumnMatch
    ways: Ways
    schema: dict[str, Meaning]

    def row(self, hider: Hider, raw: RawRow) -> RowHider:
        """Return one of its rows with its cells by our names."""
        cells = {n: raw.cells[i] for n, i in self.match.index.items()}
        return RowHider(hider, self.file, self.ways, cells, log=self.file.shape == "log")


@dataclass(slots=True)
class Written:
    """A file written anew: its bytes, what stands for mapped heads, where each row went."""

    name: str
    data: bytes
    columns: dict[str, str]
    places: dict[int, int] = field(default_factory=dict)


def open_files(study: Study) -> tuple[OpenFile, ...]:
    """Open every record file of a study.

    Raises
    ------
    TableError
        If one cannot be read as a table; the study would not run either.
    """
    log = read_mends(study)  # names stand in it, so it stays at home, and what it says is carried
    return tuple(
        _open(with_mends(open_table(f), f, study, log).table, f, study.settings)
        for f in study.files
    )


def _open(table: RawTable, file: RecordFile, settings: Settings) -> OpenFile:
    if file.shape not in SHAPES:
        raise ReportError(
            f"'{file.file}' is of shape '{file.shape}', which cannot travel under pseudonyms.",
            "Bundle the study with its names, or write the file as a log first.",
        )
    fields, cells = SHAPES[file.shape]
    covariates = settings.groups.covariates if file.shape == "lives" else ()
    categories = settings.categories.columns if file.shape in ("lives", "log") else ()
    match = match_columns(table, fields, file.columns, covariates, categories)
    schema = {m.name: m for m in cells(file, settings)}
    hours = {"lives": HOUR_COLUMNS, "log": LOG_HOURS}
    numbers = [m.name for m in schema.values() if m.kind in ("hours", "number")]
    told, _ = settle_file(
        table,
        file,
        match.index,
        numbers=hours.get(file.shape, tuple(numbers)),
        dates=[m.name for m in schema.values() if m.kind == "date"],
    )
    ways = Ways(decimal=told.decimal, day_first=told.day_first, unit=settings.hours.unit,
                until=settings.study.analysis_date)  # fmt: skip
    return OpenFile(file, table, match, ways, schema)


def map_hours(files: Sequence[OpenFile], hider: Hider) -> None:
    """Fill in the coarsened hours of every engine, from all the files that tell of it."""
    found: dict[tuple[str, str], dict[float, bool]] = {}
    for f in files:
        last: dict[tuple[str, str], float] = {}
        for raw in f.table.rows:
            row = f.row(hider, raw)
            key = (normalise_id(row.engine), row.meter)
            own = found.setdefault(key, {0.0: True})
            for told, ends in _hours_of(f, row):
                hours = same_hours(told)
                own[hours] = own.get(hours, False) or ends
                last[key] = max(hours, last.get(key, 0.0))
        for key, hours in last.items():
            found[key][hours] = True  # the last that a file tells of an engine that runs on
    for key, all_hours in found.items():
        hider.maps[key] = rising(all_hours, hider.steps.hours_h)


def _hours_of(f: OpenFile, row: RowHider) -> Iterator[tuple[float, bool]]:
    """Yield each hour that a row tells of its engine, and whether it begins or ends something."""
    log = f.file.shape == "log"
    word = text(row.row.get("kind")) if log else ""
    kind = meaning_of(word, EVENTS_BY_WORD | {fold(w): k for w, k in f.file.kinds.items()})
    ends = log and kind not in GOES_ON
    told = {
        n: h
        for n, m in f.schema.items()
        if m.kind == "hours" and n != "life" and (h := row.hours(n)) is not None
    }
    end = next((told[n] for n in END_OF if n in told), None)
    for name, hours in told.items():
        if name not in SINCE_START:
            yield hours, ends or name in BEGIN_OR_END
        elif end is not None and end >= hours >= 0:
            yield end - hours, name == "since_overhaul_hours"


def write_file(f: OpenFile, hider: Hider, name: str, aside: dict[int, str]) -> Written:
    """Return a file written anew.

    Parameters
    ----------
    f : OpenFile
        The original.
    hider : Hider
        With the hours mapped.
    name : str
        What it is called from now on.
    aside : dict
        Rows that were set aside, with the reason.
    """
    heads, columns = _heads(f, hider)
    blocks: dict[str, list[tuple[int, list[str]]]] = {}
    for raw in f.table.rows:
        row = f.row(hider, raw)
        cells = _row(f, row, raw, [at for at, _ in heads], aside.get(raw.row, ""))
        own = normalise_id(row.engine) or f"\0{raw.row}"
        blocks.setdefault(own, []).append((raw.row, cells))
    order = _shuffled([b for _, b in sorted(blocks.items())])
    out = io.StringIO()
    writer = csv.writer(out, delimiter=f.file.delimiter or ",", lineterminator="\n")
    above = max(f.file.header_row - 1, 0)
    writer.writerows([["records"]] * above)
    writer.writerow([h for _, h in heads])
    places: dict[int, int] = {}
    for block in order:
        for was, cells in block:
            places[was] = above + 2 + len(places)
            writer.writerow(cells)
    if len(heads) > 1:
        writer.writerows([[""] * len(heads)] * f.table.n_blank)
    data = out.getvalue().encode(f.file.encoding or "utf-8", "replace")
    return Written(name=name, data=data, columns=columns, places=places)


def _heads(f: OpenFile, hider: Hider) -> tuple[list[tuple[int, str]], dict[str, str]]:
    """Return each column that leaves with its head, in the file's order, and the map of heads."""
    ours = {i: n for n, i in f.match.index.items()}
    heads: list[tuple[int, str]] = []
    columns: dict[str, str] = {}
    n_unused = 0
    for i, head in enumerate(f.table.header):
        name = ours.get(i)
        if name is not None:
            own = f.file.columns.get(name)
            if own is not None:
                heads.append((i, f"head {i + 1}" if hider.names.tells(head) else head))
                columns[name] = heads[-1][1]
            else:
                heads.append((i, name))
            continue
        if not head:
            continue
        n_unused += 1
        said = hint_of(head)
        word = said.word if said is not None and names_failure(said.word) else "column"
        heads.append((i, f"{word} {n_unused}" if word == "column" else f"{word}, {n_unused}"))
    return heads, columns


def _row(
    f: OpenFile, row: RowHider, raw: RawRow, positions: Sequence[int], reason: str
) -> list[str]:
    ours = {i: n for n, i in f.match.index.items()}
    out = []
    for at in positions:
        name = ours.get(at)
        if name in f.schema:
            out.append(row.cell(f.schema[str(name)]))
        elif is_blank(raw.cells[at]):
            out.append("")
        elif names_failure(f.table.header[at]):
            out.append(row.filled(raw.cells[at]))
        else:
            out.append(row.hinting(raw.cells[at]))
    if reason == "totals-row" and "engine" in f.match.index:
        out[list(positions).index(f.match.index["engine"])] = "Total"  # no sum survives coarsening
    if reason == "log-removed-twice" and "date" in f.match.index:
        # two days of one month would be one day, and the event one that was told twice
        out[list(positions).index(f.match.index["date"])] = ""
    if raw.row in f.table.short:
        out = [c for c, at in zip(out, positions, strict=True) if at < f.table.short[raw.row]]
    if raw.row in f.table.long:
        out.append(UNREAD)
    return out


def _shuffled(
    blocks: list[list[tuple[int, list[str]]]],
) -> list[list[tuple[int, list[str]]]]:
    """Return blocks of rows in an order drawn from what leaves."""
    texts = ["\n".join("\t".join(cells) for _, cells in b) for b in blocks]
    digest = hashlib.sha256("\0".join(sorted(texts)).encode()).digest()
    alike = sorted(range(len(blocks)), key=lambda i: texts[i])
    drawn = stream(int.from_bytes(digest[:4], "big"), "order of rows").permutation(len(blocks))
    return [blocks[alike[i]] for i in drawn]


__all__ = ["OpenFile", "TableError", "Written", "map_hours", "open_files", "write_file"]
