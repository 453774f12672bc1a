"""The report on paper: typeset, paginated, with contents, running heads and page feet.

All words travel as data (JSON) and are set as text, so nothing in a record can become markup. The
fonts are those of the typesetter's and the drawing library's wheels, embedded; the document is
tagged; equal content gives equal bytes.
"""

from __future__ import annotations

import itertools
import json
import re
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

from fleetstats.core.value import plain
from fleetstats.document.annexes import Onward, annexes_of, body_of
from fleetstats.document.cells import (
    column_head,
    drop_empty,
    is_number,
    set_text,
    show_cell,
)
from fleetstats.document.document import (
    Document,
    Explain,
    Figure,
    Pointer,
    Section,
    Statement,
    Table,
)
from fleetstats.document.parts import check_document, data_version, find_explanations, find_figures
from fleetstats.document.words import TONE_LABELS, verdict_face
from fleetstats.report.brief_pdf import BRIEF_ALONE, COLORS, TEMPLATES, lay_out_brief, typeset
from fleetstats.report.figures import Drawing, draw_figure
from fleetstats.report.template_text import read_template
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import STANDING_NOTICE

ROWS_PRINTED = 60
"""Longer tables are cut on paper, with a note; their data files are whole."""

COLUMNS_PRINTED = 14
"""Wider tables are printed in parts, one under the other, each with the first column."""

PAGE_PT = 470.0
"""Width of the text on the page: A4 less two margins of 22 mm."""
SIZES_PT = (7.2, 6.6, 6.0, 5.4)
LETTER_EM = 0.6
"""Width of a letter of the tables' face in units of its size, with some room to spare."""
PADDING_PT = 6.4


def report_pdf(
    document: Document,
    drawings: dict[str, Drawing] | None = None,
    narrow: Drawing | None = None,
) -> bytes:
    """Return the report as a tagged PDF (PDF/UA-1).

    Parameters
    ----------
    document : Document
        The report.
    drawings : dict, optional
        Figure key = wide drawing already made; others are drawn here.
    narrow : Drawing, optional
        The narrow drawing of the first figure, for the brief on the first pages.

    Raises
    ------
    ReportError
        When the document cannot be typeset.
    """
    return set_papers(document, drawings, narrow, alone=False)[0]


def set_papers(
    document: Document,
    drawings: dict[str, Drawing] | None = None,
    narrow: Drawing | None = None,
    *,
    alone: bool = True,
) -> tuple[bytes, bytes | None]:
    """Return the report as a PDF and, where `alone`, its brief as one: laid out once for both.

    The brief is None where the report has none; otherwise as `report_pdf` and `brief_pdf`.
    """
    check_document(document)
    drawn = dict(drawings or {})
    numbers: dict[str, int] = {}
    brief = None
    with tempfile.TemporaryDirectory(prefix="fleetstats-") as name:
        folder = Path(name)
        for i, figure in enumerate(find_figures(document)):
            numbers[figure.key] = i + 1
            drawing = drawn.get(figure.key) or draw_figure(figure)
            (folder / f"{figure.key}.svg").write_text(drawing.bare_svg, "utf-8")
        content = _content(document, numbers) | {"brief": None}
        for template in TEMPLATES:
            (folder / template).write_text(read_template(template), "utf-8")
        if document.brief is not None:
            content["brief"] = lay_out_brief(document, folder, narrow)
            brief = typeset(folder, BRIEF_ALONE, "brief") if alone else None
        (folder / "data.json").write_text(json.dumps(plain(content), allow_nan=False), "utf-8")
        (folder / "report.typ").write_text(read_template("report.typ"), "utf-8")
        return typeset(folder, "report.typ", "PDF"), brief


