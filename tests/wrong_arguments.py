"""What is wrong for each kind of argument: written here by hand, not taken from the checks."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

NAN, INF = float("nan"), float("inf")
NO_NUMBER: tuple[Any, ...] = ("0.9", None, True, 1j, [0.5, 0.6], {"a": 1}, object())
NO_SCALAR: tuple[Any, ...] = (NAN, INF, -INF, *NO_NUMBER)
NO_COLUMN: tuple[Any, ...] = (
    "900", None, {"a": 1}, [True, False], [1j], ["900"], [1.0, None], [1.0, [2.0]], [NAN, 1.0],
    NAN, [1.0, INF], np.array(["2020-01-01"], dtype="datetime64[D]"), pd.Series(["1"]),
    np.ma.array([1.0, 2.0], mask=[False, True]),
)  # fmt: skip
TWO_D: tuple[Any, ...] = ([[1.0, 2.0]], np.full((2, 2), 0.5), pd.DataFrame({"a": [0.5]}))

WRONG: dict[str, tuple[Any, ...]] = {
    "level": (90, 95, -0.5, 0, 1, 10**12, *NO_SCALAR),
    "probability": (90, -0.5, 0, 1, 1.5, *NO_SCALAR),
    "share": (90, -0.5, 1.5, *NO_SCALAR),
    "hours": (-1, -0.001, *NO_SCALAR),
    "hours-above-0": (-1, 0, *NO_SCALAR),
    "amount": (-1, *NO_SCALAR),
    "positive": (-1, 0, *NO_SCALAR),
    "within": (-1, 10**12, *NO_SCALAR),
    "count": (-1, 2.5, 10**12, *NO_SCALAR),
    "seed": (-1, 2.5, 1.0, 2**64, *NO_SCALAR),
    "flag": (1, 0, "yes", None, NAN, [True]),
    "choice": ("no such word", "", None, True, 1, ["a"]),
    "text": (None, True, 1, NAN, ["a"]),
    "path": (None, True, 1, NAN, ["a"]),
    "table": (None, True, 1, "a", ["a"]),
    "object": (None, True, 1, "a", [1.0], {"a": 1}, np.ones(3)),
    "hours-each": ([1.0, -1.0], -1.0, *NO_COLUMN, *TWO_D),
    "hours-any": ([1.0, -1.0], -1.0, *NO_COLUMN),
    "hours-signed": (*NO_COLUMN, *TWO_D[::2]),
    "numbers": (*NO_COLUMN, *TWO_D),
    "amounts": ([1.0, -1.0], -1.0, *NO_COLUMN),
    "positives-any": ([1.0, 0.0], -1.0, *NO_COLUMN),
    "probabilities": ([0.1, 1.0], 0.0, 90, *NO_COLUMN, *TWO_D),
    "probabilities-any": ([0.1, 1.0], 0.0, 90, *NO_COLUMN),
    "probabilities-ends": ([0.1, 1.2], -0.1, 90, *NO_COLUMN, *TWO_D),
    "patterns": (
        None, "a", 1, [1, 2], np.ones(2, dtype=int), np.full((2, 3), 1), np.full((2, 2), 0.5),
        np.array([[0, -1], [1, 1]]), np.array([[True, False], [True, True]]),
        np.full((2, 2), 10**12), [[0, 1], [1, 1]],
    ),
    "blocks": (
        None, "a", 1, (), ((),), ((0,), (0,)), ((0,), (2,)), ((0.0,), (1.0,)), ((0, True),),
        [[0], [1]], ((0,), ()), (0, 1),
    ),
    "flags": ([1, 2], [0.7], [256], [NAN], ["x"], "x", None, [[True]]),
    "texts": (None, "a", [None, "a"], [NAN, "a"], [1.5], [True], [["a"]]),
}  # fmt: skip
"""Word of a kind: values that it must refuse. Of a kind that lets None through, all but None."""
