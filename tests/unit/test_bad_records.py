"""Each way in which a record file can be wrong, and what the reader says of it.

Every case names file, row, column and value, and says what would be right; the row number is the
line that a spreadsheet shows, the header being line 1.
"""

from __future__ import annotations

import datetime as dt

import pytest

HEAD = "engine,entry_hours,exit_hours,last_good_hours,ending,cause,confirmed,count,note\n"
GOOD = "E-9,,500,,running,,,,\n"


def found(audit, code):
    return [f for f in audit.findings if f.code == code]


# row, code, column, what the message must say, what the advice must say
ROWS = [
    (",,100,,running,,,,", "engine-missing", "engine", "The engine id is empty", "serial"),
    ("...,,100,,running,,,,", "engine-unreadable", "engine", "no letter or digit", "at most 80"),
    ("E" * 200 + ",,100,,running,,,,", "engine-unreadable", "engine", "200 characters", "at most"),
    ("E-1,,,,running,,,,", "hours-missing", "exit_hours", "hours at exit are empty", "Enter the"),
    ("E-1,,abc,,running,,,,", "hours-unreadable", "exit_hours", "'abc' is not a number", "digits"),
    ("E-1,,NaN,,running,,,,", "hours-unreadable", "exit_hours", "'NaN' is not a number", "digits"),
    ("E-1,,true,,running,,,,", "hours-unreadable", "exit_hours", "'true' is not a number", ""),
    ("E-1,,=1+1,,running,,,,", "hours-unreadable", "exit_hours", "A formula (=1+1)", "its value"),
    ("E-1,,12_0,,running,,,,", "hours-unreadable", "exit_hours", "'12_0' is not", "digits"),
    ("E-1,,0x10,,running,,,,", "hours-unreadable", "exit_hours", "'0x10' is not", "digits"),
    ("E-1,,2024-05-01,,running,,,,", "hours-unreadable", "exit_hours", "'2024-05-01' is not", ""),
    ("E-1,,inf,,running,,,,", "hours-impossible", "exit_hours", "inf h cannot", "between 0 and"),
    ("E-1,,-inf,,running,,,,", "hours-impossible", "exit_hours", "-inf h cannot", "between 0"),
    ("E-1,,1e308,,running,,,,", "hours-impossible", "exit_hours", "1e+308 h", "100,000"),
    ("E-1,,1e999,,running,,,,", "hours-impossible", "exit_hours", "inf h cannot", "100,000"),
    ("E-1,,-5,,running,,,,", "hours-impossible", "exit_hours", "-5 h cannot", "between 0 and"),
    ("E-1,-5,100,,running,,,,", "hours-impossible", "entry_hours", "-5 h cannot", "between 0"),
    ("E-1,abc,100,,running,,,,", "hours-unreadable", "entry_hours", "'abc' is not", "digits"),
    ("E-1,600,100,,running,,,,", "exit-before-entry", "exit_hours",
     "ends at 100 h and begins at 600 h", "exchanged"),
    ("E-1,100,100,,failed,,,,", "failure-without-exposure", "entry_hours", "failed at 100 h", ""),
    ("E-1,,0,,failed,,,,", "failure-without-exposure", "entry_hours", "failed at 0 h", "followed"),
    ("E-1,,2.3e-13,,failed,,,,", "hours-below-meter", "exit_hours", "after 2.3e-13 h", "remainder"),
    ("E-1,,1e-300,,running,,,,", "hours-below-meter", "exit_hours", "lasts 1e-300 h", "as read"),
    ("E-1,100,100.009,,failed,,,,", "hours-below-meter", "exit_hours", "0.009 h", "set aside"),
    ("E-1,100,100,,running,,,,", "no-exposure", "exit_hours", "begins and ends at 100 h", "later"),
    ("E-1,,100,150,found-at-check,,,,", "last-good-after-exit", "last_good_hours",
     "Known good at 150 h, but the life ends at 100 h", "Correct one"),
    ("E-1,,100,,faild,,,,", "ending-unknown", "ending", "'faild' is no known ending",
     "Did you mean 'failed'?"),
    ("E-1,,100,,overhauled,,,,", "ending-unknown", "ending", "'overhauled' is no known ending",
     "planned-overhaul if it was due"),
    ("E-1,,100,,running,,,2.5,", "count-unreadable", "count", "2.5 is no count", "whole number"),
    ("E-1,,100,,running,,,0,", "count-unreadable", "count", "0 is no count", "whole number"),
    ("E-1,,100,,running,,,many,", "count-unreadable", "count", "'many' is not a count", "digits"),
    ("E-1,,100,,running,,,,,,extra", "row-long", "", "The row has 11 cells, the header 9", "comma"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("row", "code", "column", "said", "advice"),
    ROWS,
    ids=[f"{r[1]}-{i}" for i, r in enumerate(ROWS)],
)
def test_a_row_that_cannot_be_used_is_named_and_counted(audited, row, code, column, said, advice):
    _, _, audit = audited(HEAD + GOOD + row + "\n")
    (f,) = found(audit, code)
    assert (f.file, f.row, f.column) == ("lives.csv", 3, column)
    assert said in f.message
    assert advice in f.advice
    assert (audit.n_read, audit.n_used, audit.n_set_aside) == (2, 1, 1)
    assert audit.reasons == {code: 1}
    assert (f.action == "stop") == (code != "no-exposure")


DOUBTFUL = [
    ("E-1,,100", "row-short", "The row has 3 cells, the header 9"),
    ("E-1,,100,,,,,,", "ending-missing", "The ending is empty"),
    ("E-9,,500,,running,,,,", "duplicate-row", "Says the same as lives.csv row 2"),
    ("E9,100,700,,failed,,,,", "duplicate-life", "told here (running at 500 h) and in lives.csv"),
]


@pytest.mark.parametrize(("row", "code", "said"), DOUBTFUL)
def test_a_doubtful_row_stops_unless_the_study_says(audited, row, code, said):
    text = HEAD + GOOD + row + "\n"
    _, _, audit = audited(text)
    f = found(audit, code)[0]
    assert said in f.message
    assert f.action == "stop"
    assert not audit.ok
    treat = f'[treat]\n{code} = "set-aside"\nending-missing = "accept"\n'
    treat = treat.replace('ending-missing = "accept"\n', "") if code == "ending-missing" else treat
    _, _, audit = audited(text, treat)
    assert audit.ok
    assert (audit.n_used, audit.n_set_aside) == (1, 1)
    assert audit.reasons == {code: 1}
    _, _, audit = audited(text, treat.replace("set-aside", "accept"))
    assert audit.ok
    assert (audit.n_used, audit.n_set_aside) == (2, 0)
    assert found(audit, code)


WARNINGS = [
    ("E-1,,100,,failed,piston,perhaps,,", "confirmed-unreadable", "confirmed", "'perhaps' is"),
    ("E-1,50,100,20,found-at-check,,,,", "last-good-before-entry", "last_good_hours", "Known good"),
    ("E-1,,100,,found-at-check,,,,", "last-good-missing", "last_good_hours", "found at a check"),
    ("E-1,,100,,failed,prop strke,,,", "cause-misspelt", "cause", "taken as 'prop strike'"),
    ("E-1,,100,,failed,pis\x00ton,,,", "control-characters", "", "cannot be printed"),
    ("E-1,,100,,failed,,,," + "x" * 3000, "text-cut", "note", "3,000 characters"),
]


@pytest.mark.parametrize(("row", "code", "column", "said"), WARNINGS)
def test_a_row_with_a_warning_is_used(audited, row, code, column, said):
    _, _, audit = audited(HEAD + GOOD + row + "\n")
    (f,) = found(audit, code)
    assert (f.severity, f.action, f.row, f.column) == ("warning", "accept", 3, column)
    assert said in f.message
    assert (audit.n_used, audit.ok) == (2, True)


def test_all_the_errors_of_a_row_are_told_and_the_row_counts_once(audited):
    _, _, audit = audited(HEAD + GOOD + "E-1,x,y,z,faild,,,q,\n")
    assert [f.code for f in audit.of("error")] == [
        "hours-unreadable", "hours-unreadable", "hours-unreadable", "ending-unknown",
        "count-unreadable",
    ]  # fmt: skip
    assert audit.reasons == {"hours-unreadable": 1}


DATES = "engine,exit_hours,ending,in_service_date,last_reading_date\n"
DATE_CASES = [
    ("2024-13-45", "date-impossible", "'2024-13-45' is not a day of the calendar"),
    ("30.02.2024", "date-impossible", "'30.02.2024' is not a day of the calendar"),
    ("0024-01-01", "date-impossible", "before 1900"),
    ("03/04/2024", "date-ambiguous", "may be read with the day or the month first"),
    ("03/04/24", "date-ambiguous", "a year of two digits"),
    ("45000", "date-unreadable", "'45000' is a number where a date should be"),
    ("last May", "date-unreadable", "'last May' is not a date"),
    ("2026-02-01", "date-future", "2026-02-01 is after the analysis date 2025-12-31"),
    ("2020-01-01", "dates-backwards", "in_service_date 2021-01-01 is after the last date"),
    ("2021-01-05", "hours-exceed-calendar", "500 h in the 4 days"),
    ("2021-01-20", "hours-exceed-calendar", "500 h in the 19 days"),
    ("2021-01-21", "use-implausible", "500 h in the 20 days"),
    ("2021-02-10", "use-implausible", "500 h in the 40 days from 2021-01-01 to 2021-02-10"),
    ("2023-01-01", "reading-stale", "1095 days older than the analysis date"),
]


@pytest.mark.parametrize(("date", "code", "said"), DATE_CASES)
def test_a_date_that_cannot_be_is_named(audited, date, code, said):
    _, _, audit = audited(DATES + f"E-1,500,running,2021-01-01,{date}\n")
    (f,) = found(audit, code)
    assert said in f.message
    assert f.row == 2
    assert f.column


def test_a_date_order_is_learnt_from_the_column_or_stated(audited):
    rows = DATES + "E-1,500,running,,03/04/2024\nE-2,500,running,,25/04/2024\n"
    _, records, audit = audited(rows)
    assert not found(audit, "date-ambiguous")
    assert records.rows[0].last_reading == dt.date(2024, 4, 3)
    from_file = '\n[[records]]\nfile = "lives.csv"\ndate_order = "month-first"\n'
    _, records, _ = audited(DATES + "E-1,500,running,,03/04/2024\n", records=from_file)
    assert records.rows[0].last_reading == dt.date(2024, 3, 4)


def test_an_engine_older_than_its_records_needs_entry_hours(audited):
    head = "engine,entry_hours,exit_hours,ending,in_service_date,observed_from_date\n"
    _, _, audit = audited(head + "E-1,,900,running,2015-01-01,2019-01-01\n")
    (f,) = found(audit, "entry-missing")
    assert "entered service on 2015-01-01, the records of it begin on 2019-01-01" in f.message
    assert "Enter its hours on 2019-01-01" in f.advice
    assert f.action == "stop"
    _, _, audit = audited(head + "E-1,400,900,running,2015-01-01,2019-01-01\n")
    assert not found(audit, "entry-missing")
    per_file = '\n[[records]]\nfile = "lives.csv"\nobserved_from = 2019-01-01\n'
    _, _, audit = audited(head + "E-1,,900,running,2015-01-01,\n", records=per_file)
    assert found(audit, "entry-missing")
    _, _, audit = audited(head + "E-1,,900,running,2020-01-01,\n", records=per_file)
    assert not found(audit, "entry-missing")


def test_a_meter_without_a_factor_is_refused_and_with_one_converted(audited):
    rows = "engine,exit_hours,ending,meter\nE-1,100,running,flight\nE-2,100,running,tach\n"
    _, _, audit = audited(rows)
    assert [f.severity for f in found(audit, "clock-without-factor")] == ["error"]
    assert audit.n_set_aside == 1
    _, records, audit = audited(rows, "[hours.factors]\ntach = [1.05, 1.0, 1.1]\n")
    assert audit.ok
    assert [r.exit_h for r in records.rows] == [100.0, pytest.approx(105.0)]
    assert "tach × 1.05 (1 to 1.1)" in found(audit, "meter-mixed")[0].message
    _, _, audit = audited(rows.replace("tach", "tack"))
    assert found(audit, "meter-unknown")[0].advice == "Did you mean 'tach'?"


FILES = [
    ("", "file-unreadable", "The file is empty."),
    ("\n\n\n", "file-unreadable", "There is no header in the file."),
    ("engine,exit_hours,ending\n", "file-empty", "a header and no row"),
    ("engine,hours_of_sun,ending\nE,1,running\n", "column-missing", "no column for 'exit_hours'"),
    ("engine,hours,total time,ending\nE,1,1,running\n", "column-twice", "both stand for"),
    ('engine,exit_hours,ending\nE-1,"100,running\n', "file-unreadable", "quotation mark"),
    (b"\xff\xfe\x00", "file-unreadable", "breaks off"),
    (b"engine,exit_hours,ending\nE\x81,1,running\n", "file-unreadable", "neither UTF-8 nor"),
    (bytes(range(256)) * 3, "file-unreadable", ""),
    ('engine,exit_hours,ending\nE-1,"1,234",running\n', "decimal-ambiguous", "'1,234' may be"),
    ("engine,bad,exit_hours,ending\nE,1,5,running\n", "column-unused", "Not used: 'bad'."),
    ("," * 600 + "x\n", "file-too-large", "The header has 601 columns."),
    ("engine;" + "y" * 200_000 + "\n", "file-unreadable", "longer than 131,072 characters"),
]


@pytest.mark.parametrize(
    ("text", "code", "said"), FILES, ids=[f"{f[1]}-{i}" for i, f in enumerate(FILES)]
)
def test_a_file_that_cannot_be_read_is_a_finding(audited, text, code, said):
    _, _, audit = audited(text)
    f = found(audit, code)[0]
    assert f.file == "lives.csv"
    assert said in f.message
    assert audit.n_read == audit.n_used + audit.n_set_aside
    if f.severity == "error":
        assert not audit.ok


def test_a_mapped_column_that_is_not_there_is_named_with_the_nearest(audited):
    records = '\n[[records]]\nfile = "lives.csv"\n[records.columns]\nexit_hours = "Total tme"\n'
    _, _, audit = audited("engine,Total time,ending\nE,1,running\n", records=records)
    (f,) = found(audit, "column-missing")
    assert f.advice == "Did you mean 'Total time'?"
    assert audit.n_set_aside == 1


@pytest.mark.parametrize("records", ["", '[records.columns]\nexit_hours = "Flown"\n'])
def test_names_under_a_title_are_pointed_at(audited, records):
    records = f'\n[[records]]\nfile = "lives.csv"\n{records}'
    text = "Return of 2026,,\n\nengine,Flown,ending\nE,1,running\n"
    _, _, audit = audited(text, records=records)
    said = "Line 3 looks like the column names: state header_row = 3 for this file."
    assert all(said in f.advice for f in found(audit, "column-missing"))
    assert found(audit, "column-missing")
    _, _, plain = audited("engin,Flown,ending\nending,engine,E\n", records=records)
    assert not any("header_row" in f.advice for f in plain.findings)


def test_a_mapped_column_is_found_whatever_its_case_and_unit(audited):
    records = '\n[[records]]\nfile = "lives.csv"\n[records.columns]\nexit_hours = "zeit"\n'
    _, read, audit = audited("engine,Zeit [h],ending\nE,1.5,running\n", records=records)
    assert audit.ok
    assert read.rows[0].exit_h == 1.5


def test_a_file_with_too_many_rows_is_named(audited, monkeypatch):
    from fleetstats.tables import csv_table

    monkeypatch.setattr(csv_table, "MAX_ROWS", 3)
    text = "engine,exit_hours,ending\n" + "".join(f"E-{i},5,running\n" for i in range(5))
    _, _, audit = audited(text)
    (f,) = found(audit, "file-too-large")
    assert "more than 3 rows" in f.message
    assert f.row == 5


def test_the_files_own_words_are_mapped(audited):
    records = (
        '\n[[records]]\nfile = "lives.csv"\n'
        '[records.columns]\nexit_hours = "Betriebsstunden"\nengine = "Werknummer"\n'
        'ending = "Zustand"\ncause = "Ursache"\n'
        '[records.endings]\n"ausgefallen" = "failed"\n"in Betrieb" = "running"\n'
        '[records.causes]\n"Kolben" = "piston"\n'
    )
    text = (
        "Werknummer;Betriebsstunden;Zustand;Ursache\n"
        "M1;1.234,5;In Betrieb;\n"
        "M2;900;ausgefallen;Kolben\n"
    )
    _, read, audit = audited(text, records=records)
    assert audit.ok
    assert [(r.exit_h, r.ending, r.cause) for r in read.rows] == [
        (1234.5, "running", ""),
        (900.0, "failed", "piston"),
    ]


def test_an_unknown_kind_of_file_is_named(audited):
    _, _, audit = audited("x", name="lives.ods")
    assert "Files that end in '.ods' are not read." in audit.stops[0].message
    _, _, audit = audited("x", name="lives.xlsx")
    assert "not a workbook" in audit.stops[0].message
    _, _, audit = audited("x", name="lives.parquet")
    assert "not a readable Parquet file" in audit.stops[0].message
