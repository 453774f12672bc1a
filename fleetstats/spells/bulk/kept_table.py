"""What a table of any length came to, kept from one run to the next: the whole, and its rows.

The one place where a reader of chunks asks what was kept. The whole is taken up where every file,
the decisions about cells and the settings that were read are as they were; the rows of each file,
where the file only grew and nothing was decided about its cells, since a decision holds for one
state of a file.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fleetstats.core.provenance import digest_file
from fleetstats.core.shelf import Shelf
from fleetstats.spells.bulk.bulk_study import table_files
from fleetstats.spells.bulk.kept_again import KeptAgain
from fleetstats.spells.bulk.kept_rows import (
    FileState,
    KeptRows,
    KeptSettled,
    Known,
    digest_told,
    every_key,
    file_keys,
    settings_stand,
    told_settings,
)
from fleetstats.study.study import MENDS_FILE, RecordFile, Study
from fleetstats.vocabulary.wording import listed

ACCOUNT = "account"
"""Kind of kept result: all that the rows of one whole table came to."""

NONE = "none"


def digest_mends(folder: Path) -> str:
    """Return the SHA-256 of what was decided about a study's cells; a word where nothing was."""
    path = folder / MENDS_FILE
    return digest_file(path) if path.is_file() else NONE


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptTable:
    """Where what the one table of a study came to is kept.

    Parameters
    ----------
    shelf : Shelf or None
        None keeps nothing.
    reads : callable
        Says which settings were read so far, as ``table.key``; default, all of them.
    """

    shelf: Shelf | None = None
    reads: Callable[[], tuple[str, ...]] = field(default=every_key)

    def rows(self, study: Study, file: RecordFile) -> KeptRows:
        """Return the rows of one file that are kept, or will be."""
        return KeptRows(self._of_plain(study), file, study.settings, self.reads)

    def settled(self, study: Study, file: RecordFile) -> KeptSettled:
        """Return what the first rows of one file settle that is kept, or will be."""
        return KeptSettled(shelf=self._of_plain(study), file=file)

    def _of_plain(self, study: Study) -> Shelf | None:
        """Return the shelf for what no decision about a cell touches; None where there are any."""
        return None if (study.folder / MENDS_FILE).exists() else self.shelf

    def again(
        self, study: Study, file: RecordFile, before: Known | None, now: Known | None
    ) -> KeptAgain | None:  # fmt: skip
        """Return the rows of one file that were read again; None where nothing of it is kept."""
        if self.shelf is None or (before is None and now is None):
            return None
        return KeptAgain(
            shelf=self.shelf, file=file, settings=study.settings, reads=self.reads, before=before,
            now=now,
        )  # fmt: skip

    def whole(
        self, study: Study, kind: type, read: Callable[[], Any]
    ) -> tuple[Any, str | None]:  # fmt: skip
        """Return what the whole table came to, as it was kept or as `read` reads it.

        Beside it stands the digest of all that it rests on; None where that cannot be told.

        Parameters
        ----------
        study : Study
            As read.
        kind : type
            Of what `read` returns; nothing else is taken up. It tells its files by ``bulk.sources``
            and its decisions by ``bulk.mend_source``, and knows how it is kept (`BulkRead`).
        read : callable
            Its errors are passed on, and nothing is kept then.
        """
        if self.shelf is None:
            return read(), None
        files = table_files(study)
        found = self.shelf.take(ACCOUNT, lambda about: _fits(study, about))
        if found and isinstance(found[1], kind):
            names = list(dict.fromkeys(f.named for f in files))
            one = len(names) == 1
            self.shelf.tell(
                f"{listed(names)} {'is as it was' if one else 'are as they were'} when "
                f"{'it was' if one else 'they were'} read before: what was made of "
                f"{'its' if one else 'their'} rows is taken up (--again reads "
                f"{'it' if one else 'them'} anew)."
            )
            held: Any = found[1]
            return held.as_kept(), digest_told(found[0])
        before = _states(study)
        out = read()
        if _states(study) != before:
            return out, None
        mends = out.bulk.mend_source
        about = {
            "files": [
                [file_keys(f), s.size_bytes, s.sha256]
                for f, s in zip(files, out.bulk.sources, strict=True)
            ],
            "mends": NONE if mends is None else mends.sha256,
            "settings": told_settings(study.settings, self.reads()),
        }
        self.shelf.keep(ACCOUNT, about, out.to_keep())
        return out, digest_told(about)


def _fits(study: Study, about: Mapping[str, Any]) -> bool:
    files = table_files(study)
    return bool(
        [[file_keys(f), f.path.stat().st_size] for f in files] == [f[:2] for f in about["files"]]
        and settings_stand(study.settings, about["settings"])
        and about["mends"] == digest_mends(study.folder)
        and all(digest_file(f.path) == t[2] for f, t in zip(files, about["files"], strict=True))
    )


def _states(study: Study) -> list[FileState]:
    mends = study.folder / MENDS_FILE
    paths = [f.path for f in table_files(study)] + ([mends] if mends.is_file() else [])
    return [FileState.of(p) for p in paths]
