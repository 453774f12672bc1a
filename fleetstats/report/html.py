"""One self-contained page: works without a network, in light and dark, on paper and at 400 px.

All text passes through the template's escaping; the figures are our own drawings, cleaned; the
page's policy allows no script but the one that is written into it and nothing from elsewhere.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Any

import numpy as np

from fleetstats.core.units import text_decided, text_hours
from fleetstats.document.annexes import Onward, annexes_of, body_of
from fleetstats.document.cells import (
    format_cell,
    set_text,
)
from fleetstats.document.document import Document, Explain, Figure, Panel, Statement
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
from fleetstats.report.json import script_json
from fleetstats.report.lineage.first_screen import link_brief, link_first_screen
from fleetstats.report.lineage.links import FigureLinks
from fleetstats.report.template_text import page_environment, page_policy, read_template
from fleetstats.vocabulary.capitals import capital
from fleetstats.vocabulary.caution import STANDING_NOTICE

POINTS_KEPT = 160
"""Points of a curve kept for readings under the pointer."""


def _figures(
    document: Document, drawn: dict[str, tuple[Drawing, Drawing]]
) -> tuple[dict[str, dict[str, Any]], dict[str, str], dict[str, Any]]:
    """Return the figures for the page, the shapes of their letters, and what a pointer reads."""
    from markupsafe import Markup

    figures: dict[str, dict[str, Any]] = {}
    letters: dict[str, str] = {}
    live: dict[str, Any] = {}
    for i, figure in enumerate(find_figures(document)):
        if figure.key not in drawn:
            drawn[figure.key] = (draw_figure(figure), draw_figure(figure, narrow=True))
        faces = []
        for j, drawing in enumerate(drawn[figure.key]):
            svg, own = drawing.inline(f"f{i}{'wn'[j]}-", set_text(figure.alt or figure.title))
            letters |= own
            # Our own drawing: letters are shapes, and its one text is escaped there.
            faces.append(Markup(svg))
        hover = _hover(figure, drawn[figure.key])
        if hover is not None:
            live[figure.key] = hover
        figures[figure.key] = {
            "key": figure.key,
            "title": set_text(figure.title),
            "see": set_text(figure.see),
            "number": i + 1,
            "wide": faces[0],
            "narrow": faces[1],
            "live": hover is not None,
        }
    return figures, letters, live


def page_html(
    document: Document,
    drawings: dict[str, tuple[Drawing, Drawing]] | None = None,
    links: FigureLinks | None = None,
) -> str:
    """Return the report as one HTML page.

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
    figures, letters, live = _figures(document, dict(drawings or {}))
    finalize = _finalizer(document)
    doc, tables = _Clean(document), {t.key: page_table(t) for t in find_tables(document)}
    brief = brief_face(document)
    if links is not None:
        link_first_screen(doc, tables, document, links, finalize)
        link_brief(brief, links, finalize)
    env = page_environment(finalize)
    script = read_template("page.js")
    data = script_json({"figures": live, "tabulated": _tabulated(document.tabulated)})
    foot = f"{document.report_id} · {document.method} · data {data_version(document)}"
    return env.get_template("page.html.j2").render(
        doc=doc,
        verdict=verdict_face(document),
        notice=STANDING_NOTICE,
        figures=figures,
        tables=tables,
        terms=[_block(t) for t in find_explanations(document)],
        data_version=data_version(document),
        start_rows=_start_rows(document.tabulated),
        letters=Markup("".join(letters[k] for k in sorted(letters))),
        brief=brief,
        css=Markup(
            read_template("page.css") + read_template("brief.css") + stack_css(tables.values())
        ),
        js=Markup(script),
        data=Markup(data),
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


def _tabulated(tabulated: Tabulated | None) -> Any:
    """Return knobs and readings for the page's script, without what it does not use."""
    if tabulated is None:
        return None
    knobs = ("key", "label", "kind", "values", "start", "free", "help")
    reads = ("row", "part", "kind", "axes", "words", "none", "beyond", "round_to", "beside")
    return {
        "knobs": [{a: getattr(k, a) for a in knobs} for k in tabulated.knobs],
        "readings": [
            {a: getattr(r, a) for a in reads} | {"values": [_short(v, 7) for v in r.values]}
            for r in tabulated.readings
        ],
    }


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


def _hover(figure: Figure, faces: tuple[Drawing, Drawing]) -> dict[str, Any] | None:
    """Return what the page's script needs to show values under the pointer; None if nothing."""
    panels = [_hover_panel(p) for p in figure.panels]
    if not any(p["layers"] for p in panels):
        return None
    return {
        "panels": panels,
        "wide": [_frame(f) for f in faces[0].frames],
        "narrow": [_frame(f) for f in faces[1].frames],
    }


def _frame(frame: Any) -> dict[str, Any]:
    return {
        "l": round(frame.left, 2),
        "t": round(frame.top, 2),
        "w": round(frame.width, 2),
        "h": round(frame.height, 2),
        "lo": frame.x.low,
        "hi": frame.x.high,
        "ylo": frame.y.low,
        "yhi": frame.y.high,
        "down": frame.y.axis.scale == "category",
    }


def _hover_panel(panel: Panel) -> dict[str, Any]:
    layers = []
    rows = any(p.kind == "spans" for p in panel.layers)
    kinds = ("spans",) if rows else ("line", "step", "ribbon", "points", "bars")
    for layer in panel.layers:
        if layer.kind not in kinds or layer.x is None or panel.x.scale in ("category",):
            continue
        n = len(layer.x)
        pick = np.arange(n)
        if layer.kind in ("line", "ribbon") and n > POINTS_KEPT:
            pick = np.unique(np.linspace(0, n - 1, POINTS_KEPT).round().astype(int))
        out: dict[str, Any] = {
            "kind": layer.kind,
            "label": layer.label,
            "far": layer.extrapolated_from,
            "names": [layer.names[i] for i in pick] if len(layer.names) == n else [],
        }
        for a in ("x", "x2", "y", "low", "high"):
            v = getattr(layer, a)
            if v is not None:
                out[a] = [_short(v[i], 5) for i in pick]
        layers.append(out)
    unit = {"probability": "probability", "h": "h"}
    return {
        "rows": rows,
        "xscale": panel.x.scale,
        "xunit": unit.get(panel.x.unit, ""),
        "yunit": unit.get(panel.y.unit, ""),
        "layers": layers,
    }


def _short(value: float, digits: int) -> float | None:
    x = float(value)
    return float(f"{x:.{digits}g}") if math.isfinite(x) else None
