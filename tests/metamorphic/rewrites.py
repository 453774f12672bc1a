"""Ways to write the same facts otherwise: each takes the text of a study and returns another."""

from __future__ import annotations

import dataclasses
import itertools
import random
import re
from collections.abc import Callable
from decimal import Decimal, InvalidOperation

from study_folder import HOURS, NUMBERS, RecordText, StudyText, iso_parts

SEED = 20260711
"""Seed of every choice that a rewriting makes."""


# Spelling


def respell(text: str, rng: random.Random) -> str:
    """Write a word with other case, and hyphens, underscores or blanks in place of each other."""
    case = rng.choice((str.upper, str.lower, str.title, str))
    for sign in "-_":
        text = text.replace(sign, " ")
    return case(text).replace(" ", rng.choice((" ", "-", "_", "  ")))


def _respell_cells(study: StudyText, *names: str) -> StudyText:
    rng = random.Random(SEED)
    out = study.copy()
    for f in out.files:
        f.map_cells(names, lambda cell: respell(cell, rng))
    return out


def respell_ids(study: StudyText) -> StudyText:
    return _respell_cells(study, "engine")


def respell_causes(study: StudyText) -> StudyText:
    return _respell_cells(study, "cause", "mode")


def respell_causes_of_lives(study: StudyText) -> StudyText:
    """Respell causes where lives end only, so that they differ from those of the checks."""
    rng = random.Random(SEED)
    out = study.copy()
    for f in out.of_shape("lives", "log"):
        f.map_cells(("cause",), lambda cell: respell(cell, rng))
    return out


def respell_words(study: StudyText) -> StudyText:
    return _respell_cells(study, "ending", "kind", "confirmed", "action", "result", "method",
                          "temperature", "leak_path", "ended", "component")  # fmt: skip


def respell_builds(study: StudyText) -> StudyText:
    return _respell_cells(study, "build")


def respell_settings(study: StudyText) -> StudyText:
    """Respell every cause and mode that the study file names."""
    rng = random.Random(SEED)
    out = study.copy()
    for table, key in (
        ("question", "causes"),
        ("question", "not_renewed_causes"),
        ("check", "undetectable_causes"),
        ("bench", "field_causes"),
    ):
        keys = out.settings.get(table, {})
        if key in keys:
            keys[key] = [respell(c, rng) for c in keys[key]]
    bench = out.settings.get("bench", {})
    if "mode" in bench:
        bench["mode"] = respell(bench["mode"], rng)
    return out


# Figures and dates


def _decimal(text: str) -> Decimal | None:
    try:
        return Decimal(text.replace(",", "."))
    except InvalidOperation:
        return None


def _with_point(text: str) -> str:
    return text if _decimal(text) is None else text.replace(",", ".")


def _number(text: str, change: Callable[[Decimal], Decimal], tail: str = "") -> str:
    """Change a number and write it with the mark that it had; leave what is no number."""
    x = _decimal(text)
    if x is None:
        return text
    out = format(change(x).normalize(), "f") + tail
    return out.replace(".", ",") if "," in text else out


def in_minutes(study: StudyText) -> StudyText:
    """Write all hours in minutes. 60 times a decimal, divided by 60, is the same double again."""
    out = study.copy()
    out.table("hours")["unit"] = "min"
    for f in out.files:
        f.map_cells(HOURS[f.shape], lambda cell: _number(cell, lambda x: 60 * x))
    return out


def with_long_lives(study: StudyText) -> StudyText:
    """Double all hours, so that lives run past what a limit on minutes read as hours lets in."""
    out = study.copy()
    for f in out.files:
        f.map_cells(HOURS[f.shape], lambda cell: _number(cell, lambda x: 2 * x))
    return out


def long_in_minutes(study: StudyText) -> StudyText:
    return in_minutes(with_long_lives(study))


def _with_marks(study: StudyText, decimal: str, delimiter: str, *, told: bool) -> StudyText:
    out = study.copy()
    for f in out.files:
        f.map_cells(
            NUMBERS[f.shape],
            lambda cell: cell if _decimal(cell) is None else re.sub("[.,]", decimal, cell),
        )
        f.delimiter = delimiter
        if told:
            f.entry |= {"decimal": decimal, "delimiter": delimiter}
    return out


