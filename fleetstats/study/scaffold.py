"""A new study's folder: the study file with every setting explained, and example records."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
import textwrap
import typing
from collections.abc import Iterable, Mapping
from dataclasses import Field, fields
from pathlib import Path
from typing import Any

from fleetstats.core.errors import SettingError
from fleetstats.core.files import write_whole
from fleetstats.study.condition_checks import FIELDS as CONDITION_FIELDS
from fleetstats.study.record_settings import RecordKeys
from fleetstats.study.schema import FLAT_TABLES, default_of, range_text
from fleetstats.study.settings import Settings
from fleetstats.study.study import STUDY_FILE
from fleetstats.vocabulary.endings import ENDINGS
from fleetstats.vocabulary.fields.histories import OFFERED_FIELDS
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS
from fleetstats.vocabulary.findings import FILE_FINDINGS, LIFE_FINDINGS

WIDTH = 92
LIVES_FILE, LOG_FILE, HISTORIES_FILE = "lives.csv", "log.csv", "histories.csv"
GIVEN = ("file", "shape", "source")
MAPPINGS = ("columns", "endings", "kinds", "causes", "renews")
"""Keys of a record file that are tables of their own, shown below the others."""

EXAMPLE_LIVES = (
    {"engine": "E-0101", "build": "B1", "exit_hours": "812", "ending": "running",
     "in_service_date": "2019-04-01", "last_reading_date": "2025-12-20",
     "note": "example: followed from new"},
    {"engine": "E-0102", "build": "B1", "entry_hours": "600", "exit_hours": "1180",
     "last_good_hours": "1130", "ending": "found-at-check", "cause": "exhaust valve",
     "confirmed": "yes", "in_service_date": "2014-05-12", "observed_from_date": "2019-06-30",
     "ended_date": "2025-08-09", "note": "example: first heard of at 600 h"},
    {"engine": "E-0103", "build": "B2", "exit_hours": "1204", "ending": "planned-overhaul",
     "ended_date": "2025-03-15", "in_service_date": "2012-02-20", "found_at_teardown": "no",
     "note": "example: clean at the teardown"},
)  # fmt: skip
EXAMPLE_LOG = (
    {"engine": "E-0201", "date": "2019-04-01", "hours": "0", "kind": "installed", "build": "B1"},
    {"engine": "E-0201", "date": "2024-05-17", "hours": "760", "kind": "check"},
    {"engine": "E-0201", "date": "2025-06-02", "hours": "812.4", "kind": "failed",
     "cause": "exhaust valve", "confirmed": "yes", "note": "example"},
)  # fmt: skip
EXAMPLE_HISTORIES = (
    {"engine": "E-0301", "in_service_date": "2014-05-12", "failed_at_1": "812.4",
     "failure_1_date": "2019-06-02", "cause_1": "exhaust valve", "work_done_1": "overhaul",
     "back_in_service_at_1": "812.4", "hours_now": "1180", "last_reading_date": "2025-12-09",
     "ending": "running", "note": "example: overhauled after a failure"},
    {"engine": "E-0302", "in_service_date": "2016-03-01", "hours_now": "640",
     "last_reading_date": "2025-12-11", "ending": "running", "note": "example: nothing happened"},
)  # fmt: skip


def write_scaffold(folder: str | Path) -> tuple[Path, ...]:
    """Lay out a new study: `study.toml` with every setting explained, and example records.

    Parameters
    ----------
    folder : str or Path
        Made where it is not there. Nothing in it is ever overwritten.

    Returns
    -------
    tuple of Path
        The files written.

    Raises
    ------
    SettingError
        If a file of the same name is there, or the folder cannot be made or written to; then
        nothing is written.
    """
    root = Path(folder)
    title = re.sub(r"[^\w\- ]+", "", root.resolve().name, flags=re.ASCII).strip() or "Our fleet"
    texts = {
        root / STUDY_FILE: study_template(title=title),
        root / LIVES_FILE: table_text(
            [f.name for f in LIFE_FIELDS if f.name != "call"], EXAMPLE_LIVES
        ),
        root / LOG_FILE: table_text([f.name for f in LOG_FIELDS], EXAMPLE_LOG),
        root / HISTORIES_FILE: table_text([f.name for f in OFFERED_FIELDS], EXAMPLE_HISTORIES),
    }
    there = [p for p in texts if p.exists() or p.is_symlink()]
    if there:
        raise SettingError(
            f"'{there[0]}' is there already; nothing was written.",
            "Name a new folder, or move the file away.",
        )
    written: list[Path] = []
    try:
        root.mkdir(parents=True, exist_ok=True)
        for path, text in texts.items():
            write_whole(path, text, replace=False)
            written.append(path)
    except BaseException as e:  # also on Ctrl-C: half a study would be in the way of the next
        for path in written:
            path.unlink(missing_ok=True)
        if not isinstance(e, OSError):
            raise
        raise SettingError(
            f"The study cannot be laid out in '{root}' ({e.strerror or type(e).__name__}).",
            "Name a folder that you may write to.",
        ) from None
    return tuple(written)


def table_text(names: list[str], rows: Iterable[dict[str, str]]) -> str:
    """Return a CSV text with a header and some rows."""
    out = io.StringIO()
    writer = csv.DictWriter(out, names, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def study_template(*, title: str = "Our fleet", day: dt.date = dt.date(2025, 12, 31)) -> str:
    """Return a study file with every setting, its meaning, limits and default.

    Settings that hold their default stand as comments; taking away the ``#`` changes nothing
    until the value is changed.
    """
    out = [
        "# A study: what is asked of which records. Every line that begins with # is a comment.",
        "# A setting in a comment shows its default; take the # away to choose another value.",
        "",
    ]
    hints = typing.get_type_hints(Settings)
    given = {"study.title": title, "study.analysis_date": day}
    for table in fields(Settings):
        out += _table(table.name, hints[table.name], given)
    out += [
        "# [[records]], once for each file: which it is, and how to read it. Our column names are",
        "# those in the example files; your own names are mapped under [records.columns].",
        "",
        "[[records]]",
        f"file = {toml_text(LIVES_FILE)}",
        'shape = "lives"',
        'source = "example"',
    ]
    simple = [f for f in fields(RecordKeys) if f.name not in (*GIVEN, *MAPPINGS)]
    out += [x for f in simple for x in _key(f, chosen=None)]  # fmt: skip
    out += [
        "",
        "# [records.columns]",
        '# exit_hours = "Total time"',
        "",
        "# [records.endings]",
        *(f'# "{word}" = "{word}"    # {meaning}' for word, meaning in ENDINGS.items()),
        "",
        "# A log has one row for each event, and becomes lives by replaying it:",
        "# [[records]]",
        f"# file = {toml_text(LOG_FILE)}",
        '# shape = "log"',
        '# source = "example log"',
        "",
        *_wrapped(
            "Histories have one row for each engine, and columns for what happened to it, any "
            "number of times; a map says what each repair renewed, all, part or nothing:"
        ),
        "# [[records]]",
        f"# file = {toml_text(HISTORIES_FILE)}",
        '# shape = "histories"',
        '# source = "example histories"',
        "# [records.renews]",
        '# "overhaul" = "all"',
        "",
        *_condition(),
        "",
    ]
    return "\n".join(out)


def _condition() -> list[str]:
    out = ["# Checks, leak-down readings and bench runs feed chapters of their own; their columns:"]
    for shape, columns in CONDITION_FIELDS.items():
        names = ", ".join(f.name for f in columns)
        out += _wrapped(f'shape = "{shape}": {names}')
    return out


def setting_lines(
    name: str, given: Mapping[str, Any], notes: Mapping[str, str], left: Mapping[str, str]
) -> list[str]:
    """Return the lines of one table of settings, each key with its meaning, limits and value.

    Parameters
    ----------
    name : str
        The table.
    given : mapping
        Values that are stated, by ``table.key``; every other key stands as a comment.
    notes : mapping
        What to say beside a value, by ``table.key``.
    left : mapping
        Keys that are left to be filled in, each with what to say.
    """
    lines = _table(name, typing.get_type_hints(Settings)[name], dict(given))
    out = []
    for line in lines:
        told = re.match(r"(?:# )?([a-z_0-9]+) =", line)
        key = f"{name}.{told[1]}" if told else ""
        if key in left:
            line = f'# {key.partition(".")[2]} = "…"    {left[key]}'
        elif key in given and key in notes:
            line = f"{line}    {notes[key]}"
        out.append(line)
    return out


def _table(name: str, cls: Any, given: dict[str, Any]) -> list[str]:
    doc = str(cls.__doc__ or "").split("\n")[0]
    out = [*_wrapped(doc), f"[{name}]"]
    if name in FLAT_TABLES:
        stops = [
            k for k in LIFE_FINDINGS.values() if k.usual == "stop" and k.code not in FILE_FINDINGS
        ]
        out += [f'# {k.code} = "stop"    # {k.meaning}' for k in stops]
    else:
        for f in fields(cls):
            out += _key(f, chosen=given.get(f"{name}.{f.name}"))
    return [*out, ""]


def _key(f: Field[Any], *, chosen: Any) -> list[str]:
    meta = f.metadata
    doc = meta["doc"]
    limits = [f"in {meta['unit']}"] if meta["unit"] else []
    words = [toml_text(c) for c in meta["choices"] if c]
    limits += [f"one of {', '.join(words)}"] if words else []
    limits += [range_text(meta)] if range_text(meta) else []
    if limits:
        doc = f"{doc.rstrip('.')} ({'; '.join(limits)})."
    default = default_of(f)
    if chosen is not None:
        line = f"{f.name} = {toml_text(chosen)}"
    elif default is None:
        line = f"# {f.name} =    (not set)"
    elif isinstance(default, dict):
        line = f"# {f.name} = {{}}"
    else:
        line = f"# {f.name} = {toml_text(default)}"
    return [*_wrapped(doc), line]


def _wrapped(text: str) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(text, WIDTH, break_on_hyphens=False)]


def toml_text(value: Any) -> str:
    """Return a setting's value as TOML writes it."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return "[" + ", ".join(toml_text(v) for v in value) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {toml_text(v)}" for k, v in value.items()) + "}"
    return repr(value)
