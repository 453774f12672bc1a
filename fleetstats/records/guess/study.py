"""Raw files to a guessed study: every sheet looked at, and the settings that all share."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path, PurePath

from fleetstats.core.errors import SettingError
from fleetstats.records.guess.guess import (
    LIKELY,
    OPEN,
    Given,
    Guess,
    GuessedSheet,
    GuessedStudy,
    PassedSheet,
)
from fleetstats.records.guess.returns import guess_returns
from fleetstats.records.guess.sheet import NOTHING_GIVEN, ReadSheet, read_sheet
from fleetstats.records.guess.ways import guess_analysis_date, guess_meter, guess_source
from fleetstats.study.record_settings import METERS
from fleetstats.study.study import MAX_FILES, STUDY_FILE
from fleetstats.tables.cells import text
from fleetstats.tables.grid import SheetGrid, open_grids
from fleetstats.tables.table import TableError
from fleetstats.vocabulary.fold import fold
from fleetstats.vocabulary.slugs import slug, suffix_of
from fleetstats.vocabulary.wording import count

LONGEST_NAME = 120
HOUR_SHAPES = ("lives", "log", "histories", "checks", "leakdown")


def guess_study(files: Sequence[str | Path], *, today: dt.date | None = None) -> GuessedStudy:
    """Guess what raw files mean: their sheets, columns, words, and how they write.

    Parameters
    ----------
    files : sequence of str or Path
        CSV, XLSX (every sheet) or Parquet.
    today : date, optional
        Dates after it are taken for slips of the pen; the day of the run where not given.

    Returns
    -------
    GuessedStudy
        The same for the same files and day.

    Raises
    ------
    SettingError
        If a file cannot be read, or no sheet holds records.
    """
    named = name_files([Path(f) for f in files])
    read: list[ReadSheet] = []
    passed: list[PassedSheet] = []
    for name, path in named.items():
        try:
            grids = open_grids(path, name)
        except TableError as e:
            raise SettingError(f"{name}: {e.finding.message}", e.finding.advice) from None
        mine, none = read_grids(grids)
        read += mine
        passed += none
    return gather(read, passed, named, today=today)


def read_grid(grid: SheetGrid, given: Given = NOTHING_GIVEN) -> ReadSheet | PassedSheet:
    """Guess one sheet by itself, which is then taken to be sent under its file's name."""
    return read_sheet(grid, guess_source(grid.file, grid.sheet, False), given)


def read_grids(
    grids: Sequence[SheetGrid],
    read: Callable[[SheetGrid], ReadSheet | PassedSheet] = read_grid,
) -> tuple[list[ReadSheet], list[PassedSheet]]:
    """Guess every sheet of one file; return those that hold records, and those that do not.

    `read` guesses one sheet; a caller that keeps what was guessed hands its own.
    """
    told = [read(g) for g in grids]
    mine = _named_apart([r for r in told if not isinstance(r, PassedSheet)])
    return mine, [p for p in told if isinstance(p, PassedSheet)]


def gather(
    read: Sequence[ReadSheet], passed: Sequence[PassedSheet], named: Mapping[str, Path], *,
    today: dt.date | None = None,
) -> GuessedStudy:  # fmt: skip
    """Return the study of sheets that were guessed; raises as `guess_study`."""
    if not read:
        why = " ".join(f"{p.place}: {p.reason}" for p in passed[:6])
        raise SettingError(
            f"No sheet holds records. {why}",
            "A table of records has a line of column names, and a column that names engines.",
        )
    if len(read) > MAX_FILES:
        raise SettingError(f"{len(read)} sheets hold records; the limit is {MAX_FILES}.")
    settings, sheets = share_settings(read, today or dt.date.today())
    return GuessedStudy(
        sheets=sheets, passed=tuple(passed), settings=tuple(settings), paths=dict(named)
    )


def name_files(paths: Sequence[Path]) -> dict[str, Path]:
    """Return the name that each file gets within a study: its own, made plain and unlike others."""
    out: dict[str, Path] = {}
    taken = {fold(STUDY_FILE)}
    for path in paths:
        plain = plain_name(path.name)
        stem, kind = plain[: -len(path.suffix) or None][:LONGEST_NAME], path.suffix
        name, k = f"{stem}{kind}", 1
        while fold(name) in taken:
            k += 1
            name = f"{stem}-{k}{kind}"
        taken.add(fold(name))
        out[name] = path
    return out


def plain_name(own: str) -> str:
    """Return a file's own name, or one of plain letters where its own holds odd signs."""
    if text(own) == own and not own.startswith("~") and not any(c in own for c in '\\/:*?"<>|'):
        return own
    return f"{slug(PurePath(own).stem) or 'records'}{suffix_of(own)}"


def _named_apart(read: list[ReadSheet]) -> list[ReadSheet]:
    """Return the sheets of one file, each with a source of its own where there are several."""
    if len(read) < 2:
        return read
    out = []
    for r in read:
        own = guess_source(r.sheet.file, r.sheet.sheet, True)
        settings = tuple(own if g.what == "source" else g for g in r.sheet.settings)
        out.append(replace(r, sheet=replace(r.sheet, settings=settings)))
    return out


def share_settings(
    read: Sequence[ReadSheet], today: dt.date, *, standard: str = ""
) -> tuple[list[Guess], tuple[GuessedSheet, ...]]:
    """Return the settings that the sheets share, and the sheets with their own meters.

    `standard` is the study's meter where it is settled.
    """
    hours = [r for r in read if r.sheet.shape.value in HOUR_SHAPES and r.engines]
    meters = guess_meter([(r.meter, r.meter_head, r.sheet.counts.n_rows) for r in hours])
    days: Counter[dt.date] = Counter()
    for r in read:
        days.update(r.dates)
    titles = [r.title_day for r in read if r.title_day is not None]
    out = [guess_analysis_date(days, today, titles), *meters]
    out += _minutes(hours)
    out += guess_returns(read)
    standard = standard or meters[0].value
    sheets = []
    for r in read:
        own: tuple[Guess, ...] = ()
        if r.meter and r.meter != standard:
            own = (Guess(what="meter", value=r.meter, sure=LIKELY,
                         reason=f"the head '{r.meter_head}' names it"),)  # fmt: skip
        elif r in hours and not r.meter and any(x.meter for x in hours):
            own = (Guess(what="meter", value="", sure=OPEN, alternatives=METERS,
                         reason="other sheets name their meter, this one does not",
                         effect=f"taken as {standard} hours until then"),)  # fmt: skip
        sheets.append(replace(r.sheet, settings=(*r.sheet.settings, *own)))
    return out, tuple(sheets)


def _minutes(hours: Sequence[ReadSheet]) -> list[Guess]:
    """Return the unit of the hours where heads say minutes."""
    heads = [r.minutes for r in hours if r.minutes]
    if not heads:
        return []
    reason = f"the head '{heads[0]}' says minutes"
    if len(heads) == len(hours):
        return [Guess(what="hours.unit", value="min", sure=LIKELY, reason=reason)]
    return [
        Guess(what="hours.unit", value="", sure=OPEN, alternatives=("h", "min"),
              reason=f"{reason} and {count(len(hours) - len(heads), 'sheet')} beside it "
              "not; a study has one unit", effect="taken as hours until then")
    ]  # fmt: skip
