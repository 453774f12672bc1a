"""The gate of every public function: one check to a kind of argument.

Each takes the value and the argument's name and returns the value in the type that the function
works with. A value that cannot be meant raises `ArgumentError` (a ValueError), one of a kind that
cannot be read `ArgumentTypeError` (a TypeError too): both name the argument, the value and what
would be right. Nothing is guessed: a level of 90 is refused, not read as 0.90.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from numbers import Real
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike

from fleetstats.core.errors import ArgumentError, ArgumentTypeError
from fleetstats.core.value import Array

T = TypeVar("T")

LONGEST_SHOWN = 60
"""Letters of a wrong value that a message repeats."""

MOST_SIZE = 10_000_000
"""Draws, resamples or rows of a grid that one call may ask for: above, memory ends before the work
does."""


def shown(value: object) -> str:
    """Return a wrong value as a message repeats it: its repr, cut."""
    if isinstance(value, np.generic):
        value = value.item()
    try:
        text = " ".join(repr(value).split())
    except Exception:  # a stranger's repr may fail, and the message must not
        text = f"<{type(value).__name__}>"
    return text if len(text) <= LONGEST_SHOWN else text[: LONGEST_SHOWN - 1] + "…"


def wrong(name: str, value: object, right: str) -> ArgumentError:
    """Return the error of a value that cannot be meant; `right` is a sentence."""
    return ArgumentError(f"{name} = {shown(value)}.", right)


def wrong_kind(name: str, value: object, right: str) -> ArgumentTypeError:
    """Return the error of a value of a kind that cannot be read; `right` is a sentence."""
    return ArgumentTypeError(f"{name} = {shown(value)} ({type(value).__name__}).", right)


def number(value: object, name: str, right: str = "Give one finite number.") -> float:
    """Return one finite number as a float; no bool, text, None or array is one."""
    if type(value) is float and math.isfinite(value):
        return value
    if isinstance(value, np.ndarray) and value.ndim == 0:
        value = value.item()
    if isinstance(value, bool | np.bool_) or not isinstance(value, Real):
        raise wrong_kind(name, value, right)
    try:
        x = float(value)
    except OverflowError:
        raise wrong(name, value, right) from None
    if not math.isfinite(x):
        raise wrong(name, value, right)
    return x


def level(value: object, name: str = "level") -> float:
    """Return a two-sided confidence level, strictly between 0 and 1.

    Raises
    ------
    ArgumentError
        Outside 0 to 1: a level is written 0.90, not 90.
    """
    if type(value) is float and 0.0 < value < 1.0:
        return value
    right = "A level lies strictly between 0 and 1: write 0.90, not 90."
    x = number(value, name, right)
    if not 0.0 < x < 1.0:
        raise wrong(name, value, right)
    return x


def probability(value: object, name: str, *, ends: bool = False) -> float:
    """Return a probability or a share strictly between 0 and 1; with `ends`, 0 and 1 too."""
    if ends:
        right = "A probability lies from 0 to 1: write 0.10, not 10."
    else:
        right = "A probability here lies strictly between 0 and 1: write 0.10, not 10."
    x = number(value, name, right)
    if not (0.0 <= x <= 1.0 if ends else 0.0 < x < 1.0):
        raise wrong(name, value, right)
    return x


def hours(value: object, name: str, *, zero: bool = True) -> float:
    """Return finite hours, 0 or more; without `zero`, above 0."""
    return _from_zero(value, name, "finite hours", zero=zero)


def positive(value: object, name: str, *, zero: bool = False) -> float:
    """Return a finite number above 0; with `zero`, 0 too."""
    return _from_zero(value, name, "a finite number", zero=zero)


def _from_zero(value: object, name: str, what: str, *, zero: bool) -> float:
    right = f"Give {what}, {'0 or more' if zero else 'above 0'}."
    x = number(value, name, right)
    if x < 0.0 or (x == 0.0 and not zero):
        raise wrong(name, value, right)
    return x


def within(value: object, name: str, low: float, high: float) -> float:
    """Return a finite number from `low` to `high`, both included."""
    right = f"Give a number from {low:g} to {high:g}."
    x = number(value, name, right)
    if not low <= x <= high:
        raise wrong(name, value, right)
    return x


def count(value: object, name: str, *, least: int = 0, most: int = MOST_SIZE) -> int:
    """Return a whole number from `least` to `most`; 3.0 is one, 2.5 and True are not."""
    if type(value) is int and least <= value <= most:
        return value
    right = f"Give a whole number from {least:,} to {most:,}."
    x = number(value, name, right)
    if x != math.floor(x) or not least <= x <= most:
        raise wrong(name, value, right)
    return int(x)


def size(value: object, name: str, *, least: int = 1, most: int = MOST_SIZE) -> int:
    """Return how many of something are to be made: a `count` of at least 1."""
    return count(value, name, least=least, most=most)


def seed(value: object, name: str = "seed") -> int:
    """Return a seed: a whole number from 0 to 2**63 - 1."""
    right = "A seed is a whole number, 0 or more."
    if isinstance(value, bool | np.bool_) or not isinstance(value, int | np.integer):
        raise wrong_kind(name, value, right)
    if not 0 <= value < 2**63:
        raise wrong(name, value, right)
    return int(value)


def flag(value: object, name: str) -> bool:
    """Return True or False; no number or text stands for one."""
    if not isinstance(value, bool | np.bool_):
        raise wrong_kind(name, value, "Give True or False.")
    return bool(value)


def choice(value: object, name: str, among: Iterable[str]) -> str:
    """Return a text that is one of `among`; the error tells the nearest, whatever its capitals.

    Examples
    --------
    >>> from fleetstats.core.arguments import choice
    >>> choice("waybull", "family", ["weibull", "gamma"])
    Traceback (most recent call last):
    fleetstats.core.errors.ArgumentError: family = 'waybull'. Did you mean 'weibull'? Known are: ...
    """
    known = tuple(among)
    right = f"Known are: {', '.join(known)}."
    if not isinstance(value, str):
        raise wrong_kind(name, value, right)
    if value in known:
        return value
    from difflib import get_close_matches

    written = {k.casefold(): k for k in known}
    near = get_close_matches(value[:LONGEST_SHOWN].casefold(), written, n=1)
    raise wrong(name, value, f"Did you mean '{written[near[0]]}'? {right}" if near else right)


def of_kind(value: object, name: str, kind: type[T], right: str) -> T:
    """Return a value that is of our class `kind`; `right` is a sentence on how one is made."""
    if isinstance(value, kind):
        return value
    raise wrong_kind(name, value, right)


def column(values: Any, name: str, right: str) -> Array:
    """Return numbers in one dimension as floats, finite or not, whatever list they came in."""
    if type(values) is np.ndarray and values.dtype == np.float64 and values.ndim == 1:
        return values
    if isinstance(values, str | bytes | Mapping | set | frozenset) or values is None:
        raise wrong_kind(name, values, right)
    if np.ma.is_masked(values):
        raise wrong(name, values, f"Some of it is masked. {right}")
    try:
        x = np.asarray(values)
    except Exception:  # ragged lists, and what other libraries' tables raise
        raise wrong_kind(name, values, right) from None
    if x.dtype.kind == "O":
        for i, v in enumerate(x.ravel().tolist()):
            if isinstance(v, bool | np.bool_) or not isinstance(v, Real):
                raise wrong_kind(f"{name}[{i}]" if x.ndim else name, v, right)
    elif x.dtype.kind not in "fiu":
        raise wrong_kind(name, values, right)
    try:
        return _flat(x, name, right).astype(np.float64)
    except OverflowError:
        raise wrong(name, values, right) from None


def numbers(
    values: ArrayLike,
    name: str,
    *,
    right: str = "Give finite numbers in one dimension.",
    least: int = 0,
    n: int | None = None,
    infinite: bool = False,
) -> Array:
    """Return finite numbers as a float array (m,); a single number is an array of one.

    Parameters
    ----------
    values : float or (m,) array_like
        Numbers: no bool, complex, text or missing value among them.
    name : str
        Name of the argument.
    right : str
        What would be right, as a sentence.
    least : int
        How many there must be.
    n : int, optional
        How many there must be exactly; a single number then stands for all.
    infinite : bool
        Whether infinity is allowed.
    """
    x = column(values, name, right)
    bad = np.isnan(x) if infinite else ~np.isfinite(x)
    if bad.any():
        raise _element(x, bad, name, right)
    if len(x) < least:
        raise wrong(name, values, f"Give at least {least}.")
    return _for_each(x, values, name, n, ", or a single number")


def hours_of(
    values: ArrayLike,
    name: str,
    *,
    zero: bool = True,
    least: int = 0,
    n: int | None = None,
    infinite: bool = False,
) -> Array:
    """Return hours as a float array (m,): finite, 0 or more; parameters as for `numbers`.

    Without `zero` above 0.
    """
    if n is None and not infinite and _all_within(values, zero=zero) and np.size(values) >= least:
        return np.asarray(values)
    one: Any = values
    if n is None and type(one) is float and 0.0 < one < math.inf and least < 2:
        return np.array([one])
    right = f"Give finite hours, {'0 or more' if zero else 'above 0'}, in one dimension."
    x = numbers(values, name, right=right, least=least, n=n, infinite=infinite)
    bad = x < 0.0 if zero else x <= 0.0
    if bad.any():
        raise _element(x, bad, name, right)
    return x


def amounts(values: ArrayLike, name: str, *, least: int = 0, n: int | None = None) -> Array:
    """Return finite amounts, 0 or more, as a float array (m,); parameters as for `numbers`."""
    right = "Give finite numbers, 0 or more, in one dimension."
    x = numbers(values, name, right=right, least=least, n=n)
    if (bad := x < 0.0).any():
        raise _element(x, bad, name, right)
    return x


def positives(values: ArrayLike, name: str, *, n: int | None = None) -> Array:
    """Return finite numbers above 0 as a float array (m,); `n` as for `numbers`."""
    right = "Give finite numbers above 0, in one dimension."
    x = numbers(values, name, right=right, n=n)
    if (bad := x <= 0.0).any():
        raise _element(x, bad, name, right)
    return x


def probabilities(
    values: ArrayLike, name: str, *, ends: bool = False, least: int = 0, n: int | None = None
) -> Array:
    """Return probabilities as a float array (m,), strictly between 0 and 1; with `ends`, from."""
    right = f"Give probabilities {'from 0 to 1' if ends else 'strictly between 0 and 1'}."
    x = numbers(values, name, right=right, least=least, n=n)
    bad = (x < 0.0) | (x > 1.0) if ends else (x <= 0.0) | (x >= 1.0)
    if bad.any():
        raise _element(x, bad, name, right)
    return x


def flags_of(values: ArrayLike, name: str, *, n: int | None = None) -> Array:
    """Return booleans as an array (m,); 0 and 1 are read as such, other numbers refused."""
    right = "Give True or False (or 1 and 0) for each, in one dimension."
    x = np.asarray(values)
    if x.dtype.kind != "b":
        x = column(values, name, right)
        bad = (x != 0.0) & (x != 1.0)
        if bad.any():
            raise _element(x, bad, name, right)
    x = _flat(x, name, right).astype(bool)
    return _for_each(x, values, name, n)


def texts_of(values: ArrayLike, name: str, *, n: int | None = None) -> Array:
    """Return labels as an array (m,) of texts, whole numbers written out; one stands for all."""
    right = "Give one text for each, blank where unknown, or a single one for all."
    try:
        x = np.asarray(values)
    except Exception:  # ragged lists
        raise wrong_kind(name, values, right) from None
    # a list of texts and NaN becomes an array of texts, "nan" among them
    held = values if isinstance(values, list | tuple) and x.ndim == 1 else x.ravel()
    if isinstance(held, np.ndarray):
        held = held.tolist() if x.dtype.kind not in "Uiu" else ()  # no array of those holds else
    if (x.dtype.kind not in "UTOiu" and x.size) or not all(map(_is_label, held)):
        raise wrong_kind(name, values, right)
    x = _flat(x, name, right).astype(np.str_)
    return _for_each(x, values, name, n, ", or a single text")


def same_length(columns: Mapping[str, Array]) -> int:
    """Return the length that all columns share.

    Raises
    ------
    ArgumentError
        If they differ; the message gives the length of each.
    """
    sizes = {k: len(v) for k, v in columns.items()}
    if len(set(sizes.values())) > 1:
        told = ", ".join(f"{k} has {v:,}" for k, v in sizes.items())
        raise ArgumentError(f"Lengths differ: {told}.", "Give one value for each row in every one.")
    return next(iter(sizes.values()), 0)


def _is_label(value: object) -> bool:
    return isinstance(value, str | int | np.integer) and not isinstance(value, bool)


def _all_within(values: object, *, zero: bool) -> bool:
    """Return whether it is an array of floats, 0 or more and finite: the common case, in a glance.

    NaN is the least and the greatest of what it is among, and no comparison with it holds.
    """
    if type(values) is not np.ndarray or values.dtype != np.float64 or values.ndim != 1:
        return False
    if not len(values):
        return True
    low, high = np.minimum.reduce(values), np.maximum.reduce(values)
    return bool((low >= 0.0 if zero else low > 0.0) and high < math.inf)


def _flat(x: Array, name: str, right: str) -> Array:
    if x.ndim > 1:
        size = " x ".join(map(str, x.shape))
        raise ArgumentError(f"{name} has {x.ndim} dimensions ({size}).", right)
    return np.atleast_1d(x)


def _for_each(x: Array, values: object, name: str, n: int | None, instead: str = "") -> Array:
    """Return one value for each of `n`, a single one for all; any number where `n` is not given."""
    if n is None or len(x) == n:
        return x
    if np.ndim(values) == 0:  # type: ignore[arg-type]  # whatever it is, it became an array
        return np.full(n, x[0])
    raise ArgumentError(f"{name} has {len(x):,} values.", f"It needs {n:,}{instead}.")


def _element(x: Array, bad: Array, name: str, right: str) -> ArgumentError:
    """Return the error of the first bad element, with its place where there are several."""
    i = int(np.argmax(bad))
    return wrong(f"{name}[{i}]" if len(x) > 1 else name, float(x[i]), right)