def _content(document: Document, numbers: dict[str, int]) -> dict[str, Any]:
    face = verdict_face(document)
    title = set_text(document.title)
    foot = f"{document.report_id} · {document.method} · data version {data_version(document)}"
    first = document.first_figure
    carried = () if document.brief is None else document.brief.carried
    paper = _Paper(numbers, document.pointers)
    annexes = annexes_of(document)
    return {
        "title": title,
        "short_title": title if len(title) <= 80 else title[:77] + "…",
        "subtitle": set_text(document.subtitle),
        "report_id": set_text(document.report_id),
        "cut_off": set_text(document.cut_off),
        "foot": set_text(foot),
        "verdict": {"label": set_text(face.label), "text": face.text, "color": COLORS[face.tone]},
        "answer": [set_text(a) for a in document.answer],
        "chosen": [set_text(line) for line in document.chosen],
        "first_figure": None if first is None else paper.figure(first),
        "beside": [paper.section(s) for s in document.beside if s.key not in carried],
        "notice": list(STANDING_NOTICE),
        "cautions": [
            {
                "code": set_text(c.code),
                "text": set_text(c.text),
                "more": set_text(_more(c.where, c.value, c.limit)),
            }
            for c in document.cautions
        ],
        "summaries": [paper.section(s) for s in document.summaries],
        "sections": [
            paper.section(p.section) | {"onward": [_onward(o) for o in p.onward]}
            for p in body_of(document)
        ],
        "annexes": [
            {"head": a.head, "anchor": a.anchor, "terms": a.key == "terms"}
            | {"sections": [paper.section(s) for s in a.sections]}
            for a in annexes
        ],
        "terms": [paper.block(t) for t in find_explanations(document)],
    }


def _more(where: str, value: str, limit: str) -> str:
    parts = (("In", where), ("Found", value), ("Limit", limit))
    return " ".join(f"{k}: {v}." for k, v in parts if v)


def _onward(onward: Onward) -> dict[str, Any]:
    return {
        "words": onward.words,
        "anchor": onward.annex.anchor,
        "sections": [{"title": set_text(s.title), "anchor": s.key} for s in onward.sections],
    }


class _Paper:
    """Parts of a document as the template sees them: texts cleaned, pointers as links."""

    def __init__(self, numbers: dict[str, int], pointers: tuple[Pointer, ...]) -> None:
        self._numbers = numbers
        self._anchors = {set_text(p.words): p.anchor for p in pointers}
        words = sorted(self._anchors, key=len, reverse=True)
        self._find = re.compile("(" + "|".join(re.escape(w) for w in words) + ")")

    def _text(self, text: str, change: Callable[[str], str] = str) -> str | list[dict[str, str]]:
        """Return a text, or its runs where some of them lead somewhere; each run changed."""
        text = set_text(text)
        if not self._anchors or "“" not in text:
            return change(text)
        runs = [r for r in self._find.split(text) if r]
        if not any(r in self._anchors for r in runs):
            return change(text)
        return [{"text": change(r), "to": self._anchors.get(r, "")} for r in runs]

    def section(self, section: Section) -> dict[str, Any]:
        return {
            "title": set_text(section.title),
            "anchor": section.key,
            "blocks": [self.block(b) for b in section.blocks],
        }

    def block(self, block: Any) -> dict[str, Any]:
        if isinstance(block, Statement):
            return {
                "kind": "statement",
                "tone": block.tone,
                "label": TONE_LABELS[block.tone],
                "text": self._text(block.text),
            }
        if isinstance(block, Explain):
            return {
                "kind": "explain",
                "term": capital(set_text(block.term)),
                "text": self._text(block.text),
            }
        if isinstance(block, Figure):
            return self.figure(block)
        return self.table(block)

    def figure(self, figure: Figure) -> dict[str, Any]:
        return {
            "kind": "figure",
            "anchor": f"fig-{figure.key}",
            "title": set_text(figure.title),
            "see": self._text(figure.see),
            "alt": set_text(figure.alt or figure.title),
            "number": self._numbers[figure.key],
            "file": f"{figure.key}.svg",
            "data": f"figures/{figure.key}.csv",
        }

    def table(self, table: Table) -> dict[str, Any]:
        facts = len(table.columns) == 2 and all(c.kind == "text" for c in table.columns)
        facts = facts and not any(c.title for c in table.columns)
        table = drop_empty(table)
        printed = table.rows if table.uncut else table.rows[:ROWS_PRINTED]
        cut = ""
        if len(table.rows) > len(printed):
            cut = f"The first {ROWS_PRINTED} of {len(table.rows):,} rows are printed."
        return {
            "kind": "table",
            "anchor": f"table-{table.key}",
            "title": set_text(table.title),
            "see": self._text(table.see),
            "facts": facts,
            "n_rows": len(printed),
            "parts": [
                self._part(table, printed, columns) for columns in _part_columns(len(table.columns))
            ],
            "cut": cut,
            "data": f"tables/{table.key}.csv",
        }

    def _part(
        self, table: Table, printed: tuple[tuple[Any, ...], ...], columns: list[int]
    ) -> dict[str, Any]:
        """Return some columns of a table, fitted to the page."""
        shown = [table.columns[j] for j in columns]
        rows = [
            [
                {"text": self._text(show_cell(row[j], c), _breakable), "num": is_number(c)}
                for j, c in zip(columns, shown, strict=True)
            ]
            for row in printed
        ]
        heads = [set_text(column_head(c)) for c in shown]
        texts = [[h, *(_bare(r[j]["text"]) for r in rows)] for j, h in enumerate(heads)]
        size, widths = fit_columns(texts)
        return {
            "size": size,
            "widths": widths,
            "columns": [
                {"title": h, "num": is_number(c)} for h, c in zip(heads, shown, strict=True)
            ],
            "rows": rows,
        }


