"""Lives as a caller gives them: plain columns, or a table and the names of its columns."""

from __future__ import annotations

from collections.abc import Mapping
from numbers import Real
from typing import Any

import numpy as np

from fleetstats.core import arguments
from fleetstats.core.errors import ArgumentError, SpellError
from fleetstats.core.value import Array, Own, ToCome
from fleetstats.spells.event import Event

HOURS = "Give hours as numbers in one dimension."
FAILED_RIGHT = (
    "Give True where the failure in question ended the life, False where not, or an fs.Event for "
    "each. Codes of your own are told apart first, as failed = (status == 1), or by "
    "[fs.Event.COMPETING if s == 2 else ... for s in status]; numpy would make numbers of events."
)
LABELS = ("unit", "cause", "source", "build")


def columns_given(data: object, told: Mapping[str, object]) -> dict[str, Any]:
    """Return the columns of `Spells` from those that `Spells.of` was given; None takes its usual.

    A single value stands for every life, whichever column it is; a list of one does not.

    Raises
    ------
    ArgumentError
        If a column is not what it stands for, is not in the table, or lengths differ.
    SpellError
        If `failed` holds other numbers than 0 and 1.
    """
    taken = {k: _taken(data, k, v) for k, v in told.items() if v is not None}
    for name in ("entry", "exit", "failed"):
        if name not in taken:
            raise arguments.wrong_kind(name, None, "Every life needs it.")
    out = {}
    for k, (name, column) in taken.items():
        if k == "failed":
            out[k] = _events(column, name)
        elif k in LABELS:
            out[k] = arguments.texts_of(column, name)
        else:
            out[k] = arguments.column(column, name, HOURS)
    many = {k: v for k, v in out.items() if np.ndim(taken[k][1]) > 0}
    n = arguments.same_length(many) if many else 1
    out = {k: v if k in many else np.broadcast_to(v, (n,)) for k, v in out.items()}
    # The caller's columns are copied once; those made here are nobody else's, and two may be one.
    stop, blank = Own(np.array(out["exit"])), Own(np.zeros(n, dtype=np.str_))
    return {
        "unit": out["unit"] if "unit" in out else ToCome(lambda: _numbered(n)),
        "entry": out["entry"],
        "exit_lower": out.get("exit_lower", stop),
        "exit_upper": stop,
        "event": Own(np.array(out["failed"])),
        **{k: out.get(k, blank) for k in LABELS[1:]},
        "weight": out["weight"] if "weight" in out else Own(np.broadcast_to(1.0, n)),
    }


def _numbered(n: int) -> Array:
    """Return names for `n` lives that were given none."""
    return np.array([f"u{i + 1}" for i in range(n)], dtype=np.str_)


def _taken(data: object, name: str, value: object) -> tuple[str, Any]:
    """Return how a column is called in messages, and its values."""
    if data is None or not isinstance(value, str):
        return name, value
    return f"{name} (column '{value}')", column_of(data, value, name)


def column_of(data: object, wanted: str, name: str) -> Any:
    """Return one column of a table, by position and without its index.

    Parameters
    ----------
    data : mapping or DataFrame
        Of pandas; of another library where `narwhals` is installed to read it.
    wanted : str
        The column.
    name : str
        Argument that asks for it.

    Raises
    ------
    ArgumentError
        If it is no table, or none or several of its columns have that name.
    """
    native: Any = data
    if not isinstance(data, Mapping) and not hasattr(data, "iloc"):
        native = _through_narwhals(data)
    names = [str(c) for c in (native if isinstance(native, Mapping) else native.columns)]
    if names.count(wanted) == 1:
        found = native[wanted]
        return found.to_numpy() if hasattr(found, "to_numpy") else found
    if names.count(wanted) > 1:
        raise ArgumentError(f"data has {names.count(wanted)} columns '{wanted}'.", "Keep one.")
    arguments.choice(wanted, name, names)
    raise AssertionError(wanted)  # a name that is not there was refused by now


def _through_narwhals(data: object) -> Any:
    right = "Give a DataFrame or a dictionary of columns."
    try:
        import narwhals
    except ImportError:
        more = f"{right} Tables of other libraries are read where narwhals is installed."
        raise arguments.wrong_kind("data", data, more) from None
    try:
        return narwhals.from_native(data, eager_only=True)
    except TypeError:
        raise arguments.wrong_kind("data", data, right) from None


def _events(values: Any, name: str) -> Array:
    """Return the events that `failed` says: of booleans, of `Event`, of 0 and 1."""
    held = values
    if not isinstance(values, list | tuple):
        held = np.atleast_1d(
            np.asarray(values, dtype=object if isinstance(values, Event) else None)
        )
        if held.ndim == 1 and held.dtype == np.bool_:
            return held.astype(np.int8)
    if isinstance(held, list | tuple) or (held.ndim == 1 and held.dtype == object):
        said = [int(v) for v in held if isinstance(v, Event | bool | np.bool_)]
        if said and len(said) == len(held):
            return np.array(said, np.int8)
        for i, v in enumerate(held):
            if not isinstance(v, Real):
                raise arguments.wrong_kind(f"{name}[{i}]", v, FAILED_RIGHT)
    x = arguments.column(values, name, FAILED_RIGHT)
    bad = (x != 0.0) & (x != 1.0)
    if bad.any():
        i = int(np.argmax(bad))
        raise SpellError(f"{name}[{i}] = {x[i]:g}.", FAILED_RIGHT, index=i)
    return x.astype(np.int8)
