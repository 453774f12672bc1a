"""Report: what is written to keep, sign and send, and a bundle that somebody sent."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fleetstats.core.errors import DataError
from fleetstats.desk.child import BUNDLE_NAME, REPORT_FOLDER
from fleetstats.desk.files import inside
from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.rooms.answer import CALL_SHEET
from fleetstats.desk.words import words

GIVEN = {
    "brief.pdf": (REPORT_FOLDER, "brief.pdf"),
    "report.html": (REPORT_FOLDER, "report.html"),
    "report.pdf": (REPORT_FOLDER, "report.pdf"),
    "tables.xlsx": (REPORT_FOLDER, "tables.xlsx"),
    "results.json": (REPORT_FOLDER, "results.json"),
    "bundle.zip": (BUNDLE_NAME,),
    CALL_SHEET: (CALL_SHEET,),
}
"""Files that the page gives, and where each lies in the study's folder. No other is given."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenFile:
    """A file that can be taken: its name, what it is for, its size in kB, whether it is old."""

    name: str
    says: str
    kb: int
    old: bool


def show(place: DeskPlace, form: Sent) -> dict[str, Any]:
    """Return what is written, and how far the job is."""
    del form
    now = place.reader.stand()
    changed = [place.desk.path, *(f.path for f in (now.study.files if now.study else ()))]
    newest = max((p.stat().st_mtime for p in changed if p.is_file()), default=0.0)
    files = []
    for name, parts in GIVEN.items():
        path = inside(place.desk.folder, *parts)
        if path is not None:
            told = path.stat()
            files.append(
                WrittenFile(
                    name=name,
                    says=words("report", "for_" + name.replace(".", "_").replace("-", "_")),
                    kb=max(round(told.st_size / 1024), 1),
                    old=told.st_mtime < newest,
                )
            )
    job = place.jobs.current
    ready = now.audit is not None and now.audit.ok
    return {"files": files, "job": None if job is None else job.to_dict(), "ready": ready}


def write(place: DeskPlace, form: Sent) -> str:
    """Begin to write the report."""
    del form
    return _begin(place, "report", str(place.desk.folder))


def bundle(place: DeskPlace, form: Sent) -> str:
    """Begin to write the bundle."""
    del form
    return _begin(place, "bundle", str(place.desk.folder))


def stop(place: DeskPlace, form: Sent) -> str:
    """Stop the job."""
    del form
    place.jobs.stop()
    return words("report", "stopped")


def verify(place: DeskPlace, form: Sent) -> str:
    """Begin to verify a bundle that was dropped; it is kept outside the study, for this run."""
    if len(form.files) != 1:
        raise DataError(words("report", "one_bundle"))
    with tempfile.NamedTemporaryFile(prefix="bundle-", suffix=".zip", delete=False) as file:
        file.write(form.files[0][1])
    place.jobs.leavings.append(Path(file.name))
    return _begin(place, "verify", file.name)


def _begin(place: DeskPlace, kind: str, argument: str) -> str:
    if not place.jobs.start(kind, argument):
        raise DataError(words("report", "one_at_a_time"))
    return words("report", "begun")


ACTS = {"write": write, "bundle": bundle, "stop": stop, "verify": verify}
