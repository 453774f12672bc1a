"""The base of all results: frozen, comparable, and able to say what it holds."""

from __future__ import annotations

import datetime as dt
import enum
import inspect
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, fields, is_dataclass
from functools import cache
from operator import attrgetter
from typing import TYPE_CHECKING, Any, ClassVar, TypeVar, dataclass_transform

import numpy as np
from numpy.typing import ArrayLike, NDArray

if TYPE_CHECKING:
    import pandas as pd

Array = NDArray[Any]

# What a field of a value holds; `value` copies it so and makes it read-only.
Floats = NDArray[Any]
Ints = NDArray[Any]
Bools = NDArray[Any]
Texts = NDArray[Any]
Matrix = NDArray[Any]

_KINDS: dict[str, tuple[Any, int]] = {
    "Floats": (np.float64, 1),
    "Ints": (np.int64, 1),
    "Bools": (np.bool_, 1),
    "Texts": (np.str_, 1),
    "Matrix": (np.float64, 2),
}
"""Name of an annotation: the element type and the number of dimensions of the field."""

T = TypeVar("T")


class Own:
    """An array of the caller's own making, which no other hand holds: it is frozen, not copied."""

    __slots__ = ("array",)

    def __init__(self, array: Array) -> None:
        self.array = array


class ToCome:
    """Stands for an array of a field named in `_later` until somebody asks for it."""

    __slots__ = ("make",)

    def __init__(self, make: Callable[[], Array]) -> None:
        self.make = make


class _WhenAsked:
    """The place of a field in a value, which makes what is to come `ToCome`."""

    __slots__ = ("dtype", "slot")

    def __init__(self, slot: Any, dtype: Any) -> None:
        self.slot, self.dtype = slot, dtype

    def __get__(self, holder: object, owner: type | None = None) -> Any:
        if holder is None:
            return self
        held = self.slot.__get__(holder, owner)
        if isinstance(held, ToCome):
            held = frozen_array(Own(held.make()), self.dtype)
            self.slot.__set__(holder, held)
        return held

    def __set__(self, holder: object, held: object) -> None:
        self.slot.__set__(holder, held)


def is_to_come(value: object, name: str) -> bool:
    """Return whether a field of a value is still to be made; asking for it would make it."""
    place = type(value).__dict__.get(name)
    return isinstance(place, _WhenAsked) and isinstance(place.slot.__get__(value), ToCome)


def as_held(value: object, name: str) -> Any:
    """Return an array of a value for another value to hold too: it is frozen, or still to come."""
    if is_to_come(value, name):
        return type(value).__dict__[name].slot.__get__(value)
    return Own(getattr(value, name))


@dataclass_transform(frozen_default=True, kw_only_default=True, eq_default=False)
def value(cls: type[T]) -> type[T]:
    """Make a class a frozen value: fields by name only, compared and shown as `Value` says.

    Fields annotated `Floats`, `Ints`, `Bools`, `Texts` (one dimension) or `Matrix` (two) are copied
    into read-only arrays of that kind, before the class's own ``__post_init__`` looks at them. A
    field that may be None as well stays None; one named in the class's `_later` may be given as
    `ToCome`. The module must postpone its annotations, as every module here does.

    Raises
    ------
    ValueError
        On construction, if the number of dimensions differs.
    """
    kinds = {f: _KINDS[k] for f, a in inspect.get_annotations(cls).items()
             if (k := str(a).removesuffix(" | None")) in _KINDS}  # fmt: skip
    own: Callable[[T], None] | None = cls.__dict__.get("__post_init__")
    if kinds:

        def settle(self: T) -> None:
            for f, (dtype, ndim) in kinds.items():
                if not is_to_come(self, f) and (held := getattr(self, f)) is not None:
                    object.__setattr__(self, f, frozen_array(held, dtype, ndim=ndim))
            if own is not None:
                own(self)

        cls.__post_init__ = settle  # type: ignore[attr-defined]
    made = dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)(cls)
    _pack_fast(made)
    for f in cls.__dict__.get("_later", ()):
        setattr(made, f, _WhenAsked(made.__dict__[f], kinds[f][0]))
    return made


@cache
def _places(cls: Any) -> tuple[frozenset[str], tuple[tuple[Any, Any], ...]]:
    """Return the names of a value's fields, and how each is taken and put."""
    names = [f.name for f in fields(cls)]
    slots = [getattr(cls, n) for n in names]
    return frozenset(names), tuple((s.__get__, s.__set__) for s in slots)


def changed(given: T, **told: Any) -> T:
    """Return a value with some of its fields changed, as ``dataclasses.replace``: rows are many.

    A field that the value has not is a TypeError.
    """
    cls: Any = type(given)
    names, places = _places(cls)
    if not names >= told.keys():
        raise TypeError(f"{cls.__name__} has no {', '.join(sorted(told.keys() - names))}")
    made: T = object.__new__(cls)
    for take, put in places:
        put(made, take(given))
    for name, held in told.items():
        object.__setattr__(made, name, held)
    if (settle := getattr(made, "__post_init__", None)) is not None:
        settle()
    return made


