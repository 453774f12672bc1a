"""One row an engine, its history in columns: the lives that a person would write down for it.

Invented rows; each test states the lives, hours and counts worked out by hand from the rules of the
log (common practice, no source).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from fleetstats.chapters.departures.compute import list_departures
from fleetstats.records.audit.audit import audit_records
from fleetstats.records.audit.finding import Audit
from fleetstats.records.readers import read_records
from fleetstats.records.reading import Records
from fleetstats.spells.build import build_spells
from fleetstats.spells.running import find_running
from fleetstats.studies.analyse import read_lives_of
from fleetstats.study.study import Study, read_study

STUDY = """[study]
title = "made"
analysis_date = 2025-12-31
{head}
[[records]]
file = "h.csv"
shape = "histories"
source = "shop"
{keys}
[records.renews]
"back in service" = "nothing"
"new crank" = "{crank}"
{renews}
"""


@pytest.fixture
def read(tmp_path: Path) -> Any:
    """Return a maker of a study, its records and their audit from rows of a table."""

    def run(
        *rows: str, head: str = "", keys: str = "", crank: str = "nothing", renews: str = ""
    ) -> tuple[Study, Records, Audit]:
        (tmp_path / "h.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
        toml = STUDY.format(head=head, keys=keys, crank=crank, renews=renews)
        (tmp_path / "study.toml").write_text(toml, encoding="utf-8")
        study = read_study(tmp_path)
        records = read_records(study)
        return study, records, audit_records(study, records)

    return run


def lives(audit: Audit) -> list[tuple[Any, ...]]:
    return [(x.engine, x.entry_h, x.exit_h, x.ending, x.cause) for x in audit.used]


def codes(audit: Audit) -> set[str]:
    return {f.code for f in audit.findings}


HEAD = "engine,failed at,cause,back in service,failed at 2,cause 2,back in service 2,hours now"


def test_two_failures_are_three_lives(read: Any) -> None:
    study, records, audit = read(HEAD, "A,800,crank,802,1200,bearing,1200,1500", "B,,,,,,,900")
    assert lives(audit) == [
        ("A", 0.0, 800.0, "failed", "crank"),
        ("A", 802.0, 1200.0, "failed", "bearing"),
        ("A", 1200.0, 1500.0, "running", ""),
        ("B", 0.0, 900.0, "running", ""),
    ]
    assert audit.ok
    assert (audit.n_read, audit.n_used, audit.n_set_aside) == (2, 2, 0)
    built = build_spells(study, records, audit)
    assert built.spells.n_failed == 2
    assert [(r.place, r.hours, r.row) for r in built.trouble.rows] == [
        ("failure", 800.0, 2), ("failure", 1200.0, 2),
    ]  # fmt: skip
    assert built.left_out == ()


@pytest.mark.parametrize(
    ("crank", "told"),
    [
        ("nothing", [(0.0, 800.0, 0.0), (800.0, 1500.0, 0.0)]),
        ("part", [(0.0, 800.0, 0.0), (800.0, 1500.0, 0.0)]),
        ("all", [(0.0, 800.0, 0.0), (0.0, 700.0, 800.0)]),
    ],
)
def test_an_engine_is_as_old_as_its_last_renewal(read: Any, crank: str, told: Any) -> None:
    """Failed at 800 h, a new crank there, 1,500 h now: 1,500 h old, or 700 h where all is new."""
    study, records, audit = read(
        "engine,failed at,cause,new crank at,hours now", "A,800,crank,800,1500",
        head='[hours]\nbasis = "since-overhaul"', crank=crank,
    )  # fmt: skip
    assert [(x.entry_h, x.exit_h, x.life_start_h) for x in audit.used] == told
    assert "history-age-since-new" not in codes(audit)
    (engine,) = find_running(build_spells(study, records, audit).rows, study.settings)
    assert engine.age_h == told[-1][1]  # what forecasts and the list of engines go by


def test_a_renewal_that_the_study_does_not_count_by_is_named(read: Any) -> None:
    rows = ("engine,failed at,cause,new crank at,hours now", "A,800,crank,800,1500")
    (f,) = [f for f in read(*rows, crank="all")[2].findings if f.code == "history-age-since-new"]
    assert f.message.startswith("1 of its engines came back renewed as a whole")
    assert "history-age-since-new" not in codes(read(*rows, crank="part")[2])


def test_a_repair_of_an_open_meaning_stops_and_says_the_lines_to_add(read: Any) -> None:
    rows = ("engine,failed at,cause,new crank at,hours now", "A,800,crank,800,1500", "B,,,,700")
    audit = read(*rows, crank="")[2]
    (f,) = audit.stops
    assert (f.code, f.row, f.column, f.value) == (
        "history-repair-open", 2, "new crank at", "new crank",
    )  # fmt: skip
    assert '"new crank" = "all"' in f.advice
    assert '  [records.renews]\n  "new crank" = "…"    # row 2' in str(audit)
    assert read(*rows, crank="part")[2].ok


def test_what_was_done_is_asked_by_its_words(read: Any) -> None:
    rows = ("engine,failed at,cause,repair,hours now", "A,800,crank,Field weld,1500")
    (f,) = read(*rows)[2].stops
    assert (f.code, f.column, f.value) == ("history-repair-open", "repair", "Field weld")
    assert read(*rows, renews='"field weld" = "nothing"')[2].ok


def test_hours_go_on_over_a_new_meter(read: Any) -> None:
    """700 h on the old meter and 300 h on the new one are 1,000 h; one that began at 50 h, 950."""
    head = "engine,meter changed at,new meter reading,failed at,hours now"
    audit = read(head, "A,700,,,300", "B,700,50,,300", "C,700,,200,300")[2]
    told = [(x.engine, x.entry_h, x.exit_h, x.ending) for x in audit.used]
    assert told[:2] == [("A", 0.0, 1000.0, "running"), ("B", 0.0, 950.0, "running")]
    assert len(told) == 2
    (f,) = audit.stops  # C failed at 200 h of one of the two meters
    assert (f.code, f.row, f.column) == ("history-meter-place", 4, "meter changed at")


def test_hours_below_those_of_a_new_meter_were_on_the_old_one(read: Any) -> None:
    """The new meter began at 250 h and shows 400 h: 200 h were the old one's, 850 h are run."""
    audit = read(
        "engine,meter changed at,new meter reading,failed at,back,hours now", "A,700,250,200,,400"
    )[2]
    assert [(x.entry_h, x.exit_h, x.ending) for x in audit.used] == [
        (0.0, 200.0, "failed"), (200.0, 850.0, "running"),
    ]  # fmt: skip


