"""Histories refuse what cannot be, and count who was watched."""

import numpy as np
import pytest

from fleetstats.core.errors import ArgumentError, SpellError
from fleetstats.spells.histories import Histories


def two_engines():
    return Histories.of(
        ["a", "a", "b"],
        [0, 500, 100],
        [300, 900, 700],
        ["a", "a", "b"],
        [120, 900, 700],
        event_kind=["part-changed", "finding", "part-changed"],
        event_cost=[10, 20, 30],
        build=["I", "II", "I"],
    )


def test_an_engine_in_a_gap_is_not_watched():
    h = two_engines()
    assert h.observed([100, 101, 300, 400, 500, 501, 700, 900, 901]).tolist() == [
        1, 2, 2, 1, 1, 2, 2, 1, 0,
    ]  # fmt: skip
    assert h.exposure_h == 300 + 400 + 600
    assert "2 engines over 3 stretches" in repr(h)


def test_selecting_takes_the_events_along():
    h = two_engines()
    first = h.select(h.build == "I")
    assert first.event_h.tolist() == [120.0, 700.0]
    assert h.of_kind("finding").event_cost.tolist() == [20.0]
    assert h.stretch_of_event().tolist() == [0, 1, 2]


@pytest.mark.parametrize(
    ("start", "end", "event", "says"),
    [
        ([0, 200], [300, 400], [100], "overlap"),
        ([0, 300], [300, 400], [500], "outside the hours"),
        ([0, 300], [200, 400], [250], "outside the hours"),
        ([0, 300], [300, 300], [100], "later than they start"),
    ],
)
def test_what_cannot_be_is_refused_by_name(start, end, event, says):
    with pytest.raises(SpellError, match="'a'") as e:
        Histories.of(["a", "a"], start, end, ["a"] * len(event), event)
    assert says in str(e.value)
    # who knows the rows puts the place before it, where one stretch is at fault
    placed = str(e.value.at(["log.csv row 2", "log.csv row 5"]))
    assert placed.startswith("log.csv row ") is (says != "outside the hours")


def test_hours_that_are_no_number_are_refused_with_their_place():
    with pytest.raises(ArgumentError, match=r"^start_h\[1\] = nan\. Give finite hours"):
        Histories.of(["a", "a"], [0, np.nan], [300, 400], ["a"], [100])


def test_an_event_at_the_start_of_observation_was_not_seen():
    with pytest.raises(SpellError):
        Histories.of(["a"], [100], [300], ["a"], [100])


def test_no_events_is_a_history_too():
    h = Histories.of(["a"], [0], [300], [], [])
    assert h.select([True]).exposure_h == 300
    assert len(h.event_h) == 0
