"""The gate as a line above a function: which kind of argument each of its parameters is.

``@gate(spells=LIVES, level=LEVEL)`` checks the arguments that a call gives by the functions of
`core.arguments` before the function runs. What a function's gate says stands in its `__gate__`;
`tests/gates` asks every gated function for every wrong value of the kind of each parameter, and
finds public functions that have no gate.
"""

from __future__ import annotations

import functools
import inspect
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, ParamSpec, TypeVar

import numpy as np

from fleetstats.core import arguments

P = ParamSpec("P")
R = TypeVar("R")


@dataclass(frozen=True, slots=True, kw_only=True)
class ArgumentKind:
    """One kind of argument.

    Parameters
    ----------
    word : str
        Its name, by which the tests know what is wrong for it.
    check : callable
        Takes value and name and returns the value as it is worked with, or raises.
    settles : bool
        Whether the function is given what `check` returns, and not the value as it came; columns
        are not, since a single value and a list ask for different answers.
    none : bool
        Whether None may stand for it.
    """

    word: str
    check: Callable[[Any, str], Any]
    settles: bool = True
    none: bool = False

    @property
    def or_none(self) -> ArgumentKind:
        """Return the same kind with None let through."""
        return replace(self, none=True)


def _one_text(value: object, name: str) -> str:
    if not isinstance(value, str):
        raise arguments.wrong_kind(name, value, "Give a text.")
    return value


def _path(value: object, name: str) -> Any:
    if not isinstance(value, str | os.PathLike):
        raise arguments.wrong_kind(name, value, "Give a path.")
    return value


def _texts(value: Any, name: str) -> Any:
    if isinstance(value, str):
        raise arguments.wrong_kind(name, value, "Give a list of texts.")
    return arguments.texts_of(value, name)


def _table(value: object, name: str) -> Any:
    if not isinstance(value, Mapping):
        raise arguments.wrong_kind(name, value, "Give a dictionary.")
    return value


def _any_shape(check: Callable[[Any, str], Any]) -> Callable[[Any, str], Any]:
    """Return a check of columns that lets an array of any number of dimensions through."""

    def look(value: Any, name: str) -> Any:
        if isinstance(value, np.ndarray) and value.ndim != 1:
            return check(value.ravel(), name)
        return check(value, name)

    return look


LEVEL = ArgumentKind(word="level", check=arguments.level)
PROBABILITY = ArgumentKind(word="probability", check=arguments.probability)
SHARE = ArgumentKind(word="share", check=lambda v, n: arguments.probability(v, n, ends=True))
HOURS = ArgumentKind(word="hours", check=arguments.hours)
HOURS_ABOVE_0 = ArgumentKind(
    word="hours-above-0", check=lambda v, n: arguments.hours(v, n, zero=False)
)
AMOUNT = ArgumentKind(word="amount", check=lambda v, n: arguments.positive(v, n, zero=True))
POSITIVE = ArgumentKind(word="positive", check=arguments.positive)
SEED = ArgumentKind(word="seed", check=arguments.seed)
FLAG = ArgumentKind(word="flag", check=arguments.flag)
TEXT = ArgumentKind(word="text", check=_one_text)
PATH = ArgumentKind(word="path", check=_path, settles=False)
TABLE = ArgumentKind(word="table", check=_table, settles=False)

HOURS_EACH = ArgumentKind(word="hours-each", check=arguments.hours_of, settles=False)
HOURS_ANY = ArgumentKind(word="hours-any", check=_any_shape(arguments.hours_of), settles=False)
HOURS_SIGNED = ArgumentKind(
    word="hours-signed",
    check=_any_shape(lambda v, n: arguments.numbers(v, n, right="Give finite hours.")),
    settles=False,
)
POSITIVES_ANY = ArgumentKind(
    word="positives-any", check=_any_shape(arguments.positives), settles=False
)
NUMBERS = ArgumentKind(word="numbers", check=arguments.numbers, settles=False)
AMOUNTS = ArgumentKind(word="amounts", check=_any_shape(arguments.amounts), settles=False)
PROBABILITIES = ArgumentKind(word="probabilities", check=arguments.probabilities, settles=False)
PROBABILITIES_ANY = ArgumentKind(
    word="probabilities-any", check=_any_shape(arguments.probabilities), settles=False
)
PROBABILITIES_ENDS = ArgumentKind(
    word="probabilities-ends",
    check=lambda v, n: arguments.probabilities(v, n, ends=True),
    settles=False,
)
FLAGS = ArgumentKind(word="flags", check=arguments.flags_of, settles=False)
TEXTS = ArgumentKind(word="texts", check=_texts, settles=False)


def counted(least: int = 0, most: int = arguments.MOST_SIZE) -> ArgumentKind:
    """Return the kind of whole numbers from `least` to `most`."""
    return ArgumentKind(
        word="count", check=lambda v, n: arguments.count(v, n, least=least, most=most)
    )


def number_within(low: float, high: float) -> ArgumentKind:
    """Return the kind of numbers from `low` to `high`."""
    return ArgumentKind(word="within", check=lambda v, n: arguments.within(v, n, low, high))


def one_of(*words: str) -> ArgumentKind:
    """Return the kind of one of these words."""
    return ArgumentKind(word="choice", check=lambda v, n: arguments.choice(v, n, words))


def an(kind: type, right: str) -> ArgumentKind:
    """Return the kind of a value of our class `kind`; `right` is a sentence on how one is made."""
    return ArgumentKind(
        word="object", check=lambda v, n: arguments.of_kind(v, n, kind, right), settles=False
    )


def gate(**kinds: ArgumentKind) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Check the arguments of a function, each by its kind, before it runs.

    Parameters
    ----------
    **kinds : ArgumentKind
        ArgumentKind of each parameter; one that is not named is not looked at.

    Examples
    --------
    >>> from fleetstats.core.gate import LEVEL, gate
    >>> @gate(level=LEVEL)
    ... def half(level: float) -> float:
    ...     return 0.5 * level
    >>> half(0.9)
    0.45
    >>> half(90)
    Traceback (most recent call last):
    fleetstats.core.errors.ArgumentError: level = 90. A level lies strictly between 0 and 1: ...
    """

    def guard(function: Callable[P, R]) -> Callable[P, R]:
        names = tuple(inspect.signature(function).parameters)
        unknown = kinds.keys() - set(names)
        if unknown:
            raise TypeError(f"{function.__name__} has no parameter {', '.join(sorted(unknown))}")
        by_place = tuple(kinds.get(n) for n in names)

        @functools.wraps(function)
        def gated(*args: P.args, **kwargs: P.kwargs) -> R:
            given: list[Any] = list(args)
            for i, kind in enumerate(by_place[: len(given)]):
                if kind is not None and not (given[i] is None and kind.none):
                    settled = kind.check(given[i], names[i])
                    if kind.settles:
                        given[i] = settled
            for name, v in kwargs.items():
                kind = kinds.get(name)
                if kind is not None and not (v is None and kind.none):
                    settled = kind.check(v, name)
                    if kind.settles:
                        kwargs[name] = settled
            return function(*given, **kwargs)

        gated.__gate__ = dict(kinds)  # type: ignore[attr-defined]
        return gated

    return guard