def test_a_date_says_which_meter_it_was(read: Any) -> None:
    head = "engine,meter changed at,meter changed on,failed at,failed on,back,hours now"
    audit = read(
        head, "C,700,2018-01-01,200,2015-01-01,200,300", "D,700,2018-01-01,200,2019-01-01,200,300"
    )[2]
    assert [(x.engine, x.entry_h, x.exit_h, x.ending) for x in audit.used] == [
        ("C", 0.0, 200.0, "failed"), ("C", 200.0, 1000.0, "running"),
        ("D", 0.0, 900.0, "failed"), ("D", 900.0, 1000.0, "running"),
    ]  # fmt: skip


def test_whose_hours_follow_a_change_is_asked_where_they_do_not_fall(read: Any) -> None:
    rows = ("engine,meter changed at,hours now", "A,700,1500")
    (f,) = read(*rows)[2].stops
    assert (f.code, f.column, f.value) == ("history-meter-open", "hours now", "1500")
    for stated, exit_h in (("new-meter", 2200.0), ("total", 1500.0)):
        audit = read(*rows, keys=f'after_meter_change = "{stated}"')[2]
        assert [x.exit_h for x in audit.used] == [exit_h]


def test_a_prop_strike_is_a_removal_for_its_cause(read: Any) -> None:
    study, records, audit = read("engine,prop strike at,back in service,hours now", "A,600,600,900")
    assert lives(audit) == [
        ("A", 0.0, 600.0, "removed", "prop strike"), ("A", 600.0, 900.0, "running", ""),
    ]  # fmt: skip
    assert build_spells(study, records, audit).spells.n_failed == 0
    assert audit.ok


def test_a_return_that_is_not_told_is_named(read: Any) -> None:
    audit = read("engine,failed at,cause,hours now", "A,800,crank,1500")[2]
    assert lives(audit) == [
        ("A", 0.0, 800.0, "failed", "crank"), ("A", 800.0, 1500.0, "running", ""),
    ]  # fmt: skip
    assert "history-return-assumed" in codes(audit)


def test_the_status_ends_the_last_life(read: Any) -> None:
    audit = read(
        "engine,failed at,cause,back in service,hours now,status",
        "A,,bearing,,900,failed", "B,,,,900,planned-overhaul", "C,800,crank,800,1000,lost",
        "D,,,,700,sold", "E,800,crank,,800,failed",
    )[2]  # fmt: skip
    assert lives(audit) == [
        ("A", 0.0, 900.0, "failed", "bearing"),
        ("B", 0.0, 900.0, "planned-overhaul", "overhaul due"),
        ("C", 0.0, 800.0, "failed", "crank"),
        ("C", 800.0, 1000.0, "lost", ""),
        ("D", 0.0, 700.0, "removed", "sold"),
        ("E", 0.0, 800.0, "failed", "crank"),
    ]


