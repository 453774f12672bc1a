"""One self-contained page: works without a network, in light and dark, on paper and at 400 px.

All text passes through the template's escaping; the figures are our own drawings, cleaned; the
page's policy allows no script but the one that is written into it and nothing from elsewhere.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import chain
from typing import Any

from fleetstats.core.units import text_decided, text_hours
from fleetstats.document.annexes import Onward, annexes_of, body_of
from fleetstats.document.cells import (
    format_cell,
    set_text,
)
from fleetstats.document.document import Document, Explain, Figure, Statement
from fleetstats.document.parts import (
    check_document,
    data_version,
    find_explanations,
    find_figures,
    find_tables,
)
from fleetstats.document.tabulated import Readout, Tabulated
from fleetstats.document.words import TONE_LABELS, verdict_face
from fleetstats.report.brief_html import brief_face
from fleetstats.report.figures import Drawing, draw_figure
from fleetstats.report.html_tables import css_string, page_table, stack_css
from fleetstats.report.lineage.first_screen import link_brief, link_first_screen
from fleetstats.report.lineage.links import FigureLinks
from fleetstats.report.page_data import data_pieces, has_readings
from fleetstats.report.template_text import page_environment, page_policy, read_template
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import STANDING_NOTICE


class _Face:
    """A figure as the template sees it; its pictures are made when they are asked for.

    All of a long table's pictures, set into the page at one time, stand in memory twice.
    """

    def __init__(self, figure: Figure, number: int, drawings: tuple[Drawing, Drawing]) -> None:
        self.key, self.number = figure.key, number
        self.title, self.see = set_text(figure.title), set_text(figure.see)
        self.live = has_readings(figure)
        self._alt = set_text(figure.alt or figure.title)
        self._drawings = drawings

    @property
    def wide(self) -> Any:
        return self._picture(0)

    @property
    def narrow(self) -> Any:
        return self._picture(1)

    def _picture(self, which: int) -> Any:
        from markupsafe import Markup

        # Our own drawing: letters are shapes, and its one text is escaped there.
        prefix = f"f{self.number - 1}{'wn'[which]}-"
        return Markup(self._drawings[which].inline(prefix, self._alt)[0])


def _draw(
    figures: Sequence[Figure], known: Mapping[str, tuple[Drawing, Drawing]]
) -> dict[str, tuple[Drawing, Drawing]]:
    """Return the wide and the narrow drawing of each figure; those that are known are not made."""
    return {
        f.key: known.get(f.key) or (draw_figure(f), draw_figure(f, narrow=True)) for f in figures
    }


def _letters(drawn: Iterable[tuple[Drawing, Drawing]]) -> str:
    """Return the shapes of the figures' letters, each once."""
    letters: dict[str, str] = {}
    for drawing in chain.from_iterable(drawn):
        letters |= drawing.inline_letters
    return "".join(letters[k] for k in sorted(letters))


def page_html(
    document: Document,
    drawings: Mapping[str, tuple[Drawing, Drawing]] | None = None,
    links: FigureLinks | None = None,
) -> str:
    """Return the report as one HTML page; `page_pieces` joined."""
    return "".join(page_pieces(document, drawings, links))


def page_pieces(
    document: Document,
    drawings: Mapping[str, tuple[Drawing, Drawing]] | None = None,
    links: FigureLinks | None = None,
) -> Iterator[str]:
    """Yield the report as one HTML page, piece by piece: the whole need not stand in memory.

    Parameters
    ----------
    document : Document
        The report.
    drawings : dict, optional
        Figure key = (wide, narrow) drawings already made; others are drawn here.
    links : FigureLinks, optional
        What links the figures of the first screen to what they rest on.

    Raises
    ------
    ReportError
        When keys are unsafe or shared, tables are ragged or a figure cannot be drawn.
    """
    from markupsafe import Markup

    check_document(document)
    figures = find_figures(document)
    drawn = _draw(figures, drawings or {})
    finalize = _finalizer(document)
    doc, tables = _Clean(document), {t.key: page_table(t) for t in find_tables(document)}
    brief = brief_face(document)
    if links is not None:
        link_first_screen(doc, tables, document, links, finalize)
        link_brief(brief, links, finalize)
    env = page_environment(finalize)
    script = read_template("page.js")
    foot = f"{document.report_id} · {document.method} · data {data_version(document)}"
    yield from env.get_template("page.html.j2").generate(
        doc=doc,
        verdict=verdict_face(document),
        notice=STANDING_NOTICE,
        figures={f.key: _Face(f, i, drawn[f.key]) for i, f in enumerate(figures, start=1)},
        tables=tables,
        terms=[_block(t) for t in find_explanations(document)],
        data_version=data_version(document),
        start_rows=_start_rows(document.tabulated),
        letters=Markup(_letters(drawn.values())),
        brief=brief,
        css=Markup(
            read_template("page.css") + read_template("brief.css") + stack_css(tables.values())
        ),
        js=Markup(script),
        data=map(Markup, data_pieces(figures, drawn, document.tabulated)),
        policy=Markup(page_policy(script)),
        foot_css=Markup(css_string(foot)),
    )


