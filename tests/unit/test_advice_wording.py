"""Words of advice: bounds are rounded to the careful side, counts and chances read as words."""

import pytest

from fleetstats.vocabulary.wording import (
    at_least,
    at_most,
    chance,
    count,
    hours_down,
    hours_near,
    listed,
    one_in_at_most,
    stated,
)


@pytest.mark.parametrize(
    ("p", "text"),
    [(0.02412, "2.5 %"), (0.024, "2.4 %"), (1 - 0.9, "10 %"), (0.05, "5.0 %"), (0.00213, "0.22 %"),
     (0.999, "close to 1"), (1.0, "100 %"), (0.0, "0 %")],
)  # fmt: skip
def test_upper_bounds_round_up(p, text):
    if text == "close to 1":  # close to 1 the digits are those of the distance from 1
        assert float(at_most(p).removesuffix(" %")) >= 100 * p - 1e-9
    else:
        assert at_most(p) == text


@pytest.mark.parametrize("p", [0.9741, 0.90001, 0.5, 0.123456, 0.99954, 0.0009876])
def test_rounding_never_promises_more(p):
    assert float(at_most(p).removesuffix(" %")) >= 100 * p - 1e-7
    assert float(at_least(p).removesuffix(" %")) <= 100 * p + 1e-7
    assert float(at_most(p).removesuffix(" %")) <= 100 * p * 1.12
    assert float(at_least(p).removesuffix(" %")) >= 100 * p * 0.89


def test_one_in_so_many_is_rounded_down():
    assert one_in_at_most(0.0256) == "about 1 in 39"
    assert one_in_at_most(1 / 1239) == "about 1 in 1,200"
    assert one_in_at_most(0.1) == "about 1 in 10"
    assert one_in_at_most(0.634) == "64 in 100"


def test_stated_shares_keep_their_digits():
    assert stated(1 - 0.95) == "5 %"
    assert stated(0.975) == "97.5 %"
    assert stated(0.0005) == "0.05 %"


def test_far_ends_of_a_chance_are_words():
    assert chance(1e-9) == "less than 1 in 10,000"
    assert chance(0.99999) == "over 99.9 %"
    assert chance(0.31) == "31 %"


def test_counts_and_lists():
    assert count(0, "failure") == "no failures"
    assert count(1, "failure") == "1 failure"
    assert count(1234, "engine") == "1,234 engines"
    assert count(2.5, "failure") == "2.5 failures"
    assert count(15, "engine failure in service") == "15 engine failures in service"
    assert count(2, "loss of power") == "2 losses of power"
    assert count(1, "loss of power") == "1 loss of power"
    assert listed(["a"]) == "a"
    assert listed(["a", "b", "c"], "or") == "a, b or c"


def test_hours():
    assert hours_down(1249.9) == "1,200 h"
    assert hours_near(1230.0) == "1,250 h"
    assert hours_down(None) == "–"
