"""Write the brief of a study as one small page, with names replaced where that is asked."""

from __future__ import annotations

import hashlib
import os
import tempfile
from pathlib import Path

from fleetstats.chapters.compose import compose_checked
from fleetstats.chapters.departures import list_departures
from fleetstats.core.errors import ReportError
from fleetstats.core.value import Value, value
from fleetstats.report.brief_html import short_html
from fleetstats.report.bundle.pseudonyms import write_pseudonymous
from fleetstats.report.json import write_json_text
from fleetstats.report.write import with_digest
from fleetstats.studies.analyse import analyse, read_lives_of
from fleetstats.study.study import Study


@value
class Exported(Value):
    """A brief that was written: its file, its size, and the report that it belongs to."""

    path: str
    size_bytes: int
    report_id: str
    figures_digest: str
    pseudonymous: bool

    def __repr__(self) -> str:
        names = ", names replaced" if self.pseudonymous else ""
        return (
            f"{self.path}: {self.size_bytes:,} bytes{names}; brief of report {self.report_id}\n"
            f"SHA-256 of the results.json that it was made from: {self.figures_digest}"
        )

    __str__ = __repr__


def export_short(study: Study, out: Path, *, key: bytes | None, place: Path) -> Exported:
    """Run a study and write its brief as one page.

    Parameters
    ----------
    study : Study
        The study.
    out : Path
        The page; an existing file is replaced in one move.
    key : bytes or None
        Key of the pseudonyms; None leaves names as they are.
    place : Path
        A folder for the copy of the study under pseudonyms, which is the caller's to remove.

    Raises
    ------
    ReportError
        If the brief is too large, or the page cannot be written.
    """
    name = study.name
    if key is not None:
        study, name = pseudonymous_copy(study, place / "study", key), "study"
    results, document = compose_checked(analyse(study, command=f"fleetstats study {name}"))
    digest = hashlib.sha256(write_json_text(results).encode()).hexdigest()
    signed = with_digest(document, digest)
    data = short_html(signed, names_replaced=key is not None).encode()
    _write(data, out)
    return Exported(
        path=out.name,
        size_bytes=len(data),
        report_id=document.report_id,
        figures_digest=digest,
        pseudonymous=key is not None,
    )


def pseudonymous_copy(study: Study, folder: Path, key: bytes) -> Study:
    """Write the study under pseudonyms into a folder and return it, as a bundle would carry it."""
    records, audit, built = read_lives_of(study)
    return write_pseudonymous(
        study,
        audit,
        folder,
        key=key,
        n_built=len(records.serials) or None,
        departures=list_departures(study, records, audit, built),
    )[0]


def _write(data: bytes, out: Path) -> None:
    """Write the page beside its place and move it there."""
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=f".{out.name}-", dir=out.parent)
        try:
            with os.fdopen(handle, "wb") as f:
                f.write(data)
            Path(temporary).chmod(0o644)
            Path(temporary).replace(out)
        except BaseException:
            Path(temporary).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise ReportError(
            f"The page '{out.name}' cannot be written: {error.strerror}.",
            "Choose a folder that you may write to, with enough space.",
        ) from error