def with_commas(study: StudyText) -> StudyText:
    return _with_marks(study, ",", ";", told=True)


def with_commas_untold(study: StudyText) -> StudyText:
    return _with_marks(study, ",", ";", told=False)


def with_tabs(study: StudyText) -> StudyText:
    return _with_marks(study, ".", "\t", told=False)


def _with_dates(study: StudyText, order: str, mark: str) -> StudyText:
    out = study.copy()

    def change(cell: str) -> str:
        parts = iso_parts(cell)
        if parts is None:
            return cell
        year, month, day = parts
        first = (day, month) if order == "day-first" else (month, day)
        return mark.join((*first, year))

    for f in out.files:
        names = [n for n in f.places() if n.endswith("date")]
        f.map_cells(names, change)
        f.entry["date_order"] = order
    return out


def day_first(study: StudyText) -> StudyText:
    return _with_dates(study, "day-first", ".")


def month_first(study: StudyText) -> StudyText:
    return _with_dates(study, "month-first", "/")


def _whole(study: StudyText, tail: str) -> StudyText:
    out = study.copy()
    for f in out.files:
        f.map_cells(HOURS[f.shape], lambda cell: _number(cell, lambda x: Decimal(round(x)), tail))
    return out


def in_whole_hours(study: StudyText) -> StudyText:
    """Round all hours and write them without decimals."""
    return _whole(study, "")


def in_whole_hours_with_decimal(study: StudyText) -> StudyText:
    """Round all hours and write them with one decimal."""
    return _whole(study, ".0")


# Rows, columns and files


def shuffle_rows(study: StudyText) -> StudyText:
    """Put rows into another order; the rows of one engine in a log keep theirs among themselves.

    On one day a removal stands before the teardown that follows it, and only the order says so.
    """
    rng = random.Random(SEED)
    out = study.copy()
    for f in out.files:
        if f.shape in ("log", "leakdown"):
            at = f.places()["engine"]
            groups: dict[str, list[list[str]]] = {}
            for row in f.rows:
                groups.setdefault(row[at], []).append(row)
            keys = [row[at] for row in f.rows]
            rng.shuffle(keys)
            f.rows = [groups[k].pop(0) for k in keys]
        else:
            rng.shuffle(f.rows)
    return out


def shuffle_columns(study: StudyText) -> StudyText:
    rng = random.Random(SEED)
    out = study.copy()
    for f in out.files:
        order = list(range(len(f.header)))
        rng.shuffle(order)
        f.header = [f.header[i] for i in order]
        f.rows = [[row[i] for i in order] for row in f.rows]
    return out


def rename_columns(study: StudyText) -> StudyText:
    """Give each column a name that says nothing, and map it in the study file."""
    out = study.copy()
    for f in out.files:
        mapped = {}
        for ours, i in f.places().items():
            f.header[i] = f"Spalte {i + 1}"
            mapped[ours] = f.header[i]
        f.entry["columns"] = mapped
    return out


def _split_file(f: RecordText) -> tuple[RecordText, RecordText]:
    """Part one file between two rows; in a log, between two engines."""
    at = len(f.rows) // 2
    if f.shape != "lives":
        name = f.places().get("engine", 0)
        while at < len(f.rows) and f.rows[at][name] == f.rows[at - 1][name]:
            at += 1
    first, second = dataclasses.replace(f), dataclasses.replace(f)
    first.rows, second.rows = f.rows[:at], f.rows[at:]
    second.entry = dict(f.entry) | {"file": "second-" + f.entry["file"]}
    second.header = list(f.header)
    return first, second


def split_files(study: StudyText) -> StudyText:
    out = study.copy()
    out.files = [half for f in out.files for half in _split_file(f)]
    return out


