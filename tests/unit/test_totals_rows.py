"""Totals, signatures and blank lines with a sum are no engines; honest rows stay.

Words and tables are made up; what a club's sheet ends with is common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from fleetstats.core.errors import RecordError
from fleetstats.records.rows.totals import ColumnSums
from fleetstats.spells.bulk.bulk import build_bulk
from fleetstats.vocabulary.totals import (
    SIGNED_WORDS,
    SUMMARY_WORDS,
    TOTAL_WORDS,
    pattern_of_totals,
    reads_as_total,
)

HEAD = "engine,exit_hours,ending,note\n"
HOURS = [412.3, 97.1, 640.0, 1203.7, 880.2, 333.3, 75.9]
ROWS = "".join(f"K6-{k + 101},{h},running,\n" for k, h in enumerate(HOURS))
SUM = f"{sum(HOURS):.1f}"
AS_LOG = '\n[[records]]\nfile = "lives.csv"\nshape = "log"\n'


def codes(audit):
    return [f.code for f in audit.findings if f.severity != "note"]


@pytest.mark.parametrize(
    "text",
    [
        "Total", "TOTAL:", "Totals", "Grand total", "Sub-total", "sub total North", "Summe",
        "Zwischensumme Nord", "Gesamt:", "Übertrag", "Σωστό total", "Sous-total", "Somme",
        "Totale ore", "Suma", "Subtotaal", "Delsumma", "Razem", "Celkem", "Yhteensä", "i alt",
        "Average", "Mean hours per engine", "Mittelwert", "Moyenne", "27 engines", "1.250 Motoren",
        "27 engines.", "Total 27", "Total: 27 engines", "Number of engines", "Anzahl",
        "Signed: J. Smith", "signed J. Smith 12.3.2024", "gez. Müller", "Unterschrift",
        "Approved by the board", "J. Smith, Secretary", "End of list",
    ],
)  # fmt: skip
def test_texts_that_are_no_serial(text):
    assert reads_as_total(text)


@pytest.mark.parametrize(
    "text",
    [
        "", "K6-0274", "E-101", "27", "4417", "SUM-0123", "sum12", "TOTAL-7", "Total/7", "7total",
        "Mean Machine", "Average Joe", "Maria", "Smith", "Signal 3", "Count Basie", "D-EGES",
        "Media-4", "Presidential", "Secretary 2", "27 Squadron", "SOMA3", "E 101", "x" * 100,
        "total " * 30,
    ],
)  # fmt: skip
def test_texts_that_may_be_serials(text):
    assert not reads_as_total(text)


@pytest.mark.parametrize("word", [*TOTAL_WORDS, *SIGNED_WORDS, *SUMMARY_WORDS])
def test_every_word_of_the_list_is_found_alone_and_by_columns(word):
    import re

    assert reads_as_total(word)
    assert reads_as_total(f" {word.upper()}: ")
    if word.isascii():
        assert re.search(pattern_of_totals(), f"{word}:")


@pytest.mark.parametrize(
    ("line", "n"),
    [
        (f"Total:,{SUM},,\n", 1),
        ("27 engines,,,\n", 1),
        ("Signed: J. Smith,,,\n", 1),
        (f",{SUM},,\n", 1),
        (f",{SUM},,Total\n", 1),
        (",,,Total hours of all\n", 1),
        (",,,Signed J. Smith\n", 1),
        (f"club North,{SUM},,total\n", 1),
        (f"Subtotal,{SUM},,\nX-1,10,running,\nX-2,20.5,running,\n,30.5,,\nSumme,999,running,\n", 3),
        ("Total,250000,running,\n", 1),
    ],
)
def test_lines_that_are_no_engine_are_set_aside_with_their_reason(audited, line, n):
    _, records, audit = audited(HEAD + ROWS + line)
    assert codes(audit) == ["totals-row"] * n
    assert audit.ok
    assert audit.reasons == {"totals-row": n}
    assert audit.n_read == audit.n_used + audit.n_set_aside == 7 + line.count("\n")
    # nobody counts them as engines
    assert len(records.readings[0].engines) == audit.n_used


@pytest.mark.parametrize(
    ("line", "code"),
    [
        # a missing id or an unknown ending is said as ever
        (",500,running,\n", "engine-missing"),
        (",500,,\n", "engine-missing"),
        (f",{SUM},failed,\n", "engine-missing"),
        (f",{SUM},running,\n", "engine-missing"),
        # a word in a note makes no total of hours that are no sum
        ("K6-200,500,,total time of the log\n", "ending-missing"),
        # a failure is never lost to a word
        ("Total loss,500,failed,\n", "totals-row-failed"),
        ("Signed off,500,found-at-check,\n", "totals-row-failed"),
    ],
)
def test_what_may_be_a_life_stops_the_study(audited, line, code):
    _, _, audit = audited(HEAD + ROWS + line)
    assert code in codes(audit)
    assert "totals-row" not in codes(audit)
    assert not audit.ok


def test_a_serial_and_a_word_elsewhere_need_a_sum_of_three(audited):
    two = HEAD + "A,100,running,\nB,200,running,\nC,300,,total\n"
    assert codes(audited(two)[2]) == ["ending-missing"]
    three = HEAD + "A,100,running,\nB,200,running,\nD,50,running,\nC,350,,total\n"
    assert codes(audited(three)[2]) == ["totals-row"]


def test_a_failure_under_a_word_is_used_when_the_study_says_so(audited):
    rows = HEAD + ROWS + "Total loss,500,failed,\n"
    _, _, audit = audited(rows, '[treat]\ntotals-row-failed = "accept"\n')
    assert audit.ok
    assert audit.n_used == 8
    _, _, audit = audited(rows, '[treat]\ntotals-row-failed = "set-aside"\n')
    assert audit.reasons == {"totals-row-failed": 1}


@pytest.mark.parametrize(
    "rows",
    [
        # hours that happen to be the sum of a few others, with a serial
        "A,100,running,\nB,200,running,\nC,300,running,\n",
        "A,100,running,\nB,150,running,\nC,90,running,\nD,340,running,\n",
        # of many, but among other lives as long
        "".join(f"E-{k},100,running,\n" for k in range(6)) + "E-9,600,running,\nF,400,running,\n",
        "F,310,running,\n" + "".join(f"E-{k},50,running,\n" for k in range(5)) + "G,560,running,\n",
        # one that others say of it is no total
        "A,100,running,total time unknown\nB,200,running,checked by the club\n",
        "A,100,running,\nB,200,running,\nC,300,running,total time from the log\n",
    ],
)
def test_honest_rows_stay(audited, rows):
    _, _, audit = audited(HEAD + rows)
    assert codes(audit) == []
    assert audit.n_used == rows.count("\n")


def test_a_serial_with_the_sum_of_many_rows_far_above_all_others_stops(audited):
    rows = HEAD + ROWS + f"K6-999,{SUM},running,\n"
    _, _, audit = audited(rows)
    assert [f.code for f in audit.stops] == ["sum-of-rows"]
    assert f"{sum(HOURS):,.1f} h are the sum of the 7 rows above" in audit.stops[0].message
    _, _, audit = audited(rows, '[treat]\nsum-of-rows = "set-aside"\n')
    assert audit.ok
    assert audit.reasons == {"sum-of-rows": 1}
    _, _, audit = audited(rows, '[treat]\nsum-of-rows = "accept"\n')
    assert audit.n_used == 8
    # a tenth of an hour off is no sum, and a longer life below it makes it no outlier
    _, _, audit = audited(HEAD + ROWS + f"K6-999,{sum(HOURS) + 0.1:.1f},running,\n")
    assert "sum-of-rows" not in codes(audit)
    _, _, audit = audited(rows + "K6-998,1900,running,\n")
    assert "sum-of-rows" not in codes(audit)


def test_totals_and_signatures_of_a_log(audited):
    log = (
        "engine,date,hours,kind,note\nA,2020-01-01,0,installed,\nA,2025-11-01,400,reading,\n"
        "B,2020-01-01,0,installed,\nB,2025-11-01,333.5,reading,\n"
    )
    more = ",,733.5,,\nTotal:,,733.5,reading,\n,,,,Signed: J. Smith\n"
    _, records, audit = audited(log + more, records=AS_LOG)
    assert codes(audit) == ["totals-row"] * 3
    assert audit.n_read == 7 == audit.n_used + 3
    assert {x.engine for x in audit.used} == {"A", "B"} == set(records.readings[0].engines)
    _, _, audit = audited(log + "Total loss,2021-05-01,120,failed,\n", records=AS_LOG)
    assert "totals-row-failed" in [f.code for f in audit.stops]
    treat = '[treat]\ntotals-row-failed = "set-aside"\n'
    _, _, audit = audited(log + "Total loss,2021-05-01,120,failed,\n", treat, records=AS_LOG)
    assert audit.ok
    assert audit.reasons == {"totals-row-failed": 1}


@pytest.mark.parametrize(
    "tail",
    [
        f"Total:,{SUM},,\n", f",{SUM},,\n", "27 engines,,,\n", f"K6-999,{SUM},running,\n",
        "Total loss,500,failed,\n", f",,,Signed\nclub,{SUM},,total\n", "Übertrag,5,,\n",
        '"1,500 h of all",,,\n' + f'Total,"{SUM}",running,\n',
    ],
)  # fmt: skip
@pytest.mark.parametrize("action", ["set-aside", "accept"])
def test_by_chunks_as_by_rows(audited, monkeypatch, tail, action):
    from fleetstats.tables import csv_chunks

    monkeypatch.setattr(csv_chunks, "BLOCK", 60)  # a total and its rows in several chunks
    treat = "".join(
        f'{c} = "{action}"\n' for c in ("totals-row-failed", "sum-of-rows", "hours-far")
    )
    treat += 'hours-missing = "set-aside"\nending-missing = "set-aside"\n'
    study, _, audit = audited(HEAD + ROWS + tail, "[merge]\nreturns = false\n[treat]\n" + treat)
    bulk = build_bulk(study)
    assert bulk.reasons == audit.reasons
    assert (bulk.n_read, bulk.n_used) == (audit.n_read, audit.n_used)
    seen = {f.code for f in audit.findings} - {"copied-life", "ids-alike"}
    assert set(bulk.counts) == seen
    assert bulk.engines == len({x.engine_id for x in audit.used}) + sum(
        n for code, n in audit.reasons.items() if code in ("totals-row-failed", "sum-of-rows")
    ) + ("1,500 h" in tail)


def test_by_chunks_a_sum_stops_too(make_study):
    study = make_study(HEAD + ROWS + f"K6-999,{SUM},running,\n", "[merge]\nreturns = false\n")
    with pytest.raises(RecordError, match="sum-of-rows"):
        build_bulk(study)


def test_a_column_walked_in_parts_is_walked_whole():
    """By hand: 7 is the sum of 1, 2 and 4; 9 of 4 and 5 since then; 16 of all five."""
    column = np.array([1.0, 2.0, 4.0, 7.0, 4.0, 5.0, 9.0, 16.0, np.nan, 7.0])
    none = np.zeros(len(column), dtype=bool)

    def total(_: int, n: int) -> str:
        return "sum" if n else ""

    whole = ColumnSums().walk(column, none, total)
    assert {k: line.n for k, line in whole.items()} == {3: 3, 6: 2, 7: 5}
    for cut in range(1, len(column)):
        sums = ColumnSums()
        first = sums.walk(column[:cut], none[:cut], total)
        second = sums.walk(column[cut:], none[cut:], total)
        assert first | {i + cut: x for i, x in second.items()} == whole


def test_no_line_of_the_demos_is_taken_for_a_total():
    from fleetstats.records.audit.audit import audit_records
    from fleetstats.records.readers import read_records
    from fleetstats.study.study import read_study
    from fleetstats.vocabulary.findings.doubtful import DOUBTFUL

    ours = {e.code for e in DOUBTFUL}
    for folder in sorted((Path(__file__).parents[2] / "datasets").iterdir()):
        study = read_study(folder)
        found = audit_records(study, read_records(study)).findings
        assert not [str(f) for f in found if f.code in ours]
