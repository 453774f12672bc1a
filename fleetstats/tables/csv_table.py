"""Delimited text to a table: any common encoding and delimiter, every line accounted for."""

from __future__ import annotations

import codecs
import csv
import io
from pathlib import Path

from fleetstats.core.limits import LIMITS, above, most
from fleetstats.tables.table import (
    MAX_CELLS,
    MAX_COLUMNS,
    MAX_ROWS,
    RawRow,
    RawTable,
    TableError,
)
from fleetstats.vocabulary.finding import Finding, make_finding

MOST_IN_LINE = most("line_cells")
DELIMITERS = (",", ";", "\t", "|")
BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_SAMPLE_LINES = 60
_SAMPLE_LETTERS = 2**20


def read_csv(
    path: Path, name: str, *, encoding: str = "", delimiter: str = "", header_row: int = 0
) -> RawTable:
    """Read a delimited text file.

    Parameters
    ----------
    path, name : Path, str
        The file, and its name in messages.
    encoding : str
        Empty finds it: byte-order mark, UTF-16 without one, UTF-8, else Windows-1252 with a note.
    delimiter : str
        Empty finds it among comma, semicolon, tab and bar.
    header_row : int
        Line of the header; 0 takes the first line that is not blank.

    Raises
    ------
    TableError
        If the bytes are no text in the encoding, or a quotation mark is never closed.
    """
    data = path.read_bytes()
    found: list[Finding] = []
    body, used = decode_text(data, name, encoding)
    if not encoding and used == "cp1252":
        found.append(make_finding("encoding-guessed", file=name))
    mark = delimiter or find_delimiter(body)
    lines = split_text(body, mark, name)
    first = find_header(lines, header_row, name)
    at, header = lines[first]
    n_cut = len(header)
    while n_cut > 1 and not header[n_cut - 1].strip():
        n_cut -= 1
    header = header[:n_cut]
    if n_cut > MAX_COLUMNS:
        raise TableError(
            make_finding(
                "file-too-large/header", file=name, row=at, n_cut=n_cut, most_columns=MAX_COLUMNS
            )
        )
    rows: list[RawRow] = []
    short: dict[int, int] = {}
    long: dict[int, int] = {}
    blank = 0
    for line, cells in lines[first + 1 :]:
        n = len(cells)
        if not (n and cells[0].strip()) and not any(c.strip() for c in cells):
            blank += 1
            continue
        if n < n_cut:
            short[line] = n
            cells = [*cells, *[""] * (n_cut - n)]
        elif n > n_cut and any(c.strip() for c in cells[n_cut:]):
            long[line] = n
        rows.append(RawRow(row=line, cells=tuple(cells[:n_cut])))
        if len(rows) > MAX_ROWS or len(rows) * n_cut > MAX_CELLS:
            raise TableError(
                make_finding(
                    "file-too-large/rows",
                    file=name,
                    row=line,
                    n_rows=len(rows) - 1,
                    n_cut=n_cut,
                    most_rows=MAX_ROWS,
                    most_cells=MAX_CELLS,
                )
            )
    return RawTable(
        file=name,
        header=tuple(" ".join(h.split()) for h in header),
        header_row=at,
        rows=tuple(rows),
        n_blank=blank,
        delimiter=mark,
        short=short,
        long=long,
        findings=tuple(found),
    )


def check_lines(data: bytes, name: str, *, first_line: int = 1) -> None:
    """Refuse a text that goes on without the end of a line; quick, whatever its length.

    `first_line` is the number of the text's first line in its file.

    Raises
    ------
    TableError
    """
    longest = most("line_bytes")
    at = 0
    while len(data) - at > longest:
        end = data.rfind(b"\n", at, at + longest)
        end = data.rfind(b"\r", at, at + longest) if end < 0 else end
        if end < 0:
            line = first_line + data[:at].count(b"\n")
            raise TableError(
                make_finding(
                    "file-too-large/limit",
                    file=name,
                    row=line,
                    what=f"Line {line} has more than",
                    found=f"{LIMITS['line_bytes']}, which is the limit",
                    right="End each line of the table with a line feed.",
                )
            )
        at = end + 1


