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
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from fleetstats.core.value import Array
from fleetstats.tables.chunks import Chunk, OtherRow, check_width, chunk_of
from fleetstats.tables.csv_table import BOMS, check_lines, find_delimiter, find_header, split_text
from fleetstats.tables.table import RawRow, TableError
from fleetstats.vocabulary.finding import make_finding

BLOCK = 32 * 2**20
"""Bytes of a block: half a million lines or so."""

HEAD = 2**18
"""Bytes in which the header and the delimiter are looked for."""

QUOTE, FEED, RETURN = 34, 10, 13
LINE_END = re.compile(rb"\r\n|\r|\n")


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """What the head of a delimited text tells."""

    header: tuple[str, ...]
    width: int
    header_line: int
    delimiter: str
    chunks: Iterator[Chunk] = field(repr=False)


def open_text(
    path: Path, name: str, *, encoding: str = "", delimiter: str = "", header_row: int = 0
) -> TextTable:
    """Read the head of a delimited text; its chunks are read as they are asked for.

    Parameters
    ----------
    path, name : Path, str
        The file, and its name in messages.
    encoding, delimiter, header_row
        As for the ordinary reader. Without an encoding the text is UTF-8 or says by its first
        bytes what it is; nothing is guessed, since what a guess rests on may stand at the end.

    Raises
    ------
    TableError
        If it is no text in its encoding, has no header, or a quotation mark is never closed; also
        while its chunks are read.
    """
    pieces = _with_line_feeds(_pieces(path, name, encoding))
    data = b""
    for piece in pieces:
        data += piece
        if len(data) >= HEAD:
            break
    check_lines(data, name)
    whole = len(data) < HEAD
    lines = data if whole else data[: data.rfind(b"\n") + 1]
    mark = delimiter or find_delimiter(_text(lines, name, 1))
    cut = len(data) if whole else _last_line_end(data, mark)
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
    blocks = _Blocks(name=name, header=clean, width=width, delimiter=mark)
    return TextTable(
        header=clean, width=width, header_line=line, delimiter=mark,
        chunks=blocks.read(data[start:], pieces, next_line),
    )  # fmt: skip


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


def _pieces(path: Path, name: str, encoding: str) -> Iterator[bytes]:
    """Yield the text as UTF-8, without its mark of order."""
    with path.open("rb") as f:
        head = f.read(4)
        codec = encoding
        if not codec:
            codec = next((c for bom, c in BOMS if head.startswith(bom)), "utf-8")
        f.seek(0)
        if codecs.lookup(codec).name in ("utf-8", "utf-8-sig", "ascii"):
            first = f.read(BLOCK).removeprefix(codecs.BOM_UTF8)
            while first:
                yield first
                first = f.read(BLOCK)
            return
        decoder = codecs.getincrementaldecoder(codec)()
        while True:
            raw = f.read(BLOCK)
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


def _last_line_end(data: bytes, delimiter: str = "") -> int:
    """Return where the last line ends that no quoted cell goes over; 0 if there is none."""
    if b'"' not in data:
        return data.rfind(b"\n") + 1
    signs = np.frombuffer(data, dtype=np.uint8)
    marks = np.flatnonzero(signs == QUOTE)
    if delimiter and not _marks_pair(signs, marks, ord(delimiter)):
        return _end_by_rows(data, delimiter)
    ends = np.flatnonzero(signs == FEED)
    before = np.searchsorted(marks, ends)
    whole = ends[before % 2 == 0]
    return int(whole[-1]) + 1 if len(whole) else 0


def _marks_pair(signs: Array, marks: Array, delimiter: int) -> bool:
    """Return whether quotation marks open and close cells in turn, or are doubled within."""
    padded = np.concatenate([[FEED], signs, [FEED]]).astype(np.uint8)
    edges = np.array([delimiter, FEED, RETURN, QUOTE], dtype=np.uint8)
    opens, closes = padded[marks[::2]], padded[marks[1::2] + 2]
    return bool(np.isin(opens, edges).all() and np.isin(closes, edges).all())


def _end_by_rows(data: bytes, delimiter: str) -> int:
    """Return where the last whole row ends, as the ordinary reader parts rows."""
    ends = [0]

    def lines() -> Iterator[str]:
        # bytes as letters one to one, so that lengths are those of the bytes
        for line in io.StringIO(data.decode("latin-1"), newline=""):
            ends.append(ends[-1] + len(line))
            yield line

    before = cut = 0
    reader = csv.reader(lines(), delimiter=delimiter, strict=True)
    try:
        for _ in reader:
            before, cut = cut, ends[reader.line_num]
    except csv.Error:  # the row goes on past the block, or is told when it comes first
        return cut
    return cut if data.endswith(b"\n") else before


@dataclass(frozen=True, slots=True, kw_only=True)
class _Blocks:
    """The blocks of one file."""

    name: str
    header: tuple[str, ...]
    width: int
    delimiter: str

    def read(self, rest: bytes, pieces: Iterator[bytes], line: int) -> Iterator[Chunk]:
        ended = False
        while not ended:
            if len(rest) < BLOCK:
                piece = next(pieces, None)
                ended = piece is None
                rest += piece or b""
                if not ended and len(rest) < BLOCK:
                    continue
            cut = len(rest) if ended else _last_line_end(rest, self.delimiter)
            if cut == 0 and not ended:
                raise TableError(
                    make_finding("file-unreadable/open-quote", file=self.name, row=line, line=line)
                )
            block, rest = rest[:cut], rest[cut:]
            if block:
                yield self._chunk(block, line)
            line += _n_ends(block)

    def _chunk(self, block: bytes, line: int) -> Chunk:
        import pyarrow as pa

        check_lines(block, self.name, first_line=line)
        signs = np.frombuffer(block, dtype=np.uint8)
        if _longest_line(signs) > csv.field_size_limit() or not _is_simple(
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
        empty = pa.table({f"c{i}": pa.array([], pa.string()) for i in range(len(self.header))})
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
            some = pc.not_equal(pc.utf8_trim_whitespace(column), "").combine_chunks()
            beyond |= some.to_numpy(zero_copy_only=False)
        if beyond.any():
            rows += [
                (int(lines[k]), [c[k].as_py() for c in table.columns])
                for k in np.flatnonzero(beyond).tolist()
            ]
            table, lines = table.filter(pa.array(~beyond)), lines[~beyond]
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


def _longest_line(signs: Array) -> int:
    """Return the bytes of the longest line: one as long as no cell may be is read row by row."""
    ends = np.concatenate([[-1], np.flatnonzero(signs == FEED), [len(signs)]])
    return int(np.diff(ends).max())


def _is_simple(signs: Array, delimiter: int) -> bool:
    """Return whether every line is one row, with quotation marks only where a writer puts them."""
    marks = np.flatnonzero(signs == QUOTE)
    lone = np.flatnonzero(signs == RETURN)
    if len(lone):
        after = np.append(signs, FEED)[lone + 1]
        if (after != FEED).any():
            return False
    if not len(marks):
        return True
    ends = np.flatnonzero(signs == FEED)
    if (np.searchsorted(marks, ends) % 2).any():
        return False
    padded = np.concatenate([[FEED], signs, [FEED]]).astype(np.uint8)
    edges = np.array([delimiter, FEED, RETURN, QUOTE], dtype=np.uint8)
    opens = np.isin(padded[marks], edges)
    closes = np.isin(padded[marks + 2], edges)
    return bool((opens | closes).all())
