"""The pages that list every finding and every caution, made from the catalogues.

`python tests/docs_pages.py` writes them; a house test holds them to what would be written.
"""

from __future__ import annotations

import re
from pathlib import Path

from fleetstats.core import limits
from fleetstats.vocabulary.cautions import CAUTIONS, FIRST
from fleetstats.vocabulary.cautions.entry import CautionEntry
from fleetstats.vocabulary.findings import (
    CONDITION_FINDINGS,
    FILE_FINDINGS,
    LIFE_FINDINGS,
    LOG_FINDINGS,
)
from fleetstats.vocabulary.findings.cells import CELLS
from fleetstats.vocabulary.findings.entry import FindingEntry
from fleetstats.vocabulary.findings.reasons import REASONS
from fleetstats.vocabulary.limit_reasons import LIMITS
from fleetstats.vocabulary.limits import Limit

FIELD = re.compile(r"\{(\w+)[^{}]*\}")
"""A field of a sentence, with its format."""

USUAL = {"stop": "stops the study", "set-aside": "sets the row aside", "accept": "is shown"}

FINDINGS_HEAD = """# Every finding of the audit

What `fleetstats check` may say of records, by code: the sentence (a name in angle brackets stands
for what is in your file), what to do about it, and what is done where `[treat]` is silent. Errors
stop the study until they are mended or `[treat]` names their code; warnings and notes are shown.
In tables of checks, readings and bench runs nothing stops a study: an error sets the row aside.

This page is made from the catalogue in `fleetstats/vocabulary/findings/`.
"""

CAUTIONS_HEAD = """# Every caution of a result

What limits the use of a result, by code: where it arises, its sentence (a name in angle brackets
stands for a figure or a name of the study), the limits that call for it, and what to do. A caution
of the first rank may turn or take away the answer; one of the second says under what conditions it
holds.

This page is made from the catalogue in `fleetstats/vocabulary/cautions/`; the limits stand in
`fleetstats/vocabulary/limits.py`.
"""


def _plain(text: str) -> str:
    return FIELD.sub(r"‹\1›", text).replace("{{", "{").replace("}}", "}").strip()


def _cell_troubles(entry: FindingEntry) -> bool:
    return any("{trouble}" in s for s in entry.says.values())


def _finding(entry: FindingEntry) -> list[str]:
    may = " A whole file is concerned." if entry.code in FILE_FINDINGS else ""
    if entry.severity == "error" and entry.may_accept:
        may = " `[treat]` may let the row be used."
    out = [f"### {entry.code}", "", f"{entry.severity.capitalize()}; {USUAL[entry.usual]}. "
           f"{entry.meaning}{may}", ""]  # fmt: skip
    for case, says in entry.says.items():
        said, cure = _plain(says), _plain(entry.cure[case])
        if said.startswith("‹trouble›"):
            said = f"What is wrong with the cell (see [cells](#cells)). {said[9:].strip()}".strip()
        cure = "" if cure == "‹hint›" else cure
        out.append(f"- {said}{f' *{cure}*' if cure else ''}")
    if entry.limit:
        out += ["", f"Limit: {_limits(entry.limit.split(', '))}"]
    return [*out, ""]


def _limits(names: list[str] | tuple[str, ...]) -> str:
    told = []
    for name in names:
        if name in LIMITS:
            x = LIMITS[name]
            told.append(f"{_figure(x)}. {x.reason} ({x.source[0].upper()}{x.source[1:]}.)")
        else:
            told.append(f"`{name}` of the study file.")
    return " ".join(told)


def _figure(x: Limit) -> str:
    if x.unit.startswith("share"):
        return f"{100 * x.value:g} %{x.unit.removeprefix('share')}"
    return f"a chance of {x.value:g}" if x.unit == "chance" else f"{x.value:g} {x.unit}"


def findings_page() -> str:
    """Return the page of findings."""
    out = [FINDINGS_HEAD]
    for title, table in (
        ("Tables of lives", LIFE_FINDINGS),
        ("Logs, parts, clocks and pooled returns", LOG_FINDINGS),
        ("Checks, readings and bench runs", CONDITION_FINDINGS),
    ):
        out += [f"## {title}", ""]
        for entry in table.values():
            out += _finding(entry)
    out += ["## Cells", "", "What may be wrong with one cell, whatever column it stands in:", ""]
    out += [
        f"- {_plain(said.sentence)}{f' *{_plain(said.cure)}*' if said.cure != '{hint}' else ''}"
        for said in CELLS.values()
    ]
    out += ["", "## Rows set aside though nothing is odd in them", ""]
    out += [f"- `{code}`: {meaning}" for code, meaning in REASONS.items()]
    return "\n".join(out).rstrip() + "\n"


def _caution(entry: CautionEntry) -> list[str]:
    rank = "First rank" if entry.rank == FIRST else "Second rank"
    out = [f"### {entry.code}", "", f"{rank}. {entry.meaning} *{entry.cure}*", ""]
    for case in entry.cases.values():
        limit = f" Limit: {_limits(case.limits)}" if case.limits else ""
        out.append(f"- {_plain(case.where)}: {_plain(case.says)}{limit}")
    return [*out, ""]


def cautions_page() -> str:
    """Return the page of cautions."""
    out = [CAUTIONS_HEAD]
    for entry in CAUTIONS.values():
        out += _caution(entry)
    return "\n".join(out).rstrip() + "\n"


PAGES = {"findings.md": findings_page, "cautions.md": cautions_page}
"""Name of a page of the docs = what makes it."""


LIMITED = "verify.md"
"""The page with the table of the limits of readers."""
LIMITS_HEAD = "| limit of | most | why |\n| --- | --- | --- |\n"
LIMITS_TABLE = re.compile(re.escape(LIMITS_HEAD) + r"(?:\|.*\n)*")


def with_limits(text: str) -> str:
    """Return a page's text with its table of the limits of readers made anew."""
    rows = [f"| {k.replace('_', ' ')} | {x} | {x.reason} |\n" for k, x in limits.LIMITS.items()]
    return LIMITS_TABLE.sub(lambda _: LIMITS_HEAD + "".join(rows), text)


def write_pages(folder: Path) -> None:
    """Write both pages, and the table of limits into the page that has it."""
    for name, make in PAGES.items():
        (folder / name).write_text(make(), encoding="utf-8")
    page = folder / LIMITED
    page.write_text(with_limits(page.read_text(encoding="utf-8")), encoding="utf-8")