def test_the_same_heads_again_are_the_next_of_their_kind(read: Any) -> None:
    audit = read(
        "engine,failed at,cause,failed at,cause,2nd crank h,hours now",
        "A,300,piston,500,bearing,700,900",
        keys='columns = {"failed at 3" = "2nd crank h"}',
    )[2]  # fmt: skip
    assert [(x[2], x[3], x[4]) for x in lives(audit)] == [
        (300.0, "failed", "piston"), (500.0, "failed", "bearing"), (700.0, "failed", ""),
        (900.0, "running", ""),
    ]  # fmt: skip


ODD = [
    ("A,800,crank,750,,,,1500", "history-order", "back in service", "750"),
    ("A,800,crank,800,700,,,1500", "history-order", "failed at 2", "700"),
    ("A,800,crank,800,,,,700", "history-order", "hours now", "700"),
    ("A,800,crank,800,800,,,1500", "history-order", "failed at 2", "800"),
    ("A,,crank,,,,,1500", "history-hours-missing", "cause", "crank"),
    ("A,8OO?,crank,800,,,,1500", "log-hours-unreadable", "failed at", "8OO?"),
    ("A,,,,,,800,1500", "history-order", "back in service 2", "800"),
    (",800,crank,800,,,,1500", "log-engine-missing", "engine", ""),
]


@pytest.mark.parametrize(("row", "code", "column", "value"), ODD)
def test_an_odd_row_is_named_and_stays_in_the_ledger(
    read: Any, row: str, code: str, column: str, value: str
) -> None:
    """It names file, row, column and value; the failure that it tells of is not forgotten."""
    study, records, audit = read(HEAD, row, "B,,,,,,,900", head=f'[treat]\n{code} = "set-aside"')
    (f,) = [f for f in audit.findings if f.code == code]
    assert (f.file, f.row, f.column, f.value) == ("h.csv", 2, column, value)
    assert f.advice
    assert (audit.n_read, audit.n_used, audit.n_set_aside) == (2, 1, 1)
    assert [(s.row, s.reason) for s in audit.set_aside] == [(2, code)]
    built = build_spells(study, records, audit)
    assert {r.place for r in built.trouble.rows} <= {"set-aside"}
    assert ("crank" in row) == bool(built.trouble.rows)
    n_failures = sum(bool(x) for x in (row.split(",")[1], row.split(",")[4]))
    assert len(built.left_out) >= n_failures


def test_a_row_is_used_whole_or_not_at_all(read: Any) -> None:
    """A last reading of tomorrow keeps out the failure of the same row, which the ledger keeps."""
    rows = ("engine,failed at,cause,back,hours now,as of", "A,800,crank,800,900,2026-06-01",
            "B,,,,700,2025-06-01")  # fmt: skip
    study, records, audit = read(*rows, head='[treat]\ndate-future = "set-aside"')
    assert [(s.row, s.reason) for s in audit.set_aside] == [(2, "date-future")]
    assert lives(audit) == [("B", 0.0, 700.0, "running", "")]
    built = build_spells(study, records, audit)
    assert [(r.place, r.hours) for r in built.trouble.rows] == [("set-aside", 800.0)]
    assert [(x.low_h, x.high_h) for x in built.left_out] == [(800.0, 800.0)]


def test_two_rows_of_one_engine_are_not_read_as_one(read: Any) -> None:
    audit = read(HEAD, "A,,,,,,,900", "a,800,crank,,,,,")[2]
    (f,) = audit.stops
    assert (f.code, f.row, f.value) == ("history-engine-twice", 3, "a")


def test_words_of_trouble_beside_a_history_are_seen(read: Any) -> None:
    study, records, audit = read(
        "engine,hours now,colour,notes", "A,900,seized in 2019,", "B,700,,crankshaft broke"
    )
    assert [f.row for f in audit.findings if f.code == "trouble-unread"] == [2, 3]
    rows = build_spells(study, records, audit).trouble.rows
    assert [(r.row, r.place) for r in rows] == [(2, "not-counted"), (3, "not-counted")]


def test_what_renewals_were_stated_is_told_in_words_and_counts_nothing_false(read: Any) -> None:
    rows = [f"E{i},{300 + 50 * i},crank,{300 + 50 * i},{900 + i}" for i in range(12)]
    study = read("engine,failed at,cause,new crank at,hours now", *rows, crank="part")[0]
    items = {x.key: x for x in list_departures(study, *read_lives_of(study)).items}
    told = items['records[1].renews."new crank"']
    assert told.said == "“new crank” of h.csv is taken to have renewed one part of it"
    assert (told.effect, told.n) == ("", None)


def test_chunks_are_not_for_histories(read: Any) -> None:
    from fleetstats.spells.bulk.bulk_study import unmet_conditions

    study = read(HEAD, "A,,,,,,,900")[0]
    assert "record files of shape 'lives' alone" in unmet_conditions(study)
