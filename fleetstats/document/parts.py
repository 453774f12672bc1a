"""Find the parts of a document: its tables, figures and explanations, in order, keys checked."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator

from fleetstats.core.errors import ReportError
from fleetstats.document.annexes import in_order
from fleetstats.document.document import Block, Document, Explain, Figure, Section, Table
from fleetstats.vocabulary.fold import fold

_KEY = re.compile(r"[a-z0-9]+(?:[-_][a-z0-9]+)*")


def walk_blocks(document: Document) -> Iterator[tuple[Section, Block]]:
    """Yield every block of summaries and sections with its section, in reading order."""
    for section in in_order(document):
        for block in section.blocks:
            yield section, block


def find_tables(document: Document) -> tuple[Table, ...]:
    """Return every table once, in order. Raises `ReportError` when two share a key."""
    out: dict[str, Table] = {}
    for _, block in walk_blocks(document):
        if isinstance(block, Table):
            if block.key in out and out[block.key] is not block:
                raise ReportError(f"Two tables of the report share the key '{block.key}'.")
            out[block.key] = block
    return tuple(out.values())


def find_figures(document: Document) -> tuple[Figure, ...]:
    """Return every figure once, the first figure first. Raises `ReportError` on a shared key."""
    out: dict[str, Figure] = {}
    figures = [b for _, b in walk_blocks(document) if isinstance(b, Figure)]
    if document.first_figure is not None:
        figures.insert(0, document.first_figure)
    for figure in figures:
        if figure.key in out and out[figure.key] is not figure:
            raise ReportError(f"Two figures of the report share the key '{figure.key}'.")
        out[figure.key] = figure
    return tuple(out.values())


def find_explanations(document: Document) -> tuple[Explain, ...]:
    """Return the glossary and every margin note, each term once, in alphabetical order."""
    out: dict[str, Explain] = {}
    for block in (*document.glossary, *(b for _, b in walk_blocks(document))):
        if isinstance(block, Explain):
            out.setdefault(fold(block.term), block)
    return tuple(out[k] for k in sorted(out))


def check_document(document: Document) -> None:
    """Raise `ReportError` when keys are missing, unsafe or shared, or tables are ragged."""
    from fleetstats.document.cells import check_table

    seen: set[str] = set()
    for section in in_order(document):
        if not _KEY.fullmatch(section.key):
            raise ReportError(
                f"Section key '{section.key}'.", "Use small letters, digits and dashes."
            )
        if section.key in seen:
            raise ReportError(f"Two sections of the report share the key '{section.key}'.")
        seen.add(section.key)
    keys = [t.key for t in find_tables(document)] + [f.key for f in find_figures(document)]
    for key in keys:
        if not _KEY.fullmatch(key):
            raise ReportError(
                f"Key '{key}' of a table or figure.", "Use small letters, digits and dashes."
            )
    for table in find_tables(document):
        check_table(table)


def data_version(document: Document) -> str:
    """Return a short digest over all input files: the version of the data for page feet."""
    h = hashlib.sha256()
    for f in sorted(document.provenance.files, key=lambda f: f.name):
        h.update(f"{f.name}\0{f.sha256}\n".encode())
    return h.hexdigest()[:10] if document.provenance.files else "no files"