def _pack_fast(made: type) -> None:
    """Pack values by the names of their fields, which dataclasses look up for each of 40,000."""
    names = tuple(f.name for f in fields(made))
    held = attrgetter(*names, "__class__")  # of two names or more: always a tuple
    puts = tuple(getattr(made, n).__set__ for n in names)

    def unpacked(self: Any, state: tuple[Any, ...]) -> None:
        for put, told in zip(puts, state, strict=True):
            put(self, told)

    setattr(made, "__getstate__", lambda self: held(self)[:-1])  # noqa: B010 - it is a method
    setattr(made, "__setstate__", unpacked)  # noqa: B010


def frozen_array(values: ArrayLike | Own, dtype: Any = np.float64, *, ndim: int = 1) -> Array:
    """Copy `values` into a new read-only array of one dtype.

    Parameters
    ----------
    values : array_like or Own
        Scalars or an array with `ndim` dimensions.
    dtype : numpy dtype
        What each element becomes.
    ndim : int
        Number of dimensions that the array must have.

    Returns
    -------
    ndarray
        Own memory, ``writeable=False``.

    Raises
    ------
    ValueError
        If the number of dimensions differs.
    """
    if isinstance(values, Own):
        out = np.asarray(values.array, dtype=dtype)
    else:
        out = np.array(values, dtype=dtype)
    if out.ndim != ndim:
        raise ValueError(f"expected {ndim} dimensions, got {out.ndim}")
    out.setflags(write=False)
    return out


def as_asked(out: Array) -> Array:
    """Return an answer in the shape of the question: a single number as a float, not as an array.

    numpy's float64 is a float; the static type stays that of the many.
    """
    held: Array = np.asarray(out)[()]
    return held


def plain(value: Any) -> Any:
    """Turn a value into what JSON can hold, strictly.

    NaN becomes ``None``; infinities become ``"infinity"`` and ``"-infinity"``, since JSON has no
    word for them.
    """
    kind = type(value)
    if kind in _AS_IS or (kind is float and math.isfinite(value)):
        return value
    if kind is list or kind is tuple:
        return _plain_items(value)
    if isinstance(value, Value):
        return value.to_dict()
    if isinstance(value, enum.Enum):
        return value.name.lower().replace("_", "-")
    if isinstance(value, np.ndarray):
        held = value.tolist()
        as_is = value.dtype.kind in "biU" or (value.dtype.kind == "f" and np.isfinite(value).all())
        return held if as_is else [plain(v) for v in held]
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, float):
        if math.isnan(value):
            return None
        if math.isinf(value):
            return "infinity" if value > 0 else "-infinity"
        return value
    if isinstance(value, dt.date | dt.datetime):
        return value.isoformat()
    if isinstance(value, dict):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, tuple | list | set | frozenset):
        items = sorted(value) if isinstance(value, set | frozenset) else value
        return [plain(v) for v in items]
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in fields(value)}
    if value is None or isinstance(value, bool | int | str):
        return value
    return str(value)


_AS_IS = frozenset({str, int, bool, type(None)})


def _plain_items(items: list[Any] | tuple[Any, ...]) -> list[Any]:
    """Return many in plain form; numbers and texts, of which most lists are, are looked at once."""
    kinds = set(map(type, items))
    if kinds <= _AS_IS or (kinds == {float} and all(map(math.isfinite, items))):
        return list(items)
    return [plain(v) for v in items]


def _same(a: Any, b: Any) -> bool:
    if isinstance(a, np.ndarray) or isinstance(b, np.ndarray):
        a, b = np.asarray(a), np.asarray(b)
        if a.dtype.kind == "f" and b.dtype.kind == "f":
            return bool(np.array_equal(a, b, equal_nan=True))
        return bool(np.array_equal(a, b))
    if isinstance(a, float) and isinstance(b, float):
        return a == b or (math.isnan(a) and math.isnan(b))
    if isinstance(a, tuple) and isinstance(b, tuple):
        return len(a) == len(b) and all(_same(x, y) for x, y in zip(a, b, strict=True))
    return bool(a == b)


def _brief(value: Any) -> str:
    if isinstance(value, np.ndarray):
        if value.ndim != 1 or len(value) < 1 or value.dtype.kind not in "fiu":
            return f"<{' × '.join(map(str, value.shape))} {value.dtype.kind}>"
        return f"<{len(value)}: {value[0]:.4g} … {value[-1]:.4g}>"
    if isinstance(value, Value):
        return f"<{type(value).__name__}>"
    if isinstance(value, tuple | list | dict | frozenset) and len(value) > MOST_IN_REPR:
        return f"<{len(value)} {type(value).__name__} items>"
    if isinstance(value, tuple | list):
        return "(" + ", ".join(_brief(v) for v in value) + ")"
    if isinstance(value, float):
        return f"{value:.6g}"
    text = repr(value)
    return text if len(text) <= LONGEST_IN_REPR else text[: LONGEST_IN_REPR - 1] + "…"


