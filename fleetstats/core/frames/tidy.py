"""A value as a table: one row per element of its arrays or of its lines, else one row in all."""

from __future__ import annotations

import datetime as dt
import enum
from collections.abc import Callable, Iterator
from dataclasses import fields
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import pandas as pd

Word = Callable[[enum.Enum], Any]

LABELS = ("labels", "names")
"""Fields whose texts name the rows, or the columns, of a matrix beside them."""


def frame_of(held: Any, word: Word) -> pd.DataFrame:
    """Return a tidy table of a `Value`, with a plain index; `word` tells an enum's member.

    Where the class names its lines (`_lines`), each is a row, and what holds for all of them stands
    beside it, under `all_<name>` where a line has a column of that name. Otherwise arrays of the
    greatest length make the rows, and matrices a column for each of their labels.
    """
    import pandas as pd

    names = [f.name for f in fields(held) if f.name not in held._carried]
    if held._lines:
        lines = getattr(held, held._lines)
        frame = pd.DataFrame([row for x in lines for row in x.to_frame().to_dict("records")])
        for name in names:
            if name != held._lines:
                for column, x in _alone(name, getattr(held, name), word):
                    frame[f"all_{column}" if column in frame else column] = x
        return frame
    arrays = {n: x for n in names if isinstance(x := getattr(held, n), np.ndarray)}
    n_rows = max([len(x) for x in arrays.values() if x.ndim == 1], default=1)
    data: dict[str, Any] = {}
    for name in names:
        if name in arrays:
            data |= _columns(held, name, arrays[name], n_rows)
        else:
            data |= {column: [x] * n_rows for column, x in _alone(name, getattr(held, name), word)}
    return pd.DataFrame(data, index=pd.RangeIndex(n_rows))


def _columns(held: Any, name: str, x: Any, n_rows: int) -> dict[str, Any]:
    """Return the columns that an array makes in a table of so many rows."""
    if x.ndim == 1:
        return {name: x} if len(x) == n_rows else {}
    if x.ndim != 2:
        return {}
    labels = next((held_labels for k in LABELS if (held_labels := getattr(held, k, ()))), ())
    for turned in (x, x.T):
        if turned.shape == (len(labels), n_rows):
            return {f"{name}[{k}]": row for k, row in zip(labels, turned, strict=True)}
    return {}


def _alone(name: str, x: Any, word: Word) -> Iterator[tuple[str, Any]]:
    """Yield the columns of a field that holds for all rows, each with its one value."""
    if x is None or isinstance(x, float | int | str | bool):
        yield name, x
    elif isinstance(x, enum.Enum):
        yield name, word(x)
    elif isinstance(x, dt.date):
        yield name, x.isoformat()
    elif isinstance(x, dict):
        for k, v in x.items():
            yield from _alone(f"{name}[{k}]", v, word) if _is_plain(v) else ()
    elif isinstance(x, tuple) and x and all(isinstance(v, str) for v in x):
        yield name, "; ".join(x)
    elif isinstance(x, tuple) and x and all(_is_plain(v) for v in x):
        for i, v in enumerate(x, 1):
            yield f"{name}[{i}]", v
    elif isinstance(x, tuple) and x and all(hasattr(v, "code") for v in x):
        yield name, "; ".join(v.code for v in x)
    elif hasattr(x, "_carried") and name not in ("fit", "spells"):
        for f in fields(x):
            if f.name not in x._carried and _is_plain(v := getattr(x, f.name)):
                yield f"{name}_{f.name}", v


def _is_plain(x: Any) -> bool:
    return x is None or isinstance(x, float | int | str | bool)
