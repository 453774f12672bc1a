"""The brief on paper: at most two pages, in the largest type that fits.

The words are cut by composition (`fleetstats.chapters.brief.cut`) so that the least of `STEPS`
holds them; which step it is depends on nothing but the document.
"""

from __future__ import annotations

import bisect
import json
import tempfile
from pathlib import Path
from typing import Any

from fleetstats.core.errors import ReportError
from fleetstats.core.value import plain
from fleetstats.document.brief import Brief, map_texts, say_digest
from fleetstats.document.cells import set_text
from fleetstats.document.document import Document
from fleetstats.document.parts import check_document, data_version
from fleetstats.document.words import verdict_face
from fleetstats.report.figures import Drawing, draw_figure
from fleetstats.report.figures.glyphs import font_folder
from fleetstats.report.template_text import read_template
from fleetstats.vocabulary.caution import STANDING_NOTICE

PAGES = 2
"""Pages that a person reads before signing."""

STEPS = (
    *((10.4, True, em) for em in (15.0, 11.0, 7.0, 4.5, 2.5)),
    *((size, True, 1.5) for size in (10.4, 10.0, 9.6, 9.2, 8.8, 8.4)),
    *((size, False, 1.5) for size in (8.8, 8.4, 8.0, 7.6, 7.2, 6.8, 6.0, 5.2, 4.4)),
)
"""Size of type in points, whether the picture stands in it, and the height of the blank for
conditions in letters; the first that fits is taken. What is cut keeps to `READABLE_PT`; the steps
below it are for letters twice as wide as ours."""

READABLE_PT = 6.8
"""Least size of type that a page of dense text is read at; common practice, no source."""

FIGURE = "brief-figure.svg"
COLORS = {"supported": "#1b6472", "open": "#8a5d00", "against": "#5c0f74", "mute": "#55636b"}
TITLE_LETTERS = 200
"""Letters of a title; a longer one ends with an ellipsis."""

BRIEF_ALONE = "brief_alone.typ"
TEMPLATES = ("brief.typ", BRIEF_ALONE)


def brief_pdf(document: Document, drawing: Drawing | None = None) -> bytes:
    """Return the brief as a tagged PDF (PDF/UA-1) of at most two pages.

    Parameters
    ----------
    document : Document
        A report that has a brief.
    drawing : Drawing, optional
        The narrow drawing of its first figure; drawn here where none is given.

    Raises
    ------
    ReportError
        When the report has no brief, or the brief cannot be typeset or does not fit.
    """
    with tempfile.TemporaryDirectory(prefix="fleetstats-") as name:
        folder = Path(name)
        lay_out_brief(document, folder, drawing)
        return typeset(folder, BRIEF_ALONE, "brief")


def typeset(folder: Path, template: str, what: str) -> bytes:
    """Return a tagged PDF (PDF/UA-1) of a template in a folder that holds all it reads.

    Raises
    ------
    ReportError
        When it cannot be typeset; `what` is what it is called.
    """
    import typst

    try:
        out = typst.compile(
            str(folder / template),
            format="pdf",
            pdf_standards=["ua-1"],
            timestamp=0,
            **fonts_of(folder),
        )
    except typst.TypstError as error:
        raise ReportError(f"The {what} cannot be typeset: {error.message}") from error
    return bytes(out)


def lay_out_brief(
    document: Document, folder: Path, drawing: Drawing | None = None
) -> dict[str, Any]:
    """Write the brief's templates, picture and data into a folder, at the first step that fits.

    Returns
    -------
    dict
        The brief as the templates read it, its step settled: for the first pages of the report.

    Raises
    ------
    ReportError
        When the report has no brief, or no step holds it.
    """
    import typst

    check_document(document)
    brief = document.brief
    if brief is None:
        raise ReportError("This report has no brief.")
    for name in TEMPLATES:
        (folder / name).write_text(read_template(name), "utf-8")
    first = document.first_figure
    if first is not None:
        drawing = drawing or draw_figure(first, narrow=True)
        (folder / FIGURE).write_text(drawing.bare_svg, "utf-8")
    content = _around(document)

    def fits(step: int) -> bool:
        size, with_figure, blank_em = STEPS[step]
        told = _content(document, brief, size, with_figure)
        content["brief"] = told | {"blank_em": blank_em}
        (folder / "data.json").write_text(json.dumps(plain(content), allow_nan=False), "utf-8")
        try:
            pages = typst.query(
                str(folder / BRIEF_ALONE), "<pages>", field="value", one=True,
                **fonts_of(folder),
            )  # fmt: skip
        except typst.TypstError as error:
            raise ReportError(f"The brief cannot be typeset: {error.message}") from error
        return int(json.loads(pages)) <= PAGES

    # By halves: a step is tried where the one before it does not fit, and each takes less room.
    at = bisect.bisect_left(range(len(STEPS)), True, key=fits)
    if at < len(STEPS) and fits(at):
        return dict(content["brief"])
    raise ReportError(f"The brief does not fit {PAGES} pages.", "Report this fault.")


def fonts_of(folder: Path) -> dict[str, Any]:
    """Return what the typesetter is told beside the template: its root and the fonts."""
    return {"root": str(folder), "font_paths": [str(font_folder())], "ignore_system_fonts": True}


def _around(document: Document) -> dict[str, Any]:
    face = verdict_face(document)
    foot = f"{document.report_id} · {document.method} · data version {data_version(document)}"
    return {
        "title": set_text(document.title),
        "report_id": set_text(document.report_id),
        "cut_off": set_text(document.cut_off),
        "foot": set_text(foot),
        "verdict": {"label": set_text(face.label), "text": face.text, "color": COLORS[face.tone]},
        "notice": list(STANDING_NOTICE),
    }


def clip_title(title: str) -> str:
    """Return a title that takes at most about three lines."""
    return title if len(title) <= TITLE_LETTERS else title[: TITLE_LETTERS - 1].rstrip() + "…"


def _content(document: Document, brief: Brief, size: float, with_figure: bool) -> dict[str, Any]:
    first = document.first_figure
    figure = None
    if first is not None and with_figure:
        figure = {
            "title": set_text(first.title),
            "alt": set_text(first.alt or first.title),
            "file": FIGURE,
            "source": f"Figure 1. Data: figures/{first.key}.csv",
        }
    told: dict[str, Any] = plain(map_texts(brief, set_text))
    return told | {
        "title": set_text(clip_title(document.title)),
        "size": size,
        "figure": figure,
        "signed_for": set_text(signed_for(document, brief)),
    }


def signed_for(document: Document, brief: Brief) -> str:
    """Say which report is signed: its number, the version of its data and the digest."""
    return (
        f"Signed for report {document.report_id}, data version {data_version(document)}. "
        f"{say_digest(brief)}"
    ).rstrip()
