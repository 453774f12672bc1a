"""Write what a quick study answers: its brief in one page, and its figures as data."""

from __future__ import annotations

import hashlib
from pathlib import Path

from fleetstats.advice.results import Results
from fleetstats.core.errors import ReportError
from fleetstats.document.brief import DIGEST_OF
from fleetstats.document.document import Document
from fleetstats.report.brief_html import short_html
from fleetstats.report.json import write_json_bytes
from fleetstats.report.place import written_before
from fleetstats.report.write import PAGE, list_files, put_files, with_digest

BRIEF_PAGE = "brief.html"


def check_quick_place(folder: Path) -> None:
    """Raise ReportError where a quick study would take the place of a whole report."""
    if PAGE in written_before(folder):
        raise ReportError(
            f"The folder '{folder.name}' holds the report of a whole study, and a quick one would "
            "take its place.",
            "Name another folder with --out.",
        )


def write_brief(document: Document, results: Results, folder: Path) -> Path:
    """Write the brief as one page, and the results that it was made from.

    Parameters
    ----------
    document : Document
        The composed report of a quick study.
    results : Results
        The results behind it, written as ``results.json``.
    folder : Path
        Where they go, as for `write_report`; not one that holds the report of a whole study.

    Returns
    -------
    Path
        The page, ``brief.html``.

    Raises
    ------
    ReportError
        As `write_report`.
    """
    check_quick_place(folder)
    data = write_json_bytes(results)
    signed = with_digest(document, hashlib.sha256(data).hexdigest())
    files = {DIGEST_OF: data, BRIEF_PAGE: short_html(signed).encode()}
    return put_files(list_files(files, document), folder) / BRIEF_PAGE
