"""The process of a job: run as a module, it tells its stages as lines of JSON on its output."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable
from pathlib import Path

from fleetstats.core.child import leave_at_the_end
from fleetstats.core.errors import FleetstatsError

REPORT_FOLDER = "report"
"""Folder of the report within the study's: the page writes nothing outside."""
BUNDLE_NAME = "bundle.zip"
NO_HISTORY = "FLEETSTATS_NO_HISTORY"
"""Set, it keeps looks out of the study's ledger, as at a prompt."""


def tell(**told: str) -> None:
    """Write one line about the job."""
    sys.stdout.write(json.dumps(told) + "\n")
    sys.stdout.flush()


def stage(name: str) -> None:
    """Tell which stage begins."""
    tell(stage=name)


def write(folder: Path) -> str:
    """Write the report, as the verb `study` does, into the study's folder; return its place."""
    from fleetstats.chapters.compose import compose_checked
    from fleetstats.chapters.looks_made import look_of_study
    from fleetstats.core.beside import Beside
    from fleetstats.report.place import check_place
    from fleetstats.report.write import write_report
    from fleetstats.studies.analyse import analyse
    from fleetstats.study.history import append_look
    from fleetstats.study.study import read_study

    study = read_study(folder)
    out = check_place(folder / REPORT_FOLDER)
    with Beside() as beside:
        results = analyse(study, stage=stage, beside=beside)
        stage("writing the report")
        results, document = compose_checked(results)
        page = write_report(document, results, out, beside=beside)
    told = f"{REPORT_FOLDER}/{page.name}."
    if os.environ.get(NO_HISTORY):
        return told
    noted = append_look(folder, look_of_study(results, document.report_id))
    return f"{told} {noted.sentence}".strip()


def bundle(folder: Path) -> str:
    """Write the bundle into the study's folder, as the verb does; return its digest."""
    from fleetstats.report.bundle.pack import pack_bundle
    from fleetstats.study.study import read_study

    stage("packing")
    return pack_bundle(read_study(folder), folder / BUNDLE_NAME).digest


def verify(path: Path) -> str:
    """Verify a bundle, as the verb does; return what was found."""
    from fleetstats.report.bundle.guarded import verify_guarded

    stage("running the bundle's study again")
    return str(verify_guarded(path).result)


def compare(folder: Path, earlier: Path) -> str:
    """Compare an earlier study with the folder's, as the verb does; return the verb's lines.

    `earlier` is a study's folder, or a bundle, which is laid out beside itself.
    """
    from fleetstats.report.bundle.verify import study_of_bundle
    from fleetstats.studies.compare.compared import compare_folders

    if earlier.is_file():
        stage("looking at the bundle")
        earlier = study_of_bundle(earlier, earlier.parent / "laid-out")
    return "\n".join(compare_folders(earlier, folder, stage).lines())


WORK: dict[str, Callable[..., str]] = {
    "report": write,
    "bundle": bundle,
    "verify": verify,
    "compare": compare,
}


def main(kind: str, *places: str) -> None:
    """Do one job, and tell how it ended."""
    # what is told to stop clears up behind itself, as after Ctrl-C
    leave_at_the_end()
    try:
        told = WORK[kind](*(Path(p) for p in places))
    except (FleetstatsError, OSError) as error:
        tell(state="failed", told=str(error))
        return
    tell(state="done", told=told)


if __name__ == "__main__":
    main(*sys.argv[1:])
