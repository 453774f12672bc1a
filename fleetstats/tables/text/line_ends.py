"""Where lines of a delimited text end that are rows, by its bytes alone."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

import numpy as np

from fleetstats.core.value import Array

QUOTE, FEED, RETURN = 34, 10, 13


def last_line_end(data: bytes, delimiter: str = "") -> int:
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


def longest_line(signs: Array) -> int:
    """Return the bytes of the longest line: one as long as no cell may be is read row by row."""
    ends = np.concatenate([[-1], np.flatnonzero(signs == FEED), [len(signs)]])
    return int(np.diff(ends).max())


def is_simple(signs: Array, delimiter: int) -> bool:
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
