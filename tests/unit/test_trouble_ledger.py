"""The ledger of trouble: each row that hints at a failure is in it, once, where it was counted.

Invented rows. Each test states where a reader would look for the row.
"""

from __future__ import annotations

from typing import Any

import pytest

from fleetstats.spells.build import Built, build_spells

HEAD = "engine,entry_hours,exit_hours,ending,cause,confirmed,note\n"
GOOD = "".join(f"G{i},,{100 * i},running,,,\n" for i in range(1, 10))
LOG = '\n[[records]]\nfile = "log.csv"\nshape = "log"\n'


@pytest.fixture
def built(audited: Any) -> Any:
    """Return a maker of Built from rows of lives and settings."""

    def run(rows: str, settings: str = "", **more: Any) -> Built:
        return build_spells(*audited(HEAD + GOOD + rows, settings, **more))

    return run


def only(b: Built) -> Any:
    (row,) = b.trouble.rows
    return row


def test_a_failure_counted(built: Any) -> None:
    b = built("A,,700,failed,piston,yes,\n")
    assert (only(b).place, only(b).hours, only(b).columns) == (
        "failure", 700.0, ("ending", "cause", "confirmed"),
    )  # fmt: skip
    assert b.left_out == ()
    assert b.trouble.sentence == ("1 row hints at a failure: 1 counted as failures in question.")


def test_a_failure_without_hours_that_is_set_aside_is_left_out_at_any_age(built: Any) -> None:
    b = built("A,,,failed,piston,yes,\n", '[treat]\nhours-missing = "set-aside"\n')
    assert only(b).place == "set-aside"
    (left,) = b.left_out
    assert (left.row, left.low_h, left.high_h, left.reason) == (11, 0.0, 900.0, "has no hours")


def test_an_engine_known_to_run_in_another_row_failed_no_earlier(built: Any) -> None:
    rows = "A,,650,running,,,\nA,,,failed,piston,yes,\n"
    (left,) = built(rows, '[treat]\nhours-missing = "set-aside"\n').left_out
    assert (left.low_h, left.high_h) == (650.0, 900.0)


def test_hours_that_cannot_be_read(built: Any) -> None:
    b = built("A,,lots,failed,piston,,\n", '[treat]\nhours-unreadable = "set-aside"\n')
    (left,) = b.left_out
    assert (left.low_h, left.high_h) == (0.0, 900.0)
    assert left.cause == "piston"


def test_hours_told_by_a_note_are_used(built: Any) -> None:
    rows = "A,,,failed,piston,yes,seized at 766 h\n"
    (left,) = built(rows, '[treat]\nhours-missing = "set-aside"\n').left_out
    assert (left.low_h, left.high_h) == (766.0, 766.0)


def test_a_failure_from_another_cause_set_aside_is_not_asked_about(built: Any) -> None:
    settings = '[treat]\nhours-missing = "set-aside"\n[question]\ncauses = ["piston"]\n'
    b = built("A,,,failed,turbocharger,yes,\nB,,500,failed,turbocharger,yes,\n", settings)
    assert [r.place for r in b.trouble.rows] == ["set-aside", "other"]
    assert b.left_out == ()


def test_one_not_confirmed_is_none(built: Any) -> None:
    b = built("A,,,failed,piston,no,\n", '[treat]\nhours-missing = "set-aside"\n')
    assert only(b).place == "set-aside"
    assert b.left_out == ()


def test_censored_by_cause_and_not_confirmed(built: Any) -> None:
    b = built("A,,300,failed,prop strike,yes,\nB,,300,failed,piston,no,\n")
    assert [r.place for r in b.trouble.rows] == ["censored", "censored"]
    assert b.left_out == ()


@pytest.mark.parametrize("counts_as", ["excluded", "censored"])
def test_a_failure_that_a_rule_takes_out_is_left_out_at_its_age(built: Any, counts_as: str) -> None:
    rule = (
        '[[question.rules]]\nending = "failed"\ncause = "piston"\n'
        f'counts_as = "{counts_as}"\nreason = "no"\n'
    )
    b = built("A,,300,failed,piston,yes,\n", rule)
    assert only(b).place == "excluded"
    (left,) = b.left_out
    assert (left.low_h, left.high_h, left.reason) == (300.0, 300.0, "is taken out by a rule")


