"""The report on paper: typeset, paginated, with contents, running heads and page feet.

All words travel as data (JSON) and are set as text, so nothing in a record can become markup. The
fonts are those of the typesetter's and the drawing library's wheels, embedded; the document is
tagged; equal content gives equal bytes.
"""

from __future__ import annotations

import json
import tempfile
from importlib import resources
from pathlib import Path
from typing import Any

from fleetstats.core.caution import STANDING_NOTICE
from fleetstats.core.errors import ReportError
from fleetstats.core.value import plain
from fleetstats.report.cells import column_head, format_cell, is_number, set_text
from fleetstats.report.document import Document, Explain, Figure, Section, Statement, Table
from fleetstats.report.figures import Drawing, draw_figure
from fleetstats.report.walk import check_document, data_version, find_explanations, find_figures
from fleetstats.report.words import TONE_LABELS, verdict_face

ROWS_PRINTED = 60
"""Longer tables are cut on paper, with a note; their data files are whole."""

_COLORS = {"supported": "#1b6472", "open": "#8a5d00", "against": "#5c0f74", "mute": "#55636b"}


def report_pdf(document: Document, drawings: dict[str, Drawing] | None = None) -> bytes:
    """Return the report as a tagged PDF (PDF/UA-1).

    Parameters
    ----------
    document : Document
        The report.
    drawings : dict, optional
        Figure key = wide drawing already made; others are drawn here.

    Raises
    ------
    ReportError
        When the document cannot be typeset.
    """
    import typst

    check_document(document)
    drawn = dict(drawings or {})
    numbers: dict[str, int] = {}
    with tempfile.TemporaryDirectory(prefix="fleetstats-") as name:
        folder = Path(name)
        for i, figure in enumerate(find_figures(document)):
            numbers[figure.key] = i + 1
            drawing = drawn.get(figure.key) or draw_figure(figure)
            (folder / f"{figure.key}.svg").write_text(drawing.bare_svg, "utf-8")
        content = _content(document, numbers)
        (folder / "data.json").write_text(json.dumps(plain(content), allow_nan=False), "utf-8")
        template = resources.files("fleetstats.report") / "templates" / "report.typ"
        (folder / "report.typ").write_text(template.read_text("utf-8"), "utf-8")
        try:
            out = typst.compile(
                str(folder / "report.typ"),
                root=str(folder),
                font_paths=[str(_figure_fonts())],
                ignore_system_fonts=True,
                format="pdf",
                pdf_standards=["ua-1"],
                timestamp=0,
            )
        except typst.TypstError as error:
            raise ReportError(f"The PDF cannot be typeset: {error.message}") from error
    return bytes(out)


def _figure_fonts() -> Path:
    """Return the folder of the drawing library's own fonts: the same as in the figures."""
    import matplotlib as mpl

    return Path(mpl.get_data_path()) / "fonts" / "ttf"


def _content(document: Document, numbers: dict[str, int]) -> dict[str, Any]:
    face = verdict_face(document)
    title = set_text(document.title)
    foot = f"{document.report_id} · {document.method} · data version {data_version(document)}"
    first = document.first_figure
    return {
        "title": title,
        "short_title": title if len(title) <= 80 else title[:77] + "…",
        "subtitle": set_text(document.subtitle),
        "report_id": set_text(document.report_id),
        "cut_off": set_text(document.cut_off),
        "foot": set_text(foot),
        "verdict": {"label": set_text(face.label), "text": face.text, "color": _COLORS[face.tone]},
        "answer": [set_text(a) for a in document.answer],
        "first_figure": None if first is None else _figure(first, numbers),
        "notice": list(STANDING_NOTICE),
        "cautions": [
            {
                "code": set_text(c.code),
                "text": set_text(c.text),
                "more": set_text(_more(c.where, c.value, c.limit)),
            }
            for c in document.cautions
        ],
        "summaries": [_section(s, numbers) for s in document.summaries],
        "sections": [_section(s, numbers) for s in document.sections],
        "terms": [_block(t, numbers) for t in find_explanations(document)],
    }


def _more(where: str, value: str, limit: str) -> str:
    parts = (("In", where), ("Found", value), ("Limit", limit))
    return " ".join(f"{k}: {v}." for k, v in parts if v)


def _section(section: Section, numbers: dict[str, int]) -> dict[str, Any]:
    blocks = [_block(b, numbers) for b in section.blocks]
    return {"title": set_text(section.title), "blocks": blocks}


def _block(block: Any, numbers: dict[str, int]) -> dict[str, Any]:
    if isinstance(block, Statement):
        return {
            "kind": "statement",
            "tone": block.tone,
            "label": TONE_LABELS[block.tone],
            "text": set_text(block.text),
        }
    if isinstance(block, Explain):
        return {"kind": "explain", "term": set_text(block.term), "text": set_text(block.text)}
    if isinstance(block, Figure):
        return _figure(block, numbers)
    return _table(block)


def _figure(figure: Figure, numbers: dict[str, int]) -> dict[str, Any]:
    return {
        "kind": "figure",
        "title": set_text(figure.title),
        "see": set_text(figure.see),
        "alt": set_text(figure.alt or figure.title),
        "number": numbers[figure.key],
        "file": f"{figure.key}.svg",
        "data": f"figures/{figure.key}.csv",
    }


def _table(table: Table) -> dict[str, Any]:
    facts = len(table.columns) == 2 and all(c.kind == "text" for c in table.columns)
    facts = facts and not any(c.title for c in table.columns)
    rows = [
        [
            {"text": set_text(format_cell(v, c.kind)), "num": is_number(c)}
            for v, c in zip(row, table.columns, strict=True)
        ]
        for row in table.rows[:ROWS_PRINTED]
    ]
    cut = ""
    if len(table.rows) > ROWS_PRINTED:
        cut = f"The first {ROWS_PRINTED} of {len(table.rows):,} rows are printed."
    heads = [column_head(c) for c in table.columns]
    return {
        "kind": "table",
        "title": set_text(table.title),
        "see": set_text(table.see),
        "facts": facts,
        "size": 7.2 if len(heads) <= 7 else 6.2,
        "widths": _widths(heads, rows),
        "columns": [
            {"title": set_text(h), "num": is_number(c)}
            for h, c in zip(heads, table.columns, strict=True)
        ],
        "rows": rows,
        "cut": cut,
        "data": f"tables/{table.key}.csv",
    }


def _widths(heads: list[str], rows: list[list[dict[str, Any]]]) -> list[float]:
    """Return a share of the width for each column with long text; 0 lets the column fit itself."""
    out = []
    for j, head in enumerate(heads):
        longest = max((len(r[j]["text"]) for r in rows), default=0)
        longest = max(longest, max((len(w) for w in head.split()), default=0))
        out.append(float(min(longest, 60)))
    total = sum(out)
    if total <= 0:
        return [0.0] * len(heads)
    # Narrow columns fit themselves; wide ones share what is left by the root of their length.
    return [0.0 if w <= 14 else w**0.5 for w in out]
