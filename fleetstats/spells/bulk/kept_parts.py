"""What the rows of each file of one table gave, kept file by file as it comes.

A run that is stopped, or whose workers are lost, has then done nothing for nothing: the next one
takes up every file that was finished and is as it was. A table in one file is kept by `kept_rows`,
and so are the rows of texts that are read by this process.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from fleetstats.core.provenance import SourceFile, digest_file
from fleetstats.core.shelf import Shelf
from fleetstats.core.stages import silent
from fleetstats.spells.bulk.bulk_part import PartRead, make_reader
from fleetstats.spells.bulk.bulk_table import BulkTable
from fleetstats.spells.bulk.kept_rows import (
    Known,
    every_key,
    file_keys,
    hold_rows,
    kind_of,
    restore_rows,
    settings_stand,
    told_settings,
)
from fleetstats.spells.bulk.kept_table import KeptTable
from fleetstats.study.study import MENDS_FILE, RecordFile, Study
from fleetstats.tables.open_table import PARQUETS
from fleetstats.vocabulary.slugs import suffix_of

KIND = "file"


class KeptParts:
    """The files of a table that are kept, or will be.

    Parameters
    ----------
    study : Study
        What was decided about cells holds for one state of a file: then nothing is kept.
    files : sequence of RecordFile
        Of one table; a table of one file is none of this.
    kept : KeptTable
        Where, and which settings were read so far.
    here : bool
        Whether this process reads: then its texts are kept elsewhere.
    """

    def __init__(
        self, study: Study, files: Sequence[RecordFile], kept: KeptTable, *, here: bool
    ) -> None:
        self.study = study
        self.files = files
        self.reads = kept.reads if here else every_key
        away = len(files) == 1 or (study.folder / MENDS_FILE).exists()
        self.shelf: Shelf | None = None if away else kept.shelf
        self.texts = not here

    def take_up(self) -> dict[int, PartRead]:
        """Return what finished files gave, by their places in the table."""
        out = {}
        for i, file in enumerate(self.files):
            part = self._take(file)
            if part is not None:
                out[i] = part
        if out and self.shelf is not None:
            self.shelf.tell(
                f"{len(out):,} of {len(self.files):,} files are as they were when they were read "
                "before: what their rows gave is taken up (--again reads all)."
            )
        return out

    def keep(self, i: int, part: PartRead) -> None:
        """Keep what one file gave."""
        file, reader, source = self.files[i], part.reader, part.source
        if self.shelf is None or reader is None or source is None:
            return
        if not (part.steady and self._kept(file)):
            return
        about = {
            "file": file_keys(file),
            "settings": told_settings(self.study.settings, self.reads()),
            "bytes": source.size_bytes,
            "sha256": source.sha256,
        }
        part.now = _whole(about)
        held = hold_rows(reader, part.tally, [])
        self.shelf.keep(
            kind_of(KIND, file), about, {"rows": held, "marks": part.marks, "source": source}
        )

    def _kept(self, file: RecordFile) -> bool:
        return self.texts or suffix_of(file.file) in PARQUETS

    def _take(self, file: RecordFile) -> PartRead | None:
        if self.shelf is None or not self._kept(file):
            return None

        def fits(about: Mapping[str, Any]) -> bool:
            return bool(
                about["file"] == file_keys(file)
                and about["bytes"] == file.path.stat().st_size
                and settings_stand(self.study.settings, about["settings"])
                and about["sha256"] == digest_file(file.path)
            )

        quiet = replace(self.shelf, tell=silent)  # one sentence tells of all files
        found = quiet.take(kind_of(KIND, file), fits)
        if not found or not isinstance(found[1].get("source"), SourceFile):
            return None
        table = BulkTable(self.study, file)
        part = PartRead(table=table, reader=make_reader(self.study, table))
        assert part.reader is not None
        restore_rows(found[1]["rows"], part.reader, part.tally, [])
        part.marks = dict(found[1]["marks"])
        part.source = found[1]["source"]
        part.before = part.now = _whole(found[0])
        return part


def _whole(about: Mapping[str, Any]) -> Known:
    return Known(about={k: about[k] for k in ("file", "bytes", "sha256")})