def test_a_failing_word_that_a_map_turns_into_another_ending(built: Any) -> None:
    records = '\n[[records]]\nfile = "lives.csv"\n[records.endings]\nfailed = "planned-overhaul"\n'
    b = built("A,,300,failed,,,\n", records=records)
    assert only(b).place == "not-counted"
    assert only(b).words == ("failed",)
    (left,) = b.left_out
    assert (left.low_h, left.high_h) == (300.0, 300.0)


def test_words_in_a_note_of_a_running_engine(built: Any) -> None:
    b = built('A,,900,running,,,"failed at 766 h, back in service"\n')
    assert only(b).place == "not-counted"
    (left,) = b.left_out
    assert (left.low_h, left.high_h) == (766.0, 766.0)


def test_a_sign_in_a_note_stands_in_the_ledger_and_is_no_failure_left_out(built: Any) -> None:
    b = built("A,,900,running,,,metal in the filter\n")
    assert only(b).place == "not-counted"
    assert b.left_out == ()


def test_no_metal_is_no_hint(built: Any) -> None:
    assert built('A,,900,running,,,"no metal, no crack found"\n').trouble.rows == ()


def test_an_ending_that_is_not_known_may_be_a_failure(built: Any) -> None:
    b = built("A,,900,kaboom,,,\n", '[treat]\nending-unknown = "set-aside"\n')
    (left,) = b.left_out
    assert left.reason == "has an ending that is not known"


def test_a_copy_of_a_failure_stands_behind_the_row_that_was_kept(built: Any) -> None:
    row = "A,,300,failed,piston,yes,\n"
    b = built(row + row, '[treat]\nduplicate-row = "set-aside"\n')
    first, second = b.trouble.rows
    assert (first.place, second.place) == ("failure", "merged")
    assert second.into == "lives.csv row 11"
    assert b.left_out == ()


def test_merged_returns_name_the_row_that_stands(built: Any) -> None:
    records = "".join(
        f'\n[[records]]\nfile = "{f}"\nsource = "{s}"\n'
        for f, s in (("lives.csv", "club"), ("shop.csv", "shop"))
    )
    shop = HEAD + "A,,1000,failed,piston,yes,\n"
    b = built("A,,998,failed,piston,,\n", records=records, more={"shop.csv": shop})
    assert sorted(r.place for r in b.trouble.rows) == ["failure", "merged"]
    merged = next(r for r in b.trouble.rows if r.place == "merged")
    assert merged.into in ("lives.csv row 11", "shop.csv row 2")
    assert b.left_out == ()
    assert b.spells.n_failed == 1


def test_a_log_is_read_alike(audited: Any) -> None:
    log = (
        "engine,date,hours,kind,cause,confirmed,note\n"
        "A,2020-01-01,0,installed,,,\n"
        "A,2021-01-01,300,finding,piston,,crack seen\n"
        "A,2022-01-01,900,failed,piston,yes,\n"
        "B,2020-01-01,0,installed,,,\n"
        "B,2021-01-01,400,reading,,,failed at 350 h\n"
        "C,2020-01-01,0,installed,,,\n"
        "C,2022-01-01,500,reading,,,\n"
        "C,2023-01-01,,failed,piston,,\n"
    )
    settings = '[treat]\nlog-hours-missing = "set-aside"\n'
    b = build_spells(*audited(log, settings, records=LOG, name="log.csv"))
    assert [(r.row, r.place) for r in b.trouble.rows] == [
        (3, "finding"), (4, "failure"), (6, "not-counted"), (9, "set-aside"),
    ]  # fmt: skip
    assert [(x.row, x.low_h, x.high_h) for x in b.left_out] == [
        (6, 350.0, 350.0), (9, 500.0, 900.0),
    ]  # fmt: skip


def test_sums_and_table(built: Any) -> None:
    b = built("A,,700,failed,piston,yes,\nB,,500,running,,,seized once\n")
    assert b.trouble.n == sum(b.trouble.counts.values()) == 2
    frame = b.trouble.to_frame()
    assert list(frame["place"]) == ["failure in question", "not counted"]
    assert b.to_dict()["trouble"]["rows"][1]["place"] == "not-counted"
    assert b.trouble.sentence == (
        "2 rows hint at a failure: 1 counted as failures in question and 1 not counted."
    )
