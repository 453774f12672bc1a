"""The gate: what each kind of argument lets through, and what it refuses, by the argument's name.

What is right for each kind is our own rule; no outside source.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

import numpy as np
import pandas as pd
import pytest

from fleetstats.core import arguments
from fleetstats.core.errors import ArgumentError, ArgumentTypeError

NO_NUMBER: tuple[Any, ...] = ("0.9", None, True, np.True_, 1j, [0.5], np.array([0.5]), {}, pd.NA)
NAN = float("nan")
INF = float("inf")

SCALARS: dict[str, tuple[Any, tuple[Any, ...], tuple[Any, ...]]] = {
    "level": (arguments.level, (0.9, np.float32(0.5), Fraction(9, 10), np.array(0.9)),
              (90, 95, -0.5, 0, 1, 1.0, NAN, INF, 10**400)),
    "probability": (lambda v, n: arguments.probability(v, n), (0.1,), (0, 1, 10, -0.1, NAN)),
    "with ends": (lambda v, n: arguments.probability(v, n, ends=True), (0, 1, 0.1),
                  (1.01, -1e-9, NAN)),
    "hours": (lambda v, n: arguments.hours(v, n), (0, 1, 5e5), (-1, NAN, INF, -INF)),
    "hours above 0": (lambda v, n: arguments.hours(v, n, zero=False), (0.1,), (0, -1, NAN, INF)),
    "positive": (lambda v, n: arguments.positive(v, n), (1e-300,), (0, -1, NAN, INF)),
    "within": (lambda v, n: arguments.within(v, n, 0.2, 5), (0.2, 5), (0.1, 5.1, NAN)),
    "count": (lambda v, n: arguments.count(v, n), (0, 3.0, np.int8(4)),
              (-1, 2.5, 10**12, NAN, INF)),
    "size": (lambda v, n: arguments.size(v, n), (1, 10), (0, -1, 2.5, 10**12)),
}  # fmt: skip


@pytest.mark.parametrize("kind", SCALARS)
def test_a_scalar_is_let_through_or_refused_by_name(kind: str) -> None:
    check, right, wrong = SCALARS[kind]
    for v in right:
        assert check(v, "asked") == pytest.approx(float(v), rel=1e-7)
    for v in wrong:
        with pytest.raises(ArgumentError, match=r"^asked = "):
            check(v, "asked")
    for v in (*NO_NUMBER, Decimal("0.9")):
        with pytest.raises(ArgumentTypeError, match=r"^asked = "):
            check(v, "asked")


def test_a_level_in_percent_is_told_how_it_is_written() -> None:
    with pytest.raises(ArgumentError, match=r"level = 90\. .*write 0\.90, not 90"):
        arguments.level(90)


def test_an_error_is_a_value_error_and_one_of_kind_a_type_error_too() -> None:
    with pytest.raises(ValueError, match="level = 2"):
        arguments.level(2)
    for kind in (ValueError, TypeError):
        with pytest.raises(kind, match=r"level = '0\.9'"):
            arguments.level("0.9")


def test_a_seed_a_flag_and_a_choice() -> None:
    assert arguments.seed(np.int64(7)) == 7
    assert arguments.flag(np.False_, "curves") is False
    assert arguments.choice("gamma", "family", ("weibull", "gamma")) == "gamma"
    for v in (-1, 2**63):
        with pytest.raises(ArgumentError, match="seed"):
            arguments.seed(v)
    for v in (1.0, True, None, "1"):
        with pytest.raises(ArgumentTypeError, match="seed"):
            arguments.seed(v)
    for v in (1, 0, None, "yes"):
        with pytest.raises(ArgumentTypeError, match="curves"):
            arguments.flag(v, "curves")
    with pytest.raises(ArgumentError, match=r"family = 'Waybull'\. Did you mean 'weibull'"):
        arguments.choice("Waybull", "family", ("weibull", "gamma"))
    with pytest.raises(ArgumentTypeError, match="Known are: weibull"):
        arguments.choice(None, "family", ("weibull", "gamma"))


NO_COLUMN: tuple[Any, ...] = (
    "900", None, {"a": 1}, {1.0}, [True, False], [1j], ["900"], [1, None], [1, [2]],
    np.array(["2020-01-01"], dtype="datetime64[D]"), pd.Series(["1"]), [Decimal(1)],
)  # fmt: skip


@pytest.mark.parametrize("among", NO_COLUMN, ids=[str(i) for i in range(len(NO_COLUMN))])
def test_what_is_no_column_of_numbers_is_refused(among: Any) -> None:
    with pytest.raises(ArgumentTypeError, match=r"^ages_h"):
        arguments.hours_of(among, "ages_h")


@pytest.mark.parametrize(
    ("among", "told"),
    [
        ([1, -1], r"ages_h\[1\] = -1\.0"),
        ([1, NAN], r"ages_h\[1\] = nan"),
        ([INF, 1], r"ages_h\[0\] = inf"),
        (-1, r"ages_h = -1\.0"),
        ([[1.0, 2.0]], r"ages_h has 2 dimensions \(1 x 2\)"),
        (pd.DataFrame({"a": [1.0]}), "2 dimensions"),
        (np.ma.array([1.0, 2.0], mask=[False, True]), "masked"),
        ([], "Give at least 1"),
        ([10**400], "ages_h"),
        (pd.Series([1, None], dtype="Float64"), r"ages_h\[1\]"),
    ],
)
def test_hours_that_cannot_be_are_told_with_their_place(among: Any, told: str) -> None:
    with pytest.raises(ArgumentError, match=told):
        arguments.hours_of(among, "ages_h", least=1)


def test_columns_come_through_as_they_are() -> None:
    for v in ([1, 2], (1.0, 2.0), range(1, 3), np.array([1, 2], np.int8), pd.Series([1, 2], [9, 4]),
              pd.Series([1, 2], dtype="Int64"), [Fraction(1), 2]):  # fmt: skip
        assert arguments.hours_of(v, "ages_h").tolist() == [1.0, 2.0]
    assert arguments.hours_of(3, "ages_h", n=4).tolist() == [3.0] * 4
    with pytest.raises(ArgumentError, match="ages_h has 1 values"):
        arguments.hours_of([3], "ages_h", n=4)
    with pytest.raises(ArgumentError, match=r"ages_h\[0\] = 0"):
        arguments.hours_of([0, 1], "ages_h", zero=False)
    assert arguments.hours_of([0, INF], "ages_h", infinite=True)[1] == INF


def test_probabilities_flags_and_texts_of_many() -> None:
    assert arguments.probabilities([0.1, 0.5], "p").tolist() == [0.1, 0.5]
    assert arguments.probabilities([0, 1], "p", ends=True).tolist() == [0.0, 1.0]
    for v in ([0.0, 0.5], [0.5, 1.0], [10], [NAN]):
        with pytest.raises(ArgumentError, match=r"^p"):
            arguments.probabilities(v, "p")
    assert arguments.flags_of([1, 0, True], "failed").tolist() == [True, False, True]
    assert arguments.flags_of(True, "failed", n=2).tolist() == [True, True]
    for v in ([1, 2], [0.7], [NAN], [256], ["x"], None, [[True]], pd.Series([True, None])):
        with pytest.raises(ArgumentError, match=r"^failed"):
            arguments.flags_of(v, "failed")
    assert arguments.texts_of("a", "unit", n=2).tolist() == ["a", "a"]
    assert arguments.texts_of([101, 102], "unit").tolist() == ["101", "102"]
    for v in ([1.0, 2.0], [None, "a"], [NAN, "a"], [True], [["a"]], None):
        with pytest.raises(ArgumentError, match=r"^unit"):
            arguments.texts_of(v, "unit")
    with pytest.raises(ArgumentError, match="unit has 2 values"):
        arguments.texts_of(["a", "b"], "unit", n=3)


def test_lengths_that_differ_are_all_told() -> None:
    two, three = np.zeros(2), np.zeros(3)
    assert arguments.same_length({"entry": two, "exit": two}) == 2
    with pytest.raises(ArgumentError, match="entry has 2, exit has 3"):
        arguments.same_length({"entry": two, "exit": three})
