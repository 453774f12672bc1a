"""A portfolio: many component families, in one table with a family column or a folder of studies.

Each family is a study of its own. Conventions that a whole file settles (decimal mark, order of
dates) are settled on the whole file, since a few rows of one family may not tell them.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from fleetstats import __version__
from fleetstats.core.errors import ReadError, SettingError
from fleetstats.core.provenance import SourceFile, digest_file
from fleetstats.core.value import Value, plain, value
from fleetstats.records.lives.life_cells import DATE_COLUMNS, HOUR_COLUMNS
from fleetstats.records.log.log_cells import LOG_HOURS
from fleetstats.records.mends.apply import MendedTable, with_mends
from fleetstats.records.mends.log import MendLog, read_mends
from fleetstats.records.readers import Opened
from fleetstats.records.set_aside import SetAside
from fleetstats.study.leaves import settings_digest
from fleetstats.study.record_settings import LIFE_SHAPES
from fleetstats.study.study import STUDY_FILE, RecordFile, Study, read_study
from fleetstats.tables.cells import is_blank, text
from fleetstats.tables.columns import field_words, match_columns
from fleetstats.tables.history_columns import find_columns
from fleetstats.tables.open_table import open_table
from fleetstats.tables.settle import settle_file
from fleetstats.tables.table import RawRow, RawTable, TableError
from fleetstats.vocabulary.fields.categories import CATEGORIES, Category
from fleetstats.vocabulary.fields.headers import plain_name
from fleetstats.vocabulary.fields.histories import HISTORY_FIELDS
from fleetstats.vocabulary.fields.history_heads import read_head
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.findings.reasons import say_aside
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.slugs import slug

MAX_FAMILIES = 100_000
MAX_NAME = 120

NO_FAMILY = "family-missing"
"""Reason of a row that names no family."""


@value
class Family(Value):
    """One family: a study, its tables if they were cut out of a larger one, and their digest.

    Parameters
    ----------
    name, slug : str
        As written, and as a file name.
    study : Study or None
        None where the study file cannot be read; `problem` then says why.
    opened : mapping or None
        Record file name and sheet to the table and its file; None reads the study's own files.
    digest : str
        Of everything that the family's results come from: rows, settings, version.
    """

    name: str
    slug: str
    study: Study | None
    opened: Mapping[tuple[str, str], Opened] | None
    digest: str
    problem: str = ""

    _not_in_dict = ("study", "opened")


@value
class FamilyList(Value):
    """The families of a portfolio, and the rows of its table that name none.

    Parameters
    ----------
    title : str
    families : tuple of Family
        In the order of their names.
    study : Study or None
        The study file of a table with a family column; None for a folder of studies.
    sources : tuple of SourceFile
        Files of the table; each study of a folder names its own.
    n_read : int
        Rows read of the table; 0 for a folder, whose studies account for their own.
    set_aside : tuple of SetAside
        Rows that name no family.
    n_blank : int
    """

    title: str
    families: tuple[Family, ...]
    study: Study | None = None
    sources: tuple[SourceFile, ...] = ()
    n_read: int = 0
    set_aside: tuple[SetAside, ...] = ()
    n_blank: int = 0

    _not_in_dict = ("study",)


def read_portfolio(folder: str | Path) -> FamilyList:
    """Read a portfolio: a study folder whose ``[portfolio] family`` names a column, or a folder
    that holds study folders.

    Parameters
    ----------
    folder : str or Path
        Either of the two.

    Returns
    -------
    FamilyList

    Raises
    ------
    SettingError
        If the folder is neither, or the study file of a table is wrong. A wrong study file among
        others is that family's problem alone.
    ReadError
        If a table cannot be opened or lacks its family column.
    """
    root = Path(folder)
    if root.is_file() or (root / STUDY_FILE).is_file():
        return _from_table(read_study(root))
    studies = sorted(p.parent for p in root.glob(f"*/{STUDY_FILE}")) if root.is_dir() else []
    if not studies:
        raise SettingError(
            f"'{root}' holds no portfolio.",
            f"A portfolio is a folder of study folders, or a study whose {STUDY_FILE} names the "
            "family column under [portfolio].",
        )
    if len(studies) > MAX_FAMILIES:
        raise SettingError(
            f"'{root}' holds {len(studies):,} studies.", f"At most {MAX_FAMILIES:,}."
        )
    families = tuple(_from_folder(p) for p in studies)
    return FamilyList(title=root.resolve().name, families=families)


def _slug(name: str) -> str:
    short = slug(name, longest=60)
    # Names that differ only in signs need slugs that differ.
    return short if short == name else f"{short or 'x'}-{_digest(name)[:8]}"


def _digest(*parts: Any) -> str:
    h = hashlib.sha256()
    for part in parts:
        h.update(json.dumps(plain(part), sort_keys=True).encode() + b"\n")
    return h.hexdigest()


def _from_folder(folder: Path) -> Family:
    name = text(folder.name)[:MAX_NAME]
    try:
        study = _alone(read_study(folder))
        serials = study.settings.fleet.serials_file
        more = [study.folder.joinpath(*serials.replace("\\", "/").split("/"))] if serials else []
        paths = [*(f.path for f in study.files), *more]
        digest = _digest(__version__, settings_digest(study), *map(digest_file, paths))
    except (SettingError, OSError) as e:
        return Family(name=name, slug=_slug(name), study=None, opened=None, digest="",
                      problem=str(e))  # fmt: skip
    return Family(name=name, slug=_slug(name), study=study, opened=None, digest=digest)


def _alone(study: Study) -> Study:
    if study.settings.portfolio.family:
        raise SettingError(
            "The study file names a family column, so it is a portfolio of its own.",
            "Run it alone, or take [portfolio] out.",
        )
    return study


def _from_table(study: Study) -> FamilyList:
    header = study.settings.portfolio.family
    if not header:
        raise SettingError(
            f"{STUDY_FILE}: portfolio.family is not set, so this is one study.",
            "Name the header of the family column under [portfolio], or give a folder of studies.",
        )
    parts: dict[str, dict[tuple[str, str], list[RawRow]]] = {}
    names: dict[str, str] = {}
    tables: dict[tuple[str, str], tuple[RecordFile, MendedTable, SourceFile, int]] = {}
    aside: list[SetAside] = []
    log = read_mends(study)
    for record_file in study.of_shape(*LIFE_SHAPES):
        mends, at = _open(record_file, header, study, log)
        table = mends.table
        file = _settle(record_file, table, study)
        source = SourceFile(
            name=file.file, size_bytes=file.path.stat().st_size, sha256=digest_file(file.path),
            rows=table.n_read,
        )  # fmt: skip
        place = (file.file, file.sheet)
        tables[place] = (file, mends, source, at)
        for row in table.rows:
            name = "" if is_blank(row.cells[at]) else text(row.cells[at])[:MAX_NAME]
            if not fold(name):
                aside.append(
                    SetAside(file=table.file, sheet=table.sheet, row=row.row, reason=NO_FAMILY,
                             message=say_aside(NO_FAMILY, header=header), source=file.source)
                )  # fmt: skip
                continue
            names.setdefault(fold(name), name)
            parts.setdefault(fold(name), {}).setdefault(place, []).append(row)
    if len(parts) > MAX_FAMILIES:
        raise ReadError(
            f"The column '{header}' names {len(parts):,} families.",
            f"At most {MAX_FAMILIES:,}; is it the column of the engine?",
        )
    families = [
        _cut(study, names[key], {p: (tables[p], rows) for p, rows in parts[key].items()})
        for key in sorted(parts)
    ]
    return FamilyList(
        title=study.settings.study.title,
        families=tuple(families),
        study=study,
        sources=tuple(t[2] for t in tables.values()),
        n_read=sum(t[1].table.n_read for t in tables.values()),
        set_aside=tuple(aside),
        n_blank=sum(t[1].table.n_blank for t in tables.values()),
    )


def _open(
    record_file: RecordFile, header: str, study: Study, log: MendLog
) -> tuple[MendedTable, int]:
    """Return a table, mended, and the place of its family column."""
    try:
        mends = with_mends(open_table(record_file), record_file, study, log)
    except TableError as e:
        raise ReadError(str(e.finding)) from None
    if mends.findings:
        raise ReadError("\n".join(str(f) for f in mends.findings))
    table = mends.table
    heads = [h.strip() for h in table.header]
    plains = [plain_name(h) for h in heads]
    if header.strip() in heads:
        return mends, heads.index(header.strip())
    if plain_name(header) in plains:
        return mends, plains.index(plain_name(header))
    shown = ", ".join(f"'{h[:40]}'" for h in heads[:12] if h)
    raise ReadError(
        f"{record_file.file}: there is no column '{header}' to name the family.",
        f"portfolio.family names a header; the file has: {shown}.",
    )


def _settle(record_file: RecordFile, table: RawTable, study: Study) -> RecordFile:
    """Return the file's description with what its whole table tells of decimals and dates."""
    log = record_file.shape == "log"
    covariates = study.settings.groups.covariates
    categories = study.settings.categories.columns
    numbers: tuple[str, ...] = LOG_HOURS if log else (*HOUR_COLUMNS, *covariates)
    dates: tuple[str, ...] = ("date",) if log else DATE_COLUMNS
    if record_file.shape == "histories":
        told_of = find_columns(table, record_file, categories)
        match, numbers, dates = told_of.match, told_of.hour_names, told_of.date_names
    else:
        fields = LOG_FIELDS if log else LIFE_FIELDS
        match = match_columns(table, fields, record_file.columns, covariates, categories)
    told, odd = settle_file(table, record_file, match.index, numbers=numbers, dates=dates)
    order = {True: "day-first", False: "month-first", None: "auto"}[told.day_first]
    # what the whole file does not tell is left for each family to say of its own rows
    open_ = told.decimal == "mixed" or any(f.code == "decimal-ambiguous" for f in odd)
    decimal = "auto" if open_ else told.decimal
    return replace(record_file, decimal=decimal, date_order=order)


