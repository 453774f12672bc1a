"""Write the brief of a study as one small page, with names replaced where that is asked."""

from __future__ import annotations

import hashlib
from pathlib import Path

from fleetstats.chapters.compose import compose_checked
from fleetstats.core.errors import ReportError
from fleetstats.core.files import write_whole
from fleetstats.core.value import Value, value
from fleetstats.report.brief_html import short_html
from fleetstats.report.bundle.pseudonyms import pseudonymous_study
from fleetstats.report.json import write_json_text
from fleetstats.report.write import with_digest
from fleetstats.studies.analyse import analyse
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


def export_short(
    study: Study, out: Path, *, pseudonymous: bool, key: bytes | None = None, place: Path
) -> Exported:
    """Run a study and write its brief as one page.

    Parameters
    ----------
    study : Study
        The study.
    out : Path
        The page; an existing file is replaced in one move.
    pseudonymous : bool
        Whether names are replaced, and hours and dates coarsened as a bundle's are by default.
    key : bytes, optional
        Secret of the pseudonyms; by default one is drawn and forgotten.
    place : Path
        A folder for the copy of the study under pseudonyms, which is the caller's to remove.

    Raises
    ------
    ReportError
        If the brief is too large, or the page cannot be written.
    """
    name = study.name
    if pseudonymous:
        study, name = pseudonymous_study(study, place / "study", key=key).study, "study"
    results, document = compose_checked(analyse(study, command=f"fleetstats study {name}"))
    digest = hashlib.sha256(write_json_text(results).encode()).hexdigest()
    signed = with_digest(document, digest)
    data = short_html(signed, names_replaced=pseudonymous).encode()
    _write(data, out)
    return Exported(
        path=out.name,
        size_bytes=len(data),
        report_id=document.report_id,
        figures_digest=digest,
        pseudonymous=pseudonymous,
    )


def _write(data: bytes, out: Path) -> None:
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        write_whole(out, data)
    except OSError as error:
        raise ReportError(
            f"The page '{out.name}' cannot be written: {error.strerror}.",
            "Choose a folder that you may write to, with enough space.",
        ) from error