def decode_text(data: bytes, name: str, encoding: str = "") -> tuple[str, str]:
    """Return a file's text, and the encoding that was used: the one named, or one that fits.

    Raises
    ------
    TableError
        If the bytes are no text in it, or a line has no end.
    """
    check_lines(data, name)
    if encoding:
        try:
            return data.decode(encoding), encoding
        except (UnicodeError, LookupError) as e:
            raise TableError(
                make_finding(
                    "file-unreadable/not-encoding", file=name, encoding=encoding, problem=_short(e)
                )
            ) from None
    for bom, codec in BOMS:
        if data.startswith(bom):
            try:
                return data.decode(codec), codec
            except UnicodeError as e:
                raise TableError(
                    make_finding(
                        "file-unreadable/breaks-off", file=name, codec=codec, problem=_short(e)
                    )
                ) from None
    sample = data[:4000]
    if sample.count(0) > len(sample) // 4:
        # Every other byte is zero where plain letters are stored in two bytes each.
        codec = "utf-16-le" if sample[1::2].count(0) >= sample[0::2].count(0) else "utf-16-be"
        try:
            return data.decode(codec), codec
        except UnicodeError:
            raise TableError(make_finding("file-unreadable/not-text", file=name)) from None
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeError:
        pass
    try:
        return data.decode("cp1252"), "cp1252"
    except UnicodeError as e:
        raise TableError(
            make_finding("file-unreadable/no-encoding", file=name, problem=_short(e))
        ) from None


def _short(e: Exception) -> str:
    return str(e).split(": ")[-1][:80]


def find_delimiter(body: str) -> str:
    """Take the mark that parts the first lines into most cells, evenly."""
    sample = "".join(body[:_SAMPLE_LETTERS].splitlines(keepends=True)[:_SAMPLE_LINES])
    best, best_score = ",", 0.0
    for mark in DELIMITERS:
        try:
            widths = [
                len(r)
                for r in csv.reader(io.StringIO(sample, newline=""), delimiter=mark)
                if any(c.strip() for c in r)
            ]
        except csv.Error:
            continue
        if not widths:
            continue
        usual = max(set(widths), key=widths.count)
        score = (usual - 1) * widths.count(usual) / len(widths)
        if score > best_score:
            best, best_score = mark, score
    return best


def split_text(
    body: str, mark: str, name: str, *, first_line: int = 1
) -> list[tuple[int, list[str]]]:
    """Part the text into (line, cells); the line, from 1, is that on which the row begins.

    `first_line` is the number of the text's first line in its file, for messages.
    """
    reader = csv.reader(io.StringIO(body, newline=""), delimiter=mark, strict=True)
    out: list[tuple[int, list[str]]] = []
    start, n_cells = 1, 0
    try:
        for cells in reader:
            n_cells += len(cells)
            if len(cells) > MOST_IN_LINE or n_cells > MAX_CELLS:
                raise _too_many(name, start + first_line - 1, len(cells), n_cells)
            out.append((start, cells))
            start = reader.line_num + 1
    except csv.Error as e:
        why = str(e)
        if "unexpected end" in why or "expected after" in why:
            why = "A quotation mark is opened and not closed properly"
        elif "field larger" in why:
            why = "A cell is longer than 131,072 characters; a quotation mark may be left open"
        raise TableError(
            make_finding(
                "file-unreadable/bad-quotes",
                file=name,
                row=start + first_line - 1,
                why=why,
                line=start + first_line - 1,
            )
        ) from None
    return out


def _too_many(name: str, line: int, n_of_row: int, n_cells: int) -> TableError:
    too_much = above(n_of_row, "line_cells")
    return TableError(
        make_finding(
            "file-too-large/limit",
            file=name,
            row=line,
            what=f"Line {line} has" if too_much else f"Down to line {line} the text has",
            found=too_much or above(n_cells, "cells"),
            right="Is the delimiter right? A line has one cell for each column.",
        )
    )


def find_header(lines: list[tuple[int, list[str]]], header_row: int, name: str) -> int:
    """Return which of the lines is the header; raises TableError where there is none."""
    for i, (line, cells) in enumerate(lines):
        if header_row:
            if line == header_row and any(c.strip() for c in cells):
                return i
        elif any(c.strip() for c in cells):
            return i
    where = f"on line {header_row}" if header_row else "in the file"
    raise TableError(
        make_finding("file-unreadable/no-header", file=name, row=header_row or None, where=where)
    )


def csv_lines(
    path: Path, name: str, *, encoding: str = "", delimiter: str = ""
) -> list[tuple[int, list[str]]]:
    """Return every line of a delimited text as it stands, those above its header too.

    Raises
    ------
    TableError
        If it is no text in its encoding, or a quotation mark is never closed.
    """
    body, _ = decode_text(path.read_bytes(), name, encoding)
    return split_text(body, delimiter or find_delimiter(body), name)
