"""A file of the one table of a study that is read by chunks, with decisions about its cells."""

from __future__ import annotations

from collections.abc import Iterator

from fleetstats.core.provenance import digest_file
from fleetstats.records.mends.apply import TableMends, mends_of, stray_mends
from fleetstats.records.mends.chunks import mend_chunks
from fleetstats.records.mends.log import read_mends
from fleetstats.records.mends.mend import Mended
from fleetstats.records.rows.heads import open_chunks
from fleetstats.records.trouble.scan import Scanner
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.chunks import Chunk, TextPlace
from fleetstats.tables.table import RawTable, TableError


class BulkTable:
    """A record file of any length, read as often as it is asked for.

    Parameters
    ----------
    study : Study
    file : RecordFile
        Its one table of lives, or one of the files that hold it.

    Raises
    ------
    TableError
        If a mend does not fit the table; also while its chunks are read.
    """

    def __init__(self, study: Study, file: RecordFile) -> None:
        self.file = file
        self.log = read_mends(study)
        self._alone = len(study.of_shape("lives")) == 1
        self._below: tuple[TextPlace, Chunk] | None = None
        stray = stray_mends(study, self.log, {f.file: ("",) for f in study.of_shape("lives")})
        if stray:
            raise TableError(stray[0])
        mends = mends_of(self.log, file, "")
        self.mends = None
        if mends:
            digest = digest_file(file.path)
            self.mends = TableMends(self.head(), file, study.settings, mends, digest)

    @property
    def aside(self) -> dict[int, tuple[str, str]]:
        """Return the rows set aside by decision that have come by: by whom, and why."""
        return {} if self.mends is None else self.mends.aside

    def head(self) -> RawTable:
        """Return the file's header as a table without rows."""
        return open_chunks(self.file)[0]

    def chunks(self, after: TextPlace | None = None) -> Iterator[Chunk]:
        """Yield the chunks of the file, mended; those below a place in a text alone."""
        if self._below is not None and self._below[0] == after:
            return iter(self._below[1:])
        chunks = mend_chunks(open_chunks(self.file, after)[1], self.mends)
        # of very many files the last blocks of all together would take room
        return chunks if after is None or not self._alone else self._holding(chunks, after)

    def _holding(self, chunks: Iterator[Chunk], after: TextPlace) -> Iterator[Chunk]:
        """Yield the chunks below a place; where there is one only, it is at hand from then on.

        Of a table that grew a little that is what was added, and it is asked for twice.
        """
        n = 0
        for chunk in chunks:
            n += 1
            yield chunk
        if n == 1:
            self._below = after, chunk

    def mended(self, scanner: Scanner) -> tuple[Mended, ...]:
        """Return what the mends did to the rows that came by."""
        return () if self.mends is None else self.mends.told(lambda: scanner)