def _finalizer(document: Document) -> Callable[[Any], Any]:
    """Clean every text on its way into the page and link its pointers; markup is already ours."""
    from markupsafe import Markup, escape

    links = {
        str(escape(set_text(p.words))): f'<a href="#{p.anchor}">{escape(set_text(p.words))}</a>'
        for p in document.pointers
    }
    find = re.compile("|".join(re.escape(w) for w in sorted(links, key=len, reverse=True)))

    def finalize(value: Any) -> Any:
        if not isinstance(value, str) or isinstance(value, Markup):
            return value
        text = set_text(value)
        if not links or "“" not in text:
            return text
        return Markup(find.sub(lambda m: links[m[0]], str(escape(text))))

    return finalize


class _Clean:
    """The document as the template sees it: blocks as plain dictionaries, texts cleaned."""

    def __init__(self, document: Document) -> None:
        self.title = set_text(document.title)
        self.subtitle = set_text(document.subtitle)
        self.report_id = set_text(document.report_id)
        self.cut_off = set_text(document.cut_off)
        self.method = set_text(document.method)
        self.answer = [set_text(a) for a in document.answer]
        self.chosen = [set_text(line) for line in document.chosen]
        self.cautions = document.cautions
        self.first_figure = document.first_figure
        self.tabulated = document.tabulated
        carried = () if document.brief is None else document.brief.carried
        self.beside = [_section(s) for s in document.beside if s.key not in carried]
        self.sections = [
            _section(p.section) | {"onward": [_onward(o) for o in p.onward]}
            for p in body_of(document)
        ]
        self.annexes = [
            {"anchor": a.anchor, "key": a.key, "head": a.head}
            | {"sections": [_section(s) for s in a.sections]}
            for a in annexes_of(document)
        ]
        self.summaries = [_section(s) for s in document.summaries]


def _section(section: Any) -> dict[str, Any]:
    return {
        "key": section.key,
        "title": set_text(section.title),
        "blocks": [_block(b) for b in section.blocks],
    }


def _onward(onward: Onward) -> dict[str, Any]:
    return {
        "words": onward.words,
        "anchor": onward.annex.anchor,
        "sections": [{"key": s.key, "title": set_text(s.title)} for s in onward.sections],
    }


def _block(block: Any) -> dict[str, Any]:
    if isinstance(block, Statement):
        return {
            "kind": "statement",
            "text": set_text(block.text),
            "tone": block.tone,
            "label": TONE_LABELS[block.tone],
        }
    if isinstance(block, Explain):
        return {
            "kind": "explain",
            "term": capital(set_text(block.term)),
            "text": set_text(block.text),
        }
    if isinstance(block, Figure):
        return {"kind": "figure", "key": block.key}
    return {"kind": "table", "key": block.key}


def _start_rows(tabulated: Tabulated | None) -> list[dict[str, str]]:
    """Return the answers where the study stands, for readers without script."""
    if tabulated is None:
        return []
    rows: dict[str, dict[str, str]] = {}
    for reading in tabulated.readings:
        row = rows.setdefault(
            reading.row,
            {"title": reading.row, "low": "–", "estimate": "–", "high": "–", "word": ""},
        )
        row[reading.part] = _reading_text(tabulated, reading)
    return list(rows.values())


def _reading_text(tabulated: Tabulated, reading: Readout) -> str:
    value, beyond = tabulated.look_up(reading)
    if value is None:
        text = reading.none
    elif isinstance(value, str):
        text = value
    else:
        if reading.round_to > 0:
            q = value / reading.round_to
            q = math.floor(q + 1e-9) if reading.part == "low" else math.floor(q + 0.5)
            value = reading.round_to * q
        if reading.kind == "hours":
            text = text_hours(value)
        elif reading.kind == "percent" and reading.part in ("low", "high"):
            text = text_decided(value, *reading.beside, edge=reading.part)
        else:
            text = format_cell(value, reading.kind, beside=reading.beside)
    return text + (" (extrapolated)" if beyond else "")
