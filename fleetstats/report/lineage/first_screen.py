"""The figures of a page's first screen, linked to what they rest on."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from fleetstats.document.cells import drop_empty, set_text
from fleetstats.document.document import Document, Statement, Table
from fleetstats.report.lineage.links import FigureLinks, Part

if TYPE_CHECKING:
    from markupsafe import Markup

LINEAGE_PAGE = "lineage.html"


def link_first_screen(
    doc: Any,
    tables: dict[str, dict[str, Any]],
    document: Document,
    links: FigureLinks,
    finalize: Callable[[Any], Any],
) -> None:
    """Link the answer, and what stands beside it, in a page about to be written.

    Parameters
    ----------
    doc : object
        The document as the page's template sees it; `answer` and `beside` are changed.
    tables : dict
        The tables as the template sees them, by key; cells of those beside the answer are changed.
    document : Document
        The document itself.
    links : FigureLinks
        What is known of its figures.
    finalize : callable
        Cleans and escapes a text that is no figure.
    """

    def linked(parts: Iterable[Part]) -> Markup:
        return markup_of(parts, finalize)

    doc.answer = [linked(links.link_figures(set_text(a))) for a in document.answer]
    told = {s.key: s for s in document.beside}
    for shown in doc.beside:  # the brief carries others
        section = told[shown["key"]]
        for block, face in zip(section.blocks, shown["blocks"], strict=True):
            if isinstance(block, Statement):
                face["text"] = linked(links.link_figures(face["text"]))
            elif isinstance(block, Table):
                _link_cells(tables[block.key]["rows"], drop_empty(block), links, linked)


def link_brief(
    face: dict[str, Any] | None, links: FigureLinks, finalize: Callable[[Any], Any]
) -> None:
    """Link the figures of a brief about to be written; nothing where the page has none.

    Parameters
    ----------
    face : dict or None
        The brief as the page's template sees it; its texts are changed.
    links, finalize
        As for `link_first_screen`.
    """
    if face is None:
        return

    def linked(text: str) -> Markup:
        return markup_of(links.link_figures(text), finalize)

    face["answer"] = [linked(a) for a in face["answer"]]
    face["accepted"] = linked(face["accepted"])
    for part in face["parts"]:
        keyed = {t: part for t in part["tables"] if t.startswith("first-")}
        weak = part["key"] == "weakest"
        part["lines"] = [
            markup_of(links.link_among(x, links.of_cell("first-weakest", i, "", "point")), finalize)
            if weak
            else linked(x)
            for i, x in enumerate(part["lines"])
        ]
        for i, row in enumerate(part["rows"]):
            keys = [k for t in keyed for k in links.of_cell(t, i, row[0], "failure_high")]
            part["rows"][i] = [
                row[0],
                *(markup_of(links.link_among(c, keys), finalize) if keys else linked(c)
                  for c in row[1:]),
            ]  # fmt: skip


def _link_cells(
    rows: list[list[dict[str, Any]]],
    table: Table,
    links: FigureLinks,
    linked: Callable[[Iterable[Part]], Markup],
) -> None:
    for i, row in enumerate(rows):
        name = str(table.rows[i][0])
        for cell, column in zip(row, table.columns, strict=True):
            keys = links.of_cell(table.key, i, name, column.key)
            if keys:
                cell["text"] = linked(links.link_among(cell["text"], keys))


def markup_of(parts: Iterable[Part], finalize: Callable[[Any], Any] = str) -> Markup:
    """Return the parts of a text as markup, each figure a link to the page of the lineage."""
    from markupsafe import Markup, escape

    out = Markup("")
    for text, key in parts:
        face = escape(finalize(text))
        out += Markup('<a class="traced" href="{}#{}">{}</a>').format(
            LINEAGE_PAGE, key, face) if key else face  # fmt: skip
    return out