def _cut(
    study: Study,
    name: str,
    parts: Mapping[
        tuple[str, str], tuple[tuple[RecordFile, MendedTable, SourceFile, int], list[RawRow]]
    ],
) -> Family:
    """Return one family as a study of its own rows."""
    s = study.settings
    settings = replace(
        s,
        study=replace(s.study, title=f"{s.study.title}: {name}"),
        portfolio=replace(s.portfolio, family=""),
    )
    opened = {}
    told = []
    for place, ((file, mends, source, at), rows) in parts.items():
        table = mends.table
        drop = not _is_read(table.header[at], file, study)
        kept = tuple(_without(r, at) for r in rows) if drop else tuple(rows)
        numbers = {r.row for r in rows}
        head = table.header
        opened[place] = Opened(
            source=replace(source, rows=len(rows)),
            table=replace(
                table,
                header=(*head[:at], *head[at + 1 :]) if drop else head,
                rows=kept,
                n_blank=0,
                short={k: n for k, n in table.short.items() if k in numbers},
                long={k: n for k, n in table.long.items() if k in numbers},
                merged=table.merged & numbers,
                formulas=table.formulas & numbers,
                aside={k: why for k, why in table.aside.items() if k in numbers},
            ),
            mended=tuple(m for m in mends.mended if m.mend.row in numbers),
        )
        told.append([file, [(r.row, [repr(c) for c in r.cells]) for r in kept]])
        told += [[*opened[place].table.aside.items()]] if opened[place].table.aside else []
    own = Study(
        folder=study.folder,
        settings=settings,
        files=tuple(file for (file, *_), _ in parts.values()),
        chosen=study.chosen - {"portfolio.family"},
        source=study.source,
    )
    return Family(
        name=name, slug=_slug(name), study=own, opened=opened,
        digest=_digest(__version__, settings_digest(own), told),
    )  # fmt: skip


FIELDS_OF = {"lives": LIFE_FIELDS, "log": LOG_FIELDS, "histories": HISTORY_FIELDS}
"""The columns of each shape that become lives."""


def _is_read(header: str, file: RecordFile, study: Study) -> bool:
    """Return whether the family column is one that the readers use as well."""
    if file.shape == "histories" and read_head(header) is not None:
        return True
    fields = FIELDS_OF[file.shape]
    words = study.settings.categories.columns
    ours = (*file.columns.values(), *study.settings.groups.covariates, *words)
    heads = {plain_name(h) for n in words for h in CATEGORIES.get(n, Category()).headers}
    known = plain_name(header) in field_words(fields) or plain_name(header) in heads
    return known or header.strip() in {o.strip() for o in ours}


def _without(row: RawRow, at: int) -> RawRow:
    return RawRow(row=row.row, cells=(*row.cells[:at], *row.cells[at + 1 :]))
