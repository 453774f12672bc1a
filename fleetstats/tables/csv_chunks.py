"""A delimited text of any length in chunks of whole lines.

Blocks of plain lines are parted by pyarrow; a block with cells over several lines, or with
quotation marks that stand where a writer would not put them, by the ordinary reader's own
splitting, row by row.
"""

from __future__ import annotations

import codecs
import csv
import io
import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from fleetstats.tables.arrow.plain_values import arrow_of, bools_of, text_value
from fleetstats.tables.chunks import Chunk, OtherRow, TextPlace, check_width, chunk_of
from fleetstats.tables.csv_table import BOMS, check_lines, find_delimiter, find_header, split_text
from fleetstats.tables.table import RawRow, TableError
from fleetstats.tables.text.line_ends import is_simple, last_line_end, longest_line
from fleetstats.vocabulary.finding import make_finding

BLOCK = 2 * 2**20
"""Bytes of a block: thirty thousand lines or so. Larger ones are no quicker, and a table that
grew is read again from its last whole one."""

HEAD = 2**18
"""Bytes in which the header and the delimiter are looked for."""


LINE_END = re.compile(rb"\r\n|\r|\n")


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """What the head of a delimited text tells."""

    header: tuple[str, ...]
    width: int
    header_line: int
    delimiter: str
    chunks: Iterator[Chunk] = field(repr=False)


def block_bytes() -> int:
    """Return the bytes of a block after the first."""
    return BLOCK


def open_text(
    path: Path, name: str, *, encoding: str = "", delimiter: str = "", header_row: int = 0,
    after: TextPlace | None = None,
) -> TextTable:  # fmt: skip
    """Read the head of a delimited text; its chunks are read as they are asked for.

    Parameters
    ----------
    path, name : Path, str
        The file, and its name in messages.
    encoding, delimiter, header_row
        As for the ordinary reader. Without an encoding the text is UTF-8 or says by its first
        bytes what it is; nothing is guessed, since what a guess rests on may stand at the end.
    after : TextPlace, optional
        Where a chunk of this text ended: those after it are read. Default, all.

    Raises
    ------
    TableError
        If it is no text in its encoding, has no header, or a quotation mark is never closed; also
        while its chunks are read.
    """
    pieces = _with_line_feeds(_pieces(path, name, encoding))
    data, lines, mark, cut, whole = b"", b"", delimiter, 0, False
    # further only where the header is not in so many bytes, or a cell is longer
    while not (whole or (lines and cut and data.count(b"\n") > header_row)):
        piece = next(pieces, None)
        whole = piece is None
        data += piece or b""
        if not whole and len(data) < HEAD:
            continue
        check_lines(data, name)
        lines = data if whole else data[: data.rfind(b"\n") + 1]
        mark = delimiter or find_delimiter(_text(lines, name, 1))
        cut = len(data) if whole else last_line_end(data, mark)
    rows = split_text(_text(data[:cut] if cut else lines, name, 1), mark, name)
    first = find_header(rows, header_row, name)
    line, header = rows[first]
    width = len(header)
    while len(header) > 1 and not header[-1].strip():
        header = header[:-1]
    clean = tuple(" ".join(h.split()) for h in header)
    check_width(clean, name)
    if first + 1 < len(rows):
        next_line = rows[first + 1][0]
        ends = LINE_END.finditer(data)
        start = next(itertools.islice(ends, next_line - 2, None)).end()
    else:
        next_line, start = _n_ends(data[:cut]) + 1, cut
    blocks = _Blocks(
        name=name, header=clean, width=width, delimiter=mark, begun=_plain_begin(path, encoding)
    )
    chunks = blocks.read(data[start:], pieces, next_line, start)
    if after is not None:
        chunks = blocks.go_on(path, after)
    return TextTable(header=clean, width=width, header_line=line, delimiter=mark, chunks=chunks)


def _plain_begin(path: Path, encoding: str) -> int | None:
    """Return how many bytes of a text are its mark of order, or None.

    None where its bytes are not parted as they stand in the file, so that it cannot be read on from
    a place in it: encodings other than UTF-8, and lines that end in carriage returns alone.
    """
    with path.open("rb") as f:
        head = f.read(HEAD)
    codec = encoding or next((c for bom, c in BOMS if head.startswith(bom)), "utf-8")
    end = LINE_END.search(head)
    if codecs.lookup(codec).name not in PLAIN_CODECS or end is None or end.group() == b"\r":
        return None
    return len(codecs.BOM_UTF8) if head.startswith(codecs.BOM_UTF8) else 0