@cache
def names_told(kind: Any) -> tuple[str, tuple[str, ...]]:
    """Return the schema of a kind of value, and the fields that its dictionary tells."""
    name = re.sub(r"(?<!^)(?=[A-Z])", "-", kind.__name__).lower()
    told = (f.name for f in fields(kind))
    left = {*kind._not_in_dict, *kind._carried}
    return f"fleetstats/{name}/1", tuple(f for f in told if f not in left)


def tells_fields(kind: Any) -> bool:
    """Return whether the dictionary of a kind of value holds its fields as they are, no other."""
    return kind.to_dict is Value.to_dict and kind._members is Value._members


def members_of(value: Value) -> dict[str, Any]:
    """Return what a value's dictionary holds, by name, as the value holds it; its schema first."""
    kind = type(value)
    said = kind.to_dict is not Value.to_dict and kind._members is Value._members
    return value.to_dict() if said else value._members()


MOST_ROWS_SHOWN = 10
"""Rows of a table that a notebook shows without being asked for more."""

MOST_IN_REPR = 4
LONGEST_IN_REPR = 120


class Value:
    """Mix-in of every result dataclass (``frozen=True, eq=False``).

    `to_dict` opens with ``"schema": "fleetstats/<name>/1"``. Names in `_not_in_dict` are carried
    for computation only and stay out of it. Those in `_carried` tell what was asked and are no part
    of the answer: they stay out of its dictionary, its table and its comparison. `_lines` names
    the field whose values are the rows of its table; `_steps` is where a curve of steps
    begins, None of another.
    """

    _not_in_dict: ClassVar[tuple[str, ...]] = ()
    _carried: ClassVar[tuple[str, ...]] = ()
    _lines: ClassVar[str] = ""
    _steps: ClassVar[float | None] = None

    def to_dict(self) -> dict[str, Any]:
        """Return the value as JSON-ready dictionaries, lists, numbers and strings."""
        return {name: plain(held) for name, held in self._members().items()}

    def _members(self) -> dict[str, Any]:
        """Return what `to_dict` holds, by name, as the value holds it; its schema first."""
        schema, names = names_told(type(self))  # type: ignore[arg-type]
        return {"schema": schema, **{name: getattr(self, name) for name in names}}

    def to_frame(self) -> pd.DataFrame:
        """Return a tidy table: one row per element of the arrays or per line, or one row in all."""
        from fleetstats.core.frames.tidy import frame_of

        return frame_of(self, plain)

    def _repr_html_(self) -> str:
        """Return what a notebook shows: the value's own line, its picture, its table's head."""
        import html

        from fleetstats.core.shown.sketch import sketch

        frame = self.to_frame()
        told = f"<p style='white-space: pre-line'>{html.escape(repr(self))}</p>{sketch(self)}"
        if not len(frame) or not len(frame.columns):
            return told
        shown = frame if len(frame) > 1 else frame.T.rename(columns={0: ""})
        left = len(shown) - MOST_ROWS_SHOWN
        more = f"<p>… and {left:,} rows more; see to_frame()</p>" if left > 0 else ""
        table: str = shown.head(MOST_ROWS_SHOWN).to_html(index=shown is not frame)
        return told + table + more

    def __hash__(self) -> int:
        """Refuse: equal arrays cannot promise equal hashes, since NaN equals NaN here."""
        raise TypeError(
            f"{type(self).__name__} has no hash, since it may hold arrays and compares them by "
            "content. Use one of its numbers or names as a key, or id(…) for the object itself."
        )

    def __repr__(self) -> str:
        """Name the value and its fields in one line; arrays and inner values in a word each."""
        inside = ", ".join(
            f"{f.name}={_brief(getattr(self, f.name))}"
            for f in fields(self)  # type: ignore[arg-type]
            if f.name not in self._carried
        )
        return f"{type(self).__name__}({inside})"

    def __str__(self) -> str:
        """Return the value's own sentences, one to a line; its `repr` where it has none."""
        said = [
            getattr(self, f.name)
            for f in fields(self)  # type: ignore[arg-type]
            if f.name == "sentence" or f.name.endswith("_sentence")
        ]
        return "\n".join(s for s in said if s) or repr(self)

    def __eq__(self, other: object) -> bool:
        """Compare field by field; NaN equals NaN, arrays compare element by element."""
        if type(self) is not type(other):
            return NotImplemented
        return all(
            _same(getattr(self, f.name), getattr(other, f.name))
            for f in fields(self)  # type: ignore[arg-type]
            if f.name not in self._carried
        )
