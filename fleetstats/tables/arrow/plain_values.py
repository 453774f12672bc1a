"""Values between pyarrow and numpy by their bytes, which no other library is asked for.

Where pyarrow turns a value of Python's or an array into one of its own, or back, it first looks
whether it is pandas' and imports that library: a quarter of a second, of nothing that is used here.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from fleetstats.core.value import Array


def text_value(text: str) -> Any:
    """Return a text as a scalar of pyarrow's."""
    import pyarrow as pa

    raw = text.encode("utf-8")
    ends = pa.py_buffer(np.array([0, len(raw)], dtype=np.int32))
    return pa.Array.from_buffers(pa.string(), 1, [None, ends, pa.py_buffer(raw)])[0]


def truth_value(*, truth: bool) -> Any:
    """Return yes or no as a scalar of pyarrow's."""
    return arrow_of(np.array([truth]))[0]


def count_value(n: int) -> Any:
    """Return a whole number below 2^31 as a scalar of pyarrow's."""
    import pyarrow as pa

    return pa.Array.from_buffers(pa.int32(), 1, [None, pa.py_buffer(np.array([n], np.int32))])[0]


def arrow_of(values: Array) -> Any:
    """Return an array (n,) of bool or of places as one of pyarrow's."""
    import pyarrow as pa

    if values.dtype == np.bool_:
        bits = np.packbits(values, bitorder="little")
        return pa.Array.from_buffers(pa.bool_(), len(values), [None, pa.py_buffer(bits)])
    own = np.ascontiguousarray(values, dtype=np.int64)
    return pa.Array.from_buffers(pa.int64(), len(own), [None, pa.py_buffer(own)])


def bools_of(array: Any) -> Array:
    """Return (n,) bool of an array of pyarrow's without nulls, in one piece or in several."""
    pieces = array.chunks if hasattr(array, "chunks") else [array]
    return np.concatenate([np.zeros(0, dtype=bool), *(_bits(x, x.buffers()[1]) for x in pieces)])


def floats_of(array: Any) -> Array:
    """Return (n,) float of an array of pyarrow's doubles, in one piece; nulls are NaN."""
    out = np.zeros(len(array))
    if len(array):
        out = np.frombuffer(array.buffers()[1], np.float64, len(array), 8 * array.offset).copy()
        out[~bools_of(array.is_valid())] = np.nan
    return out


def numbers_of(array: Any, of_null: int) -> Array:
    """Return (n,) int of an array of pyarrow's 32-bit numbers, in one piece; nulls as told."""
    out = np.zeros(len(array), dtype=np.int64)
    if len(array):
        out[:] = np.frombuffer(array.buffers()[1], np.int32, len(array), 4 * array.offset)
        out[~bools_of(array.is_valid())] = of_null
    return out


def _bits(array: Any, held: Any) -> Array:
    first, n = array.offset % 8, len(array)
    if not n:
        return np.zeros(0, dtype=bool)
    raw = np.frombuffer(held, np.uint8, (first + n + 7) // 8, array.offset // 8)
    return np.unpackbits(raw, count=first + n, bitorder="little")[first:].astype(bool)