def _with_line_feeds(pieces: Iterator[bytes]) -> Iterator[bytes]:
    """Yield a text whose lines end in carriage returns alone with line feeds instead."""
    lone = None
    held = b""
    for piece in pieces:
        # a return at the end of a piece waits, since the next may open with its line feed
        whole = held + piece
        held = whole[-1:] if whole.endswith(b"\r") else b""
        whole = whole.removesuffix(held)
        if lone is None:
            end = LINE_END.search(whole)
            if end is not None:
                lone = end.group() == b"\r" and b"\r\n" not in whole
        if whole:
            yield whole.replace(b"\r", b"\n") if lone else whole
    if held:
        yield held if lone is False else b"\n"


def _n_ends(block: bytes) -> int:
    return block.count(b"\n") + block.count(b"\r") - block.count(b"\r\n")


PLAIN_CODECS = ("utf-8", "utf-8-sig", "ascii")
"""Encodings whose bytes are taken as they are."""


def _sizes() -> Iterator[int]:
    """Yield the bytes of each piece in which a text is read, the first one short."""
    yield min(HEAD, BLOCK)
    yield from itertools.repeat(BLOCK)


def _pieces(path: Path, name: str, encoding: str) -> Iterator[bytes]:
    """Yield the text as UTF-8, without its mark of order."""
    sizes = _sizes()
    with path.open("rb") as f:
        head = f.read(4)
        codec = encoding
        if not codec:
            codec = next((c for bom, c in BOMS if head.startswith(bom)), "utf-8")
        f.seek(0)
        if codecs.lookup(codec).name in PLAIN_CODECS:
            f.seek(len(codecs.BOM_UTF8) if head.startswith(codecs.BOM_UTF8) else 0)
            while piece := f.read(next(sizes)):
                yield piece
            return
        decoder = codecs.getincrementaldecoder(codec)()
        while True:
            raw = f.read(next(sizes))
            try:
                yield decoder.decode(raw, final=not raw).encode("utf-8")
            except UnicodeError as e:
                raise TableError(
                    make_finding(
                        "file-unreadable/not-stated-encoding", file=name, codec=codec, problem=e
                    )
                ) from None
            if not raw:
                return


