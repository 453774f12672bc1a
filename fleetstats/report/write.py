"""Write a whole report folder at once: page, PDF, data, figures.

A manifest lists every file with its SHA-256. How the files take their place, and what of others'
is kept, is told in `fleetstats.report.place`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from fleetstats.advice.results import Results
from fleetstats.core.beside import Beside, Later, Shared
from fleetstats.core.errors import ReportError
from fleetstats.core.gate import PATH, an, gate
from fleetstats.core.value import Value
from fleetstats.document.brief import DIGEST_OF
from fleetstats.document.document import Document, Figure
from fleetstats.document.parts import check_document, find_figures
from fleetstats.report.brief_pdf import brief_pdf
from fleetstats.report.checkers.answers import check_files
from fleetstats.report.figures import Drawing, draw_figure, rasterise
from fleetstats.report.html import page_pieces
from fleetstats.report.json import document_pieces, json_pieces, write_json_bytes, write_json_text
from fleetstats.report.lineage import (
    LINEAGE_PAGE,
    LIVES,
    FigureLinks,
    find_links,
    lineage_html,
    lineage_json,
    lives_csv,
)
from fleetstats.report.pdf import set_papers
from fleetstats.report.place import MANIFEST, MANIFEST_SCHEMA, digest_of, place_files
from fleetstats.report.tables import all_csv, tables_xlsx
from fleetstats.report.typeset_kept import forget_typeset
from fleetstats.studies.lineage import trace_figures

DOCUMENT = an(Document, "Make one by fs.compose_report(results).")
RESULTS = an(Value, "Give results, as fs.analyse(study) returns them.")

Traced = tuple[FigureLinks | None, dict[str, str]]
"""What links a page's figures, and the files that say what they rest on."""

PAGE = "report.html"
PAPER = "report.pdf"
BRIEF = "brief.pdf"


@gate(document=DOCUMENT, folder=PATH)
def write_report(
    document: Document,
    results: Value | None,
    folder: Path | str,
    *,
    beside: Beside | None = None,
) -> Path:
    """Write a report and everything that belongs to it.

    Parameters
    ----------
    document : Document
        The composed report.
    results : Value or None
        The results behind it, written as ``results.json``.
    folder : Path or str
        Where the report goes; made when it does not exist. Files in it that are not ours stay.
    beside : Beside, optional
        A process that may make pictures and paper meanwhile; no byte depends on it.

    Returns
    -------
    Path
        The page, ``report.html``.

    Raises
    ------
    ReportError
        When the document cannot be rendered, the folder is a file, it holds a file of ours that
        someone else wrote, or the disk refuses. Nothing is then left behind.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> import fleetstats as fs
    >>> results = fs.analyse(fs.read_study("datasets/quiet-fleet"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     fs.write_report(fs.compose_report(results), results, Path(folder)).name
    'report.html'
    """
    return put_files(render_files(document, results, beside), Path(folder)) / PAGE


def put_files(files: Mapping[str, bytes], folder: Path) -> Path:
    """Put files with their manifest into a folder; raises ReportError as `write_report`."""
    try:
        return place_files(files, folder)
    except OSError as error:
        raise ReportError(
            f"The report cannot be written to '{folder}': {error.strerror or error}.",
            "Choose a folder that you may write to, with enough space.",
        ) from error


def render_files(
    document: Document,
    results: Value | None,
    beside: Beside | None = None,
    *,
    more: Mapping[str, bytes] | None = None,
    into: MutableMapping[str, bytes] | None = None,
) -> MutableMapping[str, bytes]:
    """Return every file of the report, and `more`: path within its folder = bytes.

    They are put `into` a mapping where one is given. Where that may `leave_out` a file, one for
    which there is no memory is left out.
    """
    check_document(document)
    out: MutableMapping[str, bytes] = {} if into is None else into
    out.update(more or {})
    beside = beside or Beside(wanted=False)
    shared = beside.share((document, results))
    written = None if _takes_pieces(out) else beside.ask_sharing(write_shared, shared)
    figures, first = find_figures(document), document.first_figure
    wide = {f.key: draw_figure(f) for f in figures}
    narrow = None if first is None else draw_figure(first, narrow=True)
    if results is not None:
        _put_results(out, results, written)
        document = with_digest(document, digest_of(out, DIGEST_OF))
    paper = beside.ask(set_papers, document, wide, narrow)
    traced = beside.ask_sharing(trace_shared, shared)
    # paper takes the wide ones alone, so it is set while the narrow ones are drawn
    drawings = draw_figures(figures, wide, narrow)
    whole = {k: d[0].svg for k, d in drawings.items()}
    pictures = beside.ask(rasterise, whole)
    out.update({f"figures/{key}.svg": svg.encode() for key, svg in whole.items()})
    _put(out, "tables", lambda: {n: text.encode() for n, text in all_csv(document).items()})
    _put(out, "check.py", lambda: check_files(results))
    _put(out, "tables.xlsx", lambda: {"tables.xlsx": tables_xlsx(document)})
    _put_pieces(out, "report.json", lambda: document_pieces(document))
    links = _put_lineage(out, traced)
    _put_pieces(out, PAGE, partial(_page_bytes, document, drawings, links))
    del drawings, whole, links
    _put(out, "figures/png", lambda: {f"figures/{k}.png": p for k, p in pictures.take().items()})
    _put(out, PAPER, lambda: _named(*paper.take()))
    if document.brief is not None and BRIEF not in out:
        _put(out, BRIEF, lambda: {BRIEF: beside.ask(brief_pdf, document, narrow).take()})
    forget_typeset()
    return list_files(out, document)


