"""The very lines of a study file that would say what the words mean that nobody knows yet."""

from __future__ import annotations

from collections.abc import Iterable

from fleetstats.study.scaffold import toml_text
from fleetstats.vocabulary.endings import ENDINGS
from fleetstats.vocabulary.events import KINDS
from fleetstats.vocabulary.fields.histories import RENEWED
from fleetstats.vocabulary.finding import Finding
from fleetstats.vocabulary.fold import fold

MAPS: dict[str, tuple[str, Iterable[str]]] = {
    "ending-unknown": ("endings", ENDINGS),
    "log-kind-unknown": ("kinds", KINDS),
    "history-repair-open": ("renews", RENEWED),
}
"""Code of the finding = the map of ``[[records]]`` that cures it, and the words it may give."""

ROWS_NAMED = 6


def lines_to_add(findings: Iterable[Finding]) -> list[str]:
    """Return lines for the study file, each with its meaning left open.

    No meaning is proposed: whether a word hides a failure is for somebody who knows the records.

    Parameters
    ----------
    findings : iterable of Finding
        An audit's findings; those that name no word are passed over.
    """
    words: dict[tuple[str, str, str], dict[str, tuple[str, list[int]]]] = {}
    for f in findings:
        if f.code in MAPS and f.value.strip():
            alike = words.setdefault((f.file, f.sheet, f.code), {})
            rows = alike.setdefault(fold(f.value), (f.value, []))[1]
            rows += [f.row] if f.row is not None else []
    out: list[str] = []
    for (file, sheet, code), found in words.items():
        name, known = MAPS[code]
        where = f"{file} [{sheet}]" if sheet else file
        out += [
            f"To say what these words mean, add to study.toml below the [[records]] of {where} "
            f"(below its [records.{name}] where it has one), with one of {', '.join(known)} in "
            "place of the dots:",
            f"  [records.{name}]",
            *(f'  {toml_text(word)} = "…"    # {_rows(rows)}' for word, rows in found.values()),
        ]
    return out


def _rows(rows: list[int]) -> str:
    rest = f" and {len(rows) - ROWS_NAMED} more" if len(rows) > ROWS_NAMED else ""
    listed = ", ".join(str(n) for n in rows[:ROWS_NAMED])
    return f"row{'s' if len(rows) > 1 else ''} {listed}{rest}"
