"""Years: the looks at these records that were written down, and what an earlier study said."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from fleetstats.advice.advice import VERDICT_WORDS
from fleetstats.core.errors import DataError
from fleetstats.desk.files import inside
from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.words import words, words_of
from fleetstats.desk.work import begin, stop
from fleetstats.study.history import read_history
from fleetstats.study.study import STUDY_FILE

DEPTHS = ("*", "*/*")
"""How deep within the folder an earlier study is looked for."""


def show(place: DeskPlace, form: Sent) -> dict[str, Any]:
    """Return the ledger of looks, the latest first, and the comparison that was asked for."""
    del form
    ledger = read_history(place.desk.folder)
    looks = [
        {
            "number": x.number,
            "date": x.date,
            "verb": x.verb,
            "asked": x.asked,
            "answers": x.answers,
            "verdict": VERDICT_WORDS.get(x.verdict, x.verdict),
            "report": x.report,
            "written": x.written,
        }
        for x in reversed(ledger.looks)
    ]
    job = place.jobs.current
    told = None if job is None or job.kind != "compare" else job.to_dict()
    return {"looks": looks, "flaws": ledger.flaws, "there": ledger.there,
            "earlier": earlier_studies(place.desk.folder), "job": told,
            "j": words_of("report")}  # fmt: skip


def earlier_studies(folder: Path) -> list[str]:
    """Return the folders within a folder that hold a study, as paths from it; no link leads out."""
    found = (p.relative_to(folder) for d in DEPTHS for p in folder.glob(f"{d}/{STUDY_FILE}"))
    return sorted(
        p.parent.as_posix()
        for p in found
        if not any(x.startswith(".") for x in p.parts) and inside(folder, *p.parts) is not None
    )


def compare(place: DeskPlace, form: Sent) -> str:
    """Begin to compare with a bundle that was dropped, or with a study within the folder."""
    folder = place.desk.folder
    if not place.desk.path.is_file():
        raise DataError(words("years", "no_study"))
    chosen = form.text("earlier")
    if chosen:
        if chosen not in earlier_studies(folder):
            raise DataError(words("years", "no_such_folder"))
        return begin(place, "compare", str(folder), str(folder / chosen))
    if len(form.files) != 1:
        raise DataError(words("years", "one_bundle"))
    outside = Path(tempfile.mkdtemp(prefix="fleetstats-earlier-"))
    bundle = outside / "bundle.zip"
    bundle.write_bytes(form.files[0][1])
    return begin(place, "compare", str(folder), str(bundle), given=outside)


ACTS = {"compare": compare, "stop": stop}