def _text(data: bytes, name: str, line: int) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as e:
        at = line + data[: e.start].count(b"\n")
        raise TableError(
            make_finding("file-unreadable/not-utf8", file=name, row=at, at=at)
        ) from None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Blocks:
    """The blocks of one file; `begun` is where its text begins, None as `_plain_begin` says."""

    name: str
    header: tuple[str, ...]
    width: int
    delimiter: str
    begun: int | None

    def read(self, rest: bytes, pieces: Iterator[bytes], line: int, at: int) -> Iterator[Chunk]:
        """Yield the chunks of a text from `rest` on, which begins at byte `at` of the text."""
        ended = False
        while not ended:
            if len(rest) < BLOCK:
                piece = next(pieces, None)
                ended = piece is None
                rest += piece or b""
                if not ended and len(rest) < BLOCK:
                    continue
            cut = len(rest) if ended else last_line_end(rest, self.delimiter)
            if cut == 0 and not ended:
                raise TableError(
                    make_finding("file-unreadable/open-quote", file=self.name, row=line, line=line)
                )
            block, rest = rest[:cut], rest[cut:]
            after, at = line + _n_ends(block), at + cut
            if block:
                chunk = self._chunk(block, line)
                yield chunk if ended else replace(chunk, end=self._place(at, after))
            line = after

    def go_on(self, path: Path, after: TextPlace) -> Iterator[Chunk]:
        """Yield the chunks from where one ended, as if all before had been read."""
        with path.open("rb") as f:
            f.seek(after.offset)
            rest = f.read(after.seen - after.offset)
            pieces = iter(lambda: f.read(BLOCK), b"")
            yield from self.read(rest, pieces, after.line, after.offset - (self.begun or 0))

    def _place(self, at: int, line: int) -> TextPlace | None:
        """Return the place at a byte of the text; None where reading cannot go on from it."""
        if self.begun is None:
            return None
        seen = next(n for n in itertools.accumulate(_sizes()) if n >= at)
        return TextPlace(offset=self.begun + at, line=line, seen=self.begun + seen)

    def _chunk(self, block: bytes, line: int) -> Chunk:
        import pyarrow as pa

        check_lines(block, self.name, first_line=line)
        signs = np.frombuffer(block, dtype=np.uint8)
        if longest_line(signs) > csv.field_size_limit() or not is_simple(
            signs, ord(self.delimiter)
        ):
            return self._chunk_by_rows(block, line)
        try:
            return self._chunk_by_columns(block, line)
        except pa.ArrowInvalid:
            _text(block, self.name, line)
            return self._chunk_by_rows(block, line)

    def _chunk_by_rows(self, block: bytes, line: int) -> Chunk:
        import pyarrow as pa

        rows = [
            (line + n - 1, cells)
            for n, cells in split_text(_text(block, self.name, line), self.delimiter, self.name,
                                       first_line=line)
        ]  # fmt: skip
        others, n_blank = self._others(rows)
        empty = pa.table({f"c{i}": pa.nulls(0, pa.string()) for i in range(len(self.header))})
        return Chunk(
            n=0, lines=np.empty(0, np.int64), others=others, n_blank=n_blank, header=self.header,
            _table=empty,
        )  # fmt: skip

    def _chunk_by_columns(self, block: bytes, line: int) -> Chunk:
        import pyarrow as pa
        import pyarrow.compute as pc
        import pyarrow.csv as pv

        odd: list[tuple[int, str]] = []

        def ragged(row: object) -> str:
            odd.append((row.number, row.text))  # type: ignore[attr-defined]
            return "skip"

        names = [f"c{i}" for i in range(self.width)]
        table = pv.read_csv(
            pa.py_buffer(block),
            read_options=pv.ReadOptions(
                column_names=names, use_threads=False, block_size=len(block) + 1
            ),
            parse_options=pv.ParseOptions(
                delimiter=self.delimiter, invalid_row_handler=ragged, ignore_empty_lines=False
            ),
            convert_options=pv.ConvertOptions(
                column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=False
            ),
        )
        n_cut = len(self.header)
        lines = np.arange(line, line + table.num_rows + len(odd))
        lines = np.delete(lines, [n - 1 for n, _ in odd])
        if len(lines) != table.num_rows or len(lines) + len(odd) != _n_lines(block):
            raise pa.ArrowInvalid("lines parted otherwise than counted")
        rows = [
            (line + n - 1, next(csv.reader(io.StringIO(t), delimiter=self.delimiter), []))
            for n, t in odd
        ]
        beyond = np.zeros(table.num_rows, dtype=bool)
        for column in table.columns[n_cut:]:
            beyond |= bools_of(pc.not_equal(pc.utf8_trim_whitespace(column), text_value("")))
        if beyond.any():
            rows += [
                (int(lines[k]), [c[k].as_py() for c in table.columns])
                for k in np.flatnonzero(beyond).tolist()
            ]
            table, lines = table.filter(arrow_of(~beyond)), lines[~beyond]
        others, n_blank = self._others(rows)
        chunk = chunk_of(table.select(list(range(n_cut))), lines, self.header, others)
        return Chunk(
            n=chunk.n, lines=chunk.lines, others=others, n_blank=chunk.n_blank + n_blank,
            header=self.header, _table=chunk._table,
        )  # fmt: skip

    def _others(self, rows: list[tuple[int, list[str]]]) -> tuple[tuple[OtherRow, ...], int]:
        """Return rows as the ordinary reader marks them, and how many are blank."""
        n_cut = len(self.header)
        out = []
        for line, cells in rows:
            if not any(c.strip() for c in cells):
                continue
            n = len(cells)
            filled = tuple([*cells, *[""] * (n_cut - n)][:n_cut])
            long = n if any(c.strip() for c in cells[n_cut:]) else 0
            out.append(
                OtherRow(row=RawRow(row=line, cells=filled), short=n if n < n_cut else 0, long=long)
            )
        return tuple(out), len(rows) - len(out)


def _n_lines(block: bytes) -> int:
    return block.count(b"\n") + (not block.endswith(b"\n"))
