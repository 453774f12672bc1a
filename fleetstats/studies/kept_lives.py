"""The lives of a study read whole, kept while the files and the settings that reading asks stay.

Records, audit and lives are one kept result: the digests of every file that was read and the value
of every setting that was asked meanwhile stand beside it, and it is taken up where all of them are
as they were. What was decided about cells is a file among them, also where there is none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from fleetstats.core.provenance import digest_file
from fleetstats.core.shelf import Shelf
from fleetstats.records.audit.finding import Audit
from fleetstats.records.reading import Records
from fleetstats.spells.build import Built
from fleetstats.spells.bulk.kept_rows import FileState, file_keys, settings_stand, told_settings
from fleetstats.spells.bulk.kept_table import NONE, digest_mends
from fleetstats.study.study import MENDS_FILE, Study
from fleetstats.vocabulary.wording import count

KIND = "lives"

FROM_ROWS = 1_000
"""Rows below which reading takes less time than it takes to look for what was kept."""

BEFORE = ("portfolio.family",)
"""Settings asked before reading notes which it asks."""

Read = tuple[Records, Audit, Built]


def taken_or_read(shelf: Shelf | None, study: Study, read: Callable[[], Read]) -> Read:
    """Return a study's lives, as they were kept or as `read` reads them; then they are kept.

    Parameters
    ----------
    shelf : Shelf or None
        None keeps nothing.
    study : Study
        As read.
    read : callable
        Its errors are passed on, and nothing is kept then.
    """
    if shelf is None:
        return read()
    found = shelf.take(KIND, lambda about: _fits(study, about))
    if found:
        made: Read = found[1]
        n = sum(r.n_read for r in made[0].readings)
        shelf.tell(
            f"The records are as they were: {count(n, 'row')} and what the audit found are taken "
            "up from the run before (--again reads them anew)."
        )
        return made
    files = [*(f.file for f in study.files), MENDS_FILE]
    before = _states(study, files)
    out = read()
    records, _, built = out
    if sum(r.n_read for r in records.readings) < FROM_ROWS:
        return out
    if _states(study, files) == before:
        about = {
            "keys": [file_keys(f) for f in study.files],
            "settings": told_settings(study.settings, {*built.settings_read, *BEFORE}),
            "files": [[s.name, s.sha256] for s in records.sources],
            "mends": next((s.sha256 for s in records.sources if s.name == MENDS_FILE), NONE),
        }
        if _fits(study, about):
            shelf.keep(KIND, about, out)
    return out


def _fits(study: Study, about: Mapping[str, Any]) -> bool:
    return bool(
        about["keys"] == [file_keys(f) for f in study.files]
        and settings_stand(study.settings, about["settings"])
        and about["mends"] == digest_mends(study.folder)
        and all(digest_file(_path(study, name)) == sha256 for name, sha256 in about["files"])
    )


def _path(study: Study, name: str) -> Path:
    known = {f.file: f.path for f in study.files}
    return known.get(name) or study.folder.joinpath(*name.replace("\\", "/").split("/"))


def _states(study: Study, names: Iterable[str]) -> dict[str, FileState]:
    return {n: FileState.of(p) for n in names if (p := _path(study, n)).is_file()}
