"""The brief in a page: as its first screens, and alone in one small file for e-mail."""

from __future__ import annotations

from typing import Any

from fleetstats.core.errors import ReportError
from fleetstats.core.value import plain
from fleetstats.document.brief import Brief, map_texts
from fleetstats.document.cells import set_text
from fleetstats.document.document import Document
from fleetstats.document.parts import check_document, data_version
from fleetstats.document.words import verdict_face
from fleetstats.report.brief_pdf import signed_for
from fleetstats.report.figures import Drawing, draw_figure
from fleetstats.report.template_text import page_environment, read_template

SMALL_BYTES = 300_000
"""Bytes that the page for e-mail stays under: what a mail carries without a thought."""


NAMES_REPLACED = "Names of engines and sources are replaced"
"""What the head of a page under pseudonyms says."""


def brief_face(document: Document) -> dict[str, Any] | None:
    """Return the brief as the page's template reads it; None where the report has none."""
    brief: Brief | None = document.brief
    if brief is None:
        return None
    told: dict[str, Any] = plain(map_texts(brief, set_text))
    return told | {"signed_for": set_text(signed_for(document, brief))}


def short_html(
    document: Document, drawing: Drawing | None = None, *, names_replaced: bool = False
) -> str:
    """Return the brief alone as one page without script, under `SMALL_BYTES`.

    Parameters
    ----------
    document : Document
        A report that has a brief.
    drawing : Drawing, optional
        The narrow drawing of its first figure; drawn here where none is given. A picture that
        would make the page too large is left out, and the page says so.
    names_replaced : bool
        Whether pseudonyms stand in place of names, which the head of the page then says.

    Raises
    ------
    ReportError
        When the report has no brief, or the page is too large without a picture.
    """
    check_document(document)
    face = brief_face(document)
    if face is None:
        raise ReportError("This report has no brief.")
    face["said_of_names"] = NAMES_REPLACED if names_replaced else ""
    first = document.first_figure
    if first is not None:
        page = _render(document, face, drawing or draw_figure(first, narrow=True))
        if len(page.encode()) < SMALL_BYTES:
            return page
    page = _render(document, face, None)
    if len(page.encode()) >= SMALL_BYTES:
        raise ReportError(f"The brief takes more than {SMALL_BYTES // 1000} kB.")
    return page


def _render(document: Document, face: dict[str, Any], drawing: Drawing | None) -> str:
    from markupsafe import Markup

    first = document.first_figure
    svg = ""
    letters: dict[str, str] = {}
    if drawing is not None and first is not None:
        svg, letters = drawing.inline("f0n-", set_text(first.alt or first.title))
    env = page_environment(
        lambda v: v if not isinstance(v, str) or isinstance(v, Markup) else set_text(v)
    )
    return env.get_template("short.html.j2").render(
        brief=face,
        title=document.title,
        report_id=document.report_id,
        cut_off=document.cut_off,
        method=document.method,
        data_version=data_version(document),
        verdict=verdict_face(document),
        figure_title="" if first is None else first.title,
        figure_see="" if first is None else first.see,
        picture=Markup(svg),
        letters=Markup("".join(letters[k] for k in sorted(letters))),
        css=Markup(read_template("page.css") + read_template("brief.css")),
    )
