"""Who left because due and who because ill; what each source writes down and what it may not."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from advice_fleets import made_settings

from fleetstats.chapters.data.likeness import (
    compose_likeness,
    reason_of,
    say_left,
    source_table,
    unwritten,
)
from fleetstats.document.cells import check_table
from fleetstats.records.life import LifeRow
from fleetstats.vocabulary.finding import Origin

SETTINGS = made_settings()


def row(ending: str, cause: str = "", source: str = "a", **more: Any) -> LifeRow:
    return LifeRow(origin=Origin(file="m.csv", row=2), engine="E", exit_h=9.0, ending=ending,
                   cause=cause, source=source, **more)  # fmt: skip


def test_every_ending_has_its_reason() -> None:
    said = {
        ("running", ""): "", ("failed", "piston"): "", ("found-at-check", ""): "",
        ("modified", ""): "", ("planned-overhaul", ""): "due", ("removed-finding", ""): "ill",
        ("lost", ""): "lost", ("removed", "Prop Strike"): "outside", ("removed", ""): "unknown",
        ("removed", "vibration"): "unknown",
    }  # fmt: skip
    for (ending, cause), why in said.items():
        assert reason_of(row(ending, cause), SETTINGS) == why, (ending, cause)


def test_due_and_ill_are_counted_by_hand() -> None:
    """Ten due (two opened, one clean), three ill, one sold, one lost, five without a reason."""
    rows = [
        *[row("planned-overhaul") for _ in range(7)],
        row("planned-overhaul", found_at_teardown=False),
        row("planned-overhaul", found_at_teardown=True, count=2),
        *[row("removed-finding") for _ in range(3)],
        row("removed", "sold"),
        row("lost"),
        row("removed", count=5),
        row("running"),
        row("failed", "piston"),
    ]
    s = say_left(rows, SETTINGS)
    assert s is not None
    assert s.text == (
        "Of 20 lives that ended without failing: 10 for overhaul because hours or calendar were "
        "due, 3 because of a finding, 1 for a cause outside its own life (sold, struck, stored …), "
        "1 lost to follow-up and 5 for a reason that the records do not give. Of those called due "
        "3 were taken apart, 1 of them clean; for 7 no teardown is recorded, so that they were not "
        "ill rests on one word. The reason is unknown for 30 %."
    )
    assert s.tone == "caution"
    assert say_left([row("running"), row("failed")], SETTINGS) is None
    calm = say_left([row("planned-overhaul", found_at_teardown=False)], SETTINGS)
    assert calm is not None
    assert calm.tone == "fact"
    assert "All of those called due were taken apart, 1 of them clean" in calm.text


def test_a_silent_source_is_asked() -> None:
    many = [row("running", source="quiet") for _ in range(20)]
    few = [row("running", source="small") for _ in range(19)]
    other = [row("failed", "piston", "loud"), row("removed-finding", source="loud")]
    (text,) = unwritten([*many, *few, *other])
    assert text.startswith("quiet tells of no failures in service or removals on a finding in 20")
    assert unwritten([*many, *few]) == []


def results(rows: list[LifeRow], counts: list[str]) -> Any:
    built = SimpleNamespace(
        rows=tuple(rows), verdicts=tuple(SimpleNamespace(counts_as=c) for c in counts)
    )
    return SimpleNamespace(built=built, settings=SETTINGS)


def test_sources_side_by_side() -> None:
    rows = [
        row("failed", "piston", "a", confirmed=True, meter="tach"),
        row("failed", "", "a", meter="tach"),
        row("running", source="a", meter="flight", count=4),
        row("removed-finding", source="b"),
    ]
    got = results(rows, ["failure", "failure", "censored", "finding"])
    table = source_table(got)
    check_table(table)
    assert table.rows == (
        ("a", "flight hours and tach hours", 6.0, 2.0, 0.0, 0.0, 0.0, 0.5, 0.5),
        ("b", "not said", 1.0, 0.0, 0.0, 1.0, 0.0, None, None),
    )
    assert table in compose_likeness(got)
    alone = results(rows[:3], ["failure", "failure", "censored"])
    assert compose_likeness(alone) == []
