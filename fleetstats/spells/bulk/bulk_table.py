"""The one table of a study that is read by chunks, with what was decided about its cells."""

from __future__ import annotations

from collections.abc import Iterator

from fleetstats.core.provenance import digest_file
from fleetstats.records.mends.apply import TableMends, mends_of, stray_mends
from fleetstats.records.mends.chunks import mend_chunks
from fleetstats.records.mends.log import read_mends
from fleetstats.records.mends.mend import Mended
from fleetstats.records.trouble.scan import Scanner
from fleetstats.study.study import RecordFile, Study
from fleetstats.tables.chunks import Chunk, TextPlace, read_parquet_chunks
from fleetstats.tables.csv_chunks import open_text
from fleetstats.tables.open_table import PARQUETS
from fleetstats.tables.table import RawTable, TableError
from fleetstats.vocabulary.slugs import suffix_of


class BulkTable:
    """A record file of any length, read as often as it is asked for.

    Parameters
    ----------
    study : Study
    file : RecordFile
        Its one table of lives.

    Raises
    ------
    TableError
        If a mend does not fit the table; also while its chunks are read.
    """

    def __init__(self, study: Study, file: RecordFile) -> None:
        self.file = file
        self.log = read_mends(study)
        stray = stray_mends(study, self.log, {file.file: ("",)})
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
        return self._open()[0]

    def chunks(self, after: TextPlace | None = None) -> Iterator[Chunk]:
        """Yield the chunks of the file, mended; those below a place in a text alone."""
        return mend_chunks(self._open(after)[1], self.mends)

    def mended(self, scanner: Scanner) -> tuple[Mended, ...]:
        """Return what the mends did to the rows that came by."""
        return () if self.mends is None else self.mends.told(lambda: scanner)

    def _open(self, after: TextPlace | None = None) -> tuple[RawTable, Iterator[Chunk]]:
        file = self.file
        if suffix_of(file.file) in PARQUETS:
            chunks = read_parquet_chunks(file.path, file.file)
            first = next(chunks)

            def all_chunks() -> Iterator[Chunk]:
                yield first
                yield from chunks

            return RawTable(file=file.file, header=first.header, rows=()), all_chunks()
        text = open_text(
            file.path, file.file, encoding=file.encoding, delimiter=file.delimiter,
            header_row=file.header_row, after=after,
        )  # fmt: skip
        head = RawTable(
            file=file.file, header=text.header, header_row=text.header_line, rows=(),
            delimiter=text.delimiter,
        )  # fmt: skip
        return head, text.chunks