def _takes_pieces(out: MutableMapping[str, bytes]) -> bool:
    """Return whether files may be put there piece by piece, so that none stands in memory whole."""
    return hasattr(out, "put_pieces")


def _put_results(
    out: MutableMapping[str, bytes], results: Value, written: Later[bytes] | None
) -> None:
    """Put the results among the files of a report, as written beside or piece by piece."""
    if written is not None:
        out[DIGEST_OF] = written.take()
    elif (put := getattr(out, "put_pieces", None)) is not None:
        put(DIGEST_OF, json_pieces(results))


def _put(
    out: MutableMapping[str, bytes], name: str, make: Callable[[], Mapping[str, bytes]]
) -> None:
    """Put files among those of a report, or leave them out where there is no memory for them."""
    try:
        out.update(make())
    except MemoryError:
        leave_out = getattr(out, "leave_out", None)
        if leave_out is None:
            raise
        leave_out(name)


def _put_pieces(
    out: MutableMapping[str, bytes], name: str, make: Callable[[], Iterable[bytes]]
) -> None:
    """Put a file that is made piece by piece, as `_put` does; in memory it is joined."""
    put = getattr(out, "put_pieces", None)
    _put(out, name, lambda: {name: b"".join(make())} if put is None else put(name, make()) or {})


def _page_bytes(
    document: Document, drawings: Mapping[str, tuple[Drawing, Drawing]], links: FigureLinks | None
) -> Iterator[bytes]:
    return (p.encode() for p in page_pieces(document, drawings, links))


def _named(report: bytes, brief: bytes | None) -> dict[str, bytes]:
    return ({} if brief is None else {BRIEF: brief}) | {PAPER: report}


def write_shared(shared: Shared[tuple[Document, Value | None]]) -> bytes:
    """Return the results behind a report as JSON; a piece of work for a process beside."""
    return write_json_bytes(shared.value[1])


def trace_shared(shared: Shared[tuple[Document, Value | None]]) -> Traced:
    """Return what `trace_files` does, the links without the lives that no text is a link to."""
    links, files = trace_files(shared.value[1])
    return None if links is None else links.without_lives(), files


def _put_lineage(out: MutableMapping[str, bytes], traced: Later[Traced]) -> FigureLinks | None:
    """Put what the figures rest on among the files of a report; return what links its page."""
    found: list[FigureLinks | None] = []

    def make() -> dict[str, bytes]:
        links, files = traced.take()
        found.append(links)
        return {name: text.encode() for name, text in files.items()}

    _put(out, LINEAGE_PAGE, make)
    return found[0] if found and LINEAGE_PAGE in out else None


def list_files(files: MutableMapping[str, bytes], document: Document) -> MutableMapping[str, bytes]:
    """Return the files of a report with the manifest that lists them, put among them."""
    listed = {name: digest_of(files, name) for name in files}
    content = {"schema": MANIFEST_SCHEMA, "report_id": document.report_id, "files": listed}
    files[MANIFEST] = write_json_text(content).encode()
    return files


def with_digest(document: Document, digest: str) -> Document:
    """Return a report whose brief, where it has one, carries the digest of its figures."""
    if document.brief is None:
        return document
    return replace(document, brief=replace(document.brief, digest=digest))


@gate(results=RESULTS.or_none)
def trace_files(results: Value | None) -> tuple[FigureLinks | None, dict[str, str]]:
    """Return what links a page's figures, and the files that say what they rest on.

    None, and no file, where the report is not that of one study.

    Parameters
    ----------
    results : Value or None
        The results behind a report.

    Raises
    ------
    ArgumentError
        If they are no value of the package.
    """
    if not isinstance(results, Results):
        return None, {}
    lineage = trace_figures(results)
    out = {"lineage.json": lineage_json(lineage), LINEAGE_PAGE: lineage_html(lineage)}
    if lineage.lives is not None:
        out[LIVES] = lives_csv(lineage.lives)
    return find_links(results, lineage), out


def draw_figures(
    figures: Sequence[Figure], wide: Mapping[str, Drawing], known: Drawing | None
) -> dict[str, tuple[Drawing, Drawing]]:
    """Return wide drawings and narrow ones, by the figures' keys; one narrow one is known."""
    narrow = {} if known is None else {known.key: known}
    return {f.key: (wide[f.key], narrow.get(f.key) or draw_figure(f, narrow=True)) for f in figures}
