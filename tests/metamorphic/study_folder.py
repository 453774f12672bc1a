"""A study folder as text that can be rewritten: its settings and the cells of its record files.

The same facts can be written in many ways. Here a folder is read as cells of text, without a
meaning given to any, changed, and written anew; what the tool makes of either is compared in
`test_metamorphic.py`.
"""

from __future__ import annotations

import copy
import csv
import datetime as dt
import io
import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fleetstats.tables.columns import field_words, plain_name
from fleetstats.vocabulary.fields.bench import BENCH_FIELDS
from fleetstats.vocabulary.fields.checks import CHECK_FIELDS
from fleetstats.vocabulary.fields.leakdown import LEAKDOWN_FIELDS
from fleetstats.vocabulary.fields.lives import LIFE_FIELDS
from fleetstats.vocabulary.fields.log import LOG_FIELDS

FIELDS = {
    "lives": LIFE_FIELDS,
    "log": LOG_FIELDS,
    "checks": CHECK_FIELDS,
    "leakdown": LEAKDOWN_FIELDS,
    "bench": BENCH_FIELDS,
}
HOURS = {shape: tuple(f.name for f in fields if f.unit == "h") for shape, fields in FIELDS.items()}
"""Columns that hold hours, by shape."""
NUMBERS = {
    "lives": HOURS["lives"],
    "log": (*HOURS["log"], "cost"),
    "checks": (*HOURS["checks"], "value"),
    "leakdown": (*HOURS["leakdown"], "reading", "supply", "reference"),
    "bench": ("stress", "life"),
}
"""Columns that hold numbers with a decimal mark, by shape."""

_ISO = re.compile(r"(\d{4})-(\d{2})-(\d{2})")


@dataclass
class RecordText:
    """One record file: its entry in the study file, its header and its cells, all as text."""

    entry: dict[str, Any]
    header: list[str]
    rows: list[list[str]]
    delimiter: str = ","

    @property
    def shape(self) -> str:
        return str(self.entry["shape"])

    def places(self) -> dict[str, int]:
        """Return our column names and where they stand in the header."""
        words = field_words(FIELDS[self.shape])
        mapped = {
            plain_name(theirs): ours for ours, theirs in self.entry.get("columns", {}).items()
        }
        out: dict[str, int] = {}
        for i, h in enumerate(self.header):
            ours = mapped.get(plain_name(h)) or words.get(plain_name(h))
            if ours is not None:
                out.setdefault(ours, i)
        return out

    def map_cells(self, names: Any, change: Any) -> None:
        """Rewrite every cell that is not empty in the columns of these names of ours."""
        at = [i for ours, i in self.places().items() if ours in names]
        for row in self.rows:
            for i in at:
                if row[i]:
                    row[i] = change(row[i])

    def values(self, name: str) -> list[str]:
        """Return the cells of one column of ours; empty when the file has none."""
        at = self.places().get(name)
        return [] if at is None else [row[at] for row in self.rows]


@dataclass
class StudyText:
    """A study folder: `settings` without its record files, and the record files."""

    settings: dict[str, Any]
    files: list[RecordText] = field(default_factory=list)

    def of_shape(self, *shapes: str) -> list[RecordText]:
        return [f for f in self.files if f.shape in shapes]

    def copy(self) -> StudyText:
        return copy.deepcopy(self)

    def table(self, name: str) -> dict[str, Any]:
        """Return a table of the study file, made where there is none."""
        out: dict[str, Any] = self.settings.setdefault(name, {})
        return out

    def write(self, folder: Path) -> Path:
        """Write the folder anew and return it."""
        folder.mkdir(parents=True, exist_ok=True)
        for f in self.files:
            out = io.StringIO()
            writer = csv.writer(out, delimiter=f.delimiter, lineterminator="\n")
            writer.writerow(f.header)
            writer.writerows(f.rows)
            (folder / f.entry["file"]).write_text(out.getvalue(), encoding="utf-8")
        (folder / "study.toml").write_text(self.toml(), encoding="utf-8")
        return folder

    def toml(self) -> str:
        tables = dict(self.settings) | {"records": [f.entry for f in self.files]}
        lines: list[str] = []
        for name, table in tables.items():
            for one in table if isinstance(table, list) else [table]:
                lines.append(f"[[{name}]]" if isinstance(table, list) else f"[{name}]")
                lines += [f"{_key(k)} = {_toml(v)}" for k, v in one.items()]
                lines.append("")
        return "\n".join(lines)


def read_text(folder: Path) -> StudyText:
    """Read a study folder as text."""
    settings = tomllib.loads((folder / "study.toml").read_text("utf-8"))
    files = []
    for entry in settings.pop("records"):
        text = (folder / entry["file"]).read_text("utf-8")
        first = text.split("\n", 1)[0]
        delimiter = max(",;", key=first.count)
        header, *rows = csv.reader(io.StringIO(text), delimiter=delimiter)
        entry.setdefault("shape", "lives")
        files.append(RecordText(entry, header, [r for r in rows if r], delimiter))
    return StudyText(settings, files)


def iso_parts(text: str) -> tuple[str, str, str] | None:
    """Return year, month and day of an ISO date, else None."""
    m = _ISO.fullmatch(text)
    return None if m is None else (m[1], m[2], m[3])


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else f'"{name}"'


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(k)} = {_toml(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_toml(v) for v in value) + "]"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, dt.date):
        return value.isoformat()
    return repr(value)