def split_logs(study: StudyText) -> StudyText:
    """Part each log into three files, both times between two rows of one engine.

    Rows of one engine may stand in all three, as where a shop begins a file each year.
    """
    out = study.copy()
    files = []
    for f in out.files:
        if f.shape != "log":
            files.append(f)
            continue
        name = f.places()["engine"]
        cuts = [0]
        for share in (1 / 3, 2 / 3):
            at = round(share * len(f.rows))
            while f.rows[at][name] not in {row[name] for row in f.rows[:at]}:
                at += 1
            cuts.append(at)
        for i, (low, high) in enumerate(itertools.pairwise([*cuts, len(f.rows)])):
            part = dataclasses.replace(f, rows=f.rows[low:high], header=list(f.header))
            part.entry = dict(f.entry) | {"file": f"{i}-{f.entry['file']}"}
            files.append(part)
    out.files = files
    return out


def has_log(study: StudyText) -> bool:
    return any(f.shape == "log" for f in study.files)


def add_empty_file(study: StudyText) -> StudyText:
    """Add, for each shape, a file with column names and no row."""
    out = study.copy()
    for f in [*{f.shape: f for f in out.files}.values()]:
        empty = dataclasses.replace(f, rows=[], header=list(f.header))
        empty.entry = dict(f.entry) | {"file": "empty-" + f.entry["file"], "source": "silent club"}
        out.files.append(empty)
    return out


UNREADABLE = "12o,4"
"""Hours in which a letter stands for a digit."""


def add_file_set_aside(study: StudyText) -> StudyText:
    """Add a file of lives of which every row is set aside with a finding, as the study says."""
    out = study.copy()
    out.table("treat")["hours-unreadable"] = "set-aside"
    known = next(f for f in out.files if f.shape in ("lives", "log")).values("engine")
    rows = [[engine, UNREADABLE, "running"] for engine in known[:3]]
    entry = {"file": "returned.csv", "shape": "lives", "source": "odd club"}
    out.files.append(RecordText(entry, ["engine", "exit_hours", "ending"], rows))
    return out


def merge_lives(study: StudyText) -> StudyText:
    """Put all files of lives into one that says in each row what the study file said of it."""
    out = study.copy()
    lives = out.of_shape("lives")
    names = list(dict.fromkeys(n for f in lives for n in f.places()))
    names += [n for n in ("source", "meter") if n not in names]
    rows = []
    for f in lives:
        f.map_cells(NUMBERS["lives"], _with_point)
        places = f.places()
        for row in f.rows:
            told = {n: row[i] for n, i in places.items()}
            told.setdefault("source", f.entry.get("source", ""))
            told.setdefault("meter", f.entry.get("meter", ""))
            rows.append([told.get(n, "") for n in names])
    at = out.files.index(lives[0])
    out.files = [f for f in out.files if f not in lives]
    entry = {"file": "merged.csv", "shape": "lives", "source": "all clubs"}
    out.files.insert(at, RecordText(entry, names, rows))
    return out


def only_lives(study: StudyText) -> bool:
    return all(f.shape == "lives" for f in study.files)


def double_by_rows(study: StudyText) -> StudyText:
    """Write every life a second time, under another engine's name."""
    out = study.copy()
    for f in out.files:
        at = f.places()["engine"]
        second = [list(row) for row in f.rows]
        for row in second:
            row[at] = f"{row[at]}-B" if row[at] else ""
        f.rows = [row for pair in zip(f.rows, second, strict=True) for row in pair]
    return out


def double_by_count(study: StudyText) -> StudyText:
    """Say in a column that each row stands for two engines."""
    out = study.copy()
    for f in out.files:
        f.header = [*f.header, "count"]
        f.rows = [[*row, "2"] for row in f.rows]
    return out


def two_of_lives(study: StudyText) -> bool:
    return len(study.of_shape("lives")) > 1


def much_at_once(study: StudyText) -> StudyText:
    """Write the study as another clerk might: names, marks, dates, rows and columns at once."""
    for change in (split_files, respell_ids, shuffle_rows, shuffle_columns, with_commas, day_first,
                   rename_columns, in_minutes):  # fmt: skip
        study = change(study)
    return study