def _bare(text: Any) -> str:
    return text if isinstance(text, str) else "".join(run["text"] for run in text)


def _part_columns(n: int) -> list[list[int]]:
    """Return the columns of each part of a table: all, or an even share after the first."""
    if n <= COLUMNS_PRINTED:
        return [list(range(n))]
    parts = -(-(n - 1) // (COLUMNS_PRINTED - 1))
    edges = [1 + (n - 1) * k // parts for k in range(parts + 1)]
    return [[0, *range(low, high)] for low, high in itertools.pairwise(edges)]


def fit_columns(texts: list[list[str]]) -> tuple[float, list[float]]:
    """Fit a table's columns to the page: size of type and widths, both in points.

    Parameters
    ----------
    texts : list of list of str
        For each column its head and cells.

    Returns
    -------
    size : float
        The greatest of `SIZES_PT` at which the longest words fit, else the least.
    widths : list of float
        0 for each column when all fit as they are. Otherwise no column is narrower than its
        longest word, and what is left goes to those with long texts.
    """
    words = [max((len(w) for t in col for w in _BREAKS.split(t)), default=1) for col in texts]
    whole = [max((len(t) for t in col), default=1) for col in texts]
    for size in SIZES_PT:
        letter = LETTER_EM * size
        room = PAGE_PT - PADDING_PT * len(texts)
        if letter * sum(whole) <= room:
            return size, [0.0] * len(texts)
        least = [letter * (w + 0.5) for w in words]
        if sum(least) <= room or size == SIZES_PT[-1]:
            break
    # What the texts lack to stand on one line, within reason: mostly on average, since one long
    # cell costs one tall row, but a column of long texts costs many.
    want = []
    for col, low in zip(texts, least, strict=True):
        lacks = [max(0.0, min(letter * len(t), 420.0) - low) for t in col]
        want.append(0.75 * sum(lacks) / len(lacks) + 0.25 * max(lacks))
    left = room - sum(least)
    if left < 0:
        return size, [w * room / sum(least) + PADDING_PT for w in least]
    share = left / sum(want) if sum(want) > 0 else 0.0
    return size, [
        round(low + min(share, 1.6) * w + PADDING_PT, 2) for low, w in zip(least, want, strict=True)
    ]


_BREAKS = re.compile(r"[\s\u200b]+")
_JOINT = re.compile(r"(?<=[a-z0-9][_./-])(?=[a-z])", re.IGNORECASE)


def _breakable(text: str) -> str:
    """Let long words break: names at their joints, digests anywhere; the places are invisible."""
    text = re.sub(r"\S{13,}", lambda m: _JOINT.sub("\u200b", m[0]), text)
    return re.sub(r"[^\s\u200b]{25,}", lambda m: "\u200b".join(re.findall(".{1,16}", m[0])), text)
