"""The audit: duplicates, hours and dates against each other, the fleet as a whole, the account."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import pytest

from fleetstats.records.audit.fleet_counts import binomial_tail
from fleetstats.vocabulary.ids import normalise_id

HEAD = "engine,source,build,entry_hours,exit_hours,ending,cause,last_reading_date,ended_date\n"


def found(audit, code):
    return [f for f in audit.findings if f.code == code]


def test_ids_are_compared_without_the_differences_that_clerks_make():
    same = ("OT4-0122", "ot4 122", "OT4/0122", "OT4_122", "ＯＴ4－0122", " OT4.122 ")
    assert len({normalise_id(s) for s in same}) == 1
    assert normalise_id("1-11") != normalise_id("11-1")
    assert normalise_id("A10") != normalise_id("A1")
    assert normalise_id("A100") != normalise_id("A1")


def test_one_engine_under_two_spellings_is_one_and_said(audited):
    _, _, audit = audited(HEAD + "OT-07,,,,500,failed,piston,,\not 7,,,500,900,running,,,\n")
    (f,) = found(audit, "engine-respelt")
    assert "'OT-07', 'ot 7'" in f.message
    assert not found(audit, "duplicate-life")


def test_the_twin_that_knows_less_is_the_one_to_set_aside(audited):
    rows = (
        "E-1,club,,,500,running,,2025-01-01,\n"
        "E-1,club,,,620,failed,piston,,2025-06-01\n"
        "E-1,club,,,480,running,,2024-11-01,\n"
    )
    _, _, audit = audited(HEAD + rows, '[treat]\nduplicate-life = "set-aside"\n')
    twins = found(audit, "duplicate-life")
    assert sorted(f.row for f in twins) == [2, 4]
    assert [x.exit_h for x in audit.used] == [620.0]


def test_a_failure_outweighs_a_later_row_that_runs_on(audited):
    rows = "E-1,club,,,500,failed,piston,,2025-01-01\nE-1,club,,100,700,running,,2025-06-01,\n"
    _, _, audit = audited(HEAD + rows, '[treat]\nduplicate-life = "set-aside"\n')
    assert [f.row for f in found(audit, "duplicate-life")] == [3]
    assert [x.ending for x in audit.used] == ["failed"]


def test_a_covariate_that_no_row_gives_is_said_and_spoils_no_other(audited):
    rows = "engine,exit_hours,ending,boost\nE-1,500,running,40\nE-2,600,failed,42\n"
    _, _, audit = audited(rows, '[groups]\ncovariates = ["boost", "bost"]\n')
    (f,) = found(audit, "covariate-missing")
    assert (f.column, f.action) == ("bost", "accept")
    from fleetstats.chapters.covariates.compute import numbers_of

    assert list(numbers_of(audit.used, ("boost", "bost"))) == ["boost"]


def test_a_stale_reading_says_what_is_done_about_it(audited):
    rows = "E-1,,,,500,running,,2020-01-01,\n"
    (f,) = found(audited(HEAD + rows)[2], "reading-stale")
    assert f.advice.endswith("counts up to that reading and no further.")
    carried = audited(HEAD + rows, "[hours]\ncarry_to_analysis_date = true\n")[2]
    (f,) = found(carried, "reading-stale")
    assert "is carried to the analysis date" in f.advice


def test_rows_that_say_the_same_are_told_once_each(audited):
    rows = "E-1,,,,500,running,,2020-01-01,\nE-2,,,,400,running,,2020-01-01,\n"
    text = str(audited(HEAD + rows)[2])
    assert "row 2, column 'last_reading_date'" in text
    assert "Also row 3." in text


def test_lives_that_follow_each_other_are_no_duplicates(audited):
    rows = "E-1,,,,500,failed,piston,,\nE-1,,,500,900,running,,,\nE-1,,,900,950,running,,,\n"
    _, _, audit = audited(HEAD + rows)
    assert not found(audit, "duplicate-life")
    assert audit.ok


def test_an_engine_reported_in_two_files_is_found(audited):
    records = '\n[[records]]\nfile = "lives.csv"\n[[records]]\nfile = "b.csv"\n'
    _, _, audit = audited(
        HEAD + "E-1,,,,500,running,,,\n",
        "[merge]\nreturns = false\n",
        records=records,
        more={"b.csv": HEAD + "E 01,,,,510,running,,,\n"},
    )
    (f,) = found(audit, "duplicate-life")
    assert (f.file, f.row, f.related) == ("lives.csv", 2, ("b.csv row 2",))


def test_hours_that_fall_with_the_date_are_found(audited):
    rows = "E-1,,,,500,removed,sold,,2024-01-01\nE-1,,,,400,running,,2025-01-01,\n"
    _, _, audit = audited(HEAD + rows)
    (f,) = found(audit, "hours-backwards")
    assert "has 400 h on 2025-01-01 and had 500 h on 2024-01-01" in f.message
    assert f.row == 3


ALIKE = [
    ("E-1234,,,,1000,failed,piston,,2025-03-01", "E-1243,,,,1005,failed,piston,,2025-03-20", True),
    ("E-1234,,,,1000,failed,piston,,2025-03-01", "E-123,,,,1005,failed,piston,,2025-03-20", True),
    ("E-1234,,,,1000,failed,piston,,2025-03-01", "E-1235,,,,1005,failed,,,2025-03-20", True),
    ("E-1234,,,,1000,failed,piston,,2025-03-01", "E-9876,,,,1005,failed,piston,,2025-03-20", False),
    ("E-1234,,,,1000,failed,piston,,2025-03-01", "E-1243,,,,1100,failed,piston,,2025-03-20", False),
    ("E-1234,,,,1000,failed,piston,,2025-03-01", "E-1243,,,,1005,failed,piston,,2025-06-20", False),
    ("E-1234,,,,1000,failed,piston,,2025-03-01", "E-1243,,,,1005,failed,valve,,2025-03-20", False),
    ("E-1234,,A,,1000,failed,piston,,2025-03-01", "E-1243,,B,,1005,failed,piston,,", False),
    ("E-1234,,,,1000,failed,,,", "E-1243,,,,1005,failed,,,", False),
    # within 2 % of the greater hours, within 60 days
    ("E-1234,,,,1000,failed,piston,,", "E-1243,,,,1020.4,failed,piston,,", True),
    ("E-1234,,,,1000,failed,piston,,", "E-1243,,,,1020.5,failed,piston,,", False),
    ("E-1234,,,,1000,failed,piston,,2025-03-01", "E-1243,,,,1005,failed,piston,,2025-04-30", True),
    ("E-1234,,,,1000,failed,piston,,2025-03-01", "E-1243,,,,1005,failed,piston,,2025-05-01", False),
    ("E-1234,,,,1000,running,,,", "E-1243,,,,1005,running,,,", False),
    ("E-1234,,,,1000,removed,sold,,2025-03-01", "E-1243,,,,1005,removed,sold,,2025-03-20", False),
    ("E-1234,,,,1000,removed-finding,piston,,2025-03-01",
     "E-1243,,,,1005,failed,piston,,2025-03-20", True),
]  # fmt: skip


@pytest.mark.parametrize(("a", "b", "alike"), ALIKE)
def test_one_failure_reported_under_two_ids_is_a_candidate(audited, a, b, alike):
    """Serial near, hours within 2 %, dates within 60 days, cause the same."""
    _, _, audit = audited(HEAD + a + "\n" + b + "\n")
    pairs = found(audit, "possible-duplicate")
    assert bool(pairs) == alike
    if alike:
        assert pairs[0].related == ("lives.csv row 2",)
        assert audit.ok


def test_a_misspelt_cause_counts_as_the_declared_one_unless_its_digits_differ(audited):
    q = '[question]\ncauses = ["piston", "cylinder 1 head"]\n'
    rows = (
        "E-1,,,,500,failed,Pistn,,\nE-2,,,,500,failed,cylinder 2 head,,\n"
        "E-3,,,,500,failed,gudgeon,,\nE-4,,,,500,planned-overhaul,hours,,\n"
    )
    _, _, audit = audited(HEAD + rows, q)
    assert [f.value for f in found(audit, "cause-misspelt")] == ["Pistn"]
    assert [f.value for f in found(audit, "cause-undeclared")] == ["cylinder 2 head", "gudgeon"]
    assert [x.cause for x in audit.used] == ["piston", "cylinder 2 head", "gudgeon", "hours"]


def test_failures_without_a_cause_are_counted_once(audited):
    rows = "E-1,,,,500,failed,,,\nE-2,,,,510,failed,unknown,,\nE-3,,,,510,running,,,\n"
    _, _, audit = audited(HEAD + rows)
    (f,) = found(audit, "cause-missing")
    assert f.message == "2 failures or findings without a cause."
    rows = "E-1,,,,500,removed,,,\nE-2,,,,510,removed,sold,,\nE-3,,,,510,planned-overhaul,,,\n"
    _, _, audit = audited(HEAD + rows)
    (f,) = found(audit, "removal-unexplained")
    assert (f.severity, f.row) == ("note", 2)
    assert f.message.startswith("1 removal without a reason")


def test_rounded_hours_are_found_and_unrounded_are_not(audited):
    heaped = "".join(f"E-{i},,,,{50 * (2 * i + 1)},running,,,\n" for i in range(40))
    _, _, audit = audited(HEAD + heaped)
    (f,) = found(audit, "hours-heaped")
    assert "40 of the 40 readings" in f.message
    assert "multiples of 50 h; chance would have fewer than 1." in f.message
    even = "".join(f"E-{i},,,,{37 * (i + 1)},running,,,\n" for i in range(40))
    _, _, audit = audited(HEAD + even)
    assert not found(audit, "hours-heaped")
    few = "".join(f"E-{i},,,,{50 * (2 * i + 1)},running,,,\n" for i in range(10))
    _, _, audit = audited(HEAD + few)
    assert not found(audit, "hours-heaped")


@pytest.mark.parametrize(("hits", "n", "one_in"), [(3, 40, 50), (0, 5, 10), (12, 60, 10)])
def test_the_tail_of_chance_is_exact(hits, n, one_in):
    """Against the sum in whole fractions."""
    p = Fraction(1, one_in)
    exact = sum(comb(n, k) * p**k * (1 - p) ** (n - k) for k in range(hits, n + 1))
    assert binomial_tail(hits, n, 1 / one_in) == pytest.approx(float(exact), rel=1e-12)


def test_engines_built_that_nobody_reports_are_counted(audited):
    serials = "serial\nE-1\nE-2\nE-02\n\nE-4\n"
    settings = '[fleet]\nserials_file = "built.csv"\n'
    _, records, audit = audited(
        HEAD + "e1,,,,500,running,,,\nE-9,,,,510,running,,,\n",
        settings,
        more={"built.csv": serials},
    )
    assert records.serials == ("E-1", "E-2", "E-4")
    (f,) = found(audit, "fate-unknown")
    assert "2 of the 3 engines built are not in the records. Among them E-2, E-4." in f.message
    (f,) = found(audit, "serial-not-built")
    assert f.engine == "E-9"
    assert "1 repeat one" in found(audit, "serials-odd")[0].message


def test_a_list_of_serials_needs_no_header(audited):
    _, records, _ = audited(
        HEAD + "E-1,,,,500,running,,,\n",
        '[fleet]\nserials_file = "built.csv"\n',
        more={"built.csv": "E-1\nE-2\n"},
    )
    assert records.serials == ("E-1", "E-2")


def test_a_row_set_aside_still_tells_that_its_engine_is_known(audited):
    settings = '[fleet]\nbuilt = 3\n[treat]\nhours-unreadable = "set-aside"\n'
    _, _, audit = audited(HEAD + "E-1,,,,x,running,,,\nE-2,,,,5,running,,,\n", settings)
    (f,) = found(audit, "fate-unknown")
    assert f.value == "1"
    assert audit.n_set_aside == 1


def test_more_engines_than_were_built(audited):
    _, _, audit = audited(
        HEAD + "E-1,,,,5,running,,,\nE-2,,,,5,running,,,\n", "[fleet]\nbuilt = 1\n"
    )
    assert "hold 2 engines; fleet.built says 1" in found(audit, "more-than-built")[0].message
    assert not found(audit, "fate-unknown")


def test_running_engines_without_a_date_are_counted_per_file(audited):
    rows = "E-1,,,,5,running,,2025-12-01,\nE-2,,,,5,running,,,\n"
    _, _, audit = audited(HEAD + rows)
    assert found(audit, "reading-undated")[0].message.startswith("1 of the 2 running engines")


def test_the_account_adds_up_and_names_each_reason(audited):
    rows = (
        "E-1,,,,5,running,,,\n\nE-2,,,,x,running,,,\nE-3,,,,-1,running,,,\n"
        "E-4,,,,6,running,,,\nE-4,,,,6,running,,,\n"
    )
    _, _, audit = audited(HEAD + rows, '[treat]\nduplicate-row = "set-aside"\n')
    assert (audit.n_read, audit.n_used, audit.n_set_aside, audit.n_blank) == (5, 2, 3, 1)
    assert audit.reasons == {"hours-unreadable": 1, "hours-impossible": 1, "duplicate-row": 1}
    assert [s.row for s in audit.set_aside] == [4, 5, 7]
    assert not audit.ok
    assert audit.summary().startswith("5 rows read = 2 used + 3 set aside; 3 errors")
    assert "lives.csv row 4, column 'exit_hours': 'x' is not a number of hours." in str(audit)
    assert audit.to_dict()["reasons"] == audit.reasons
    assert list(audit.to_frame()["row"].dropna()) == [f.row for f in audit.findings if f.row]


def test_rows_with_the_same_finding_share_a_line(audited):
    rows = "".join(f"E-{i},,,,{i + 5},failed,gudgeon,,\n" for i in range(20))
    _, _, audit = audited(HEAD + rows, '[question]\ncauses = ["piston"]\n')
    assert len(found(audit, "cause-undeclared")) == 20
    lines = [x for x in str(audit).splitlines() if "gudgeon" in x]
    assert len(lines) == 1
    assert lines[0].startswith("  lives.csv row 2, column 'cause':")
    assert lines[0].endswith("Also rows 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14 and 7 more.")


def test_a_column_of_one_trouble_does_not_fill_the_screen(audited):
    rows = "".join(f"E-{i},,,,{i + 5},running,,2025-06-{i + 1:02d}x,\n" for i in range(25))
    _, _, audit = audited(HEAD + rows + "\n")
    assert len(found(audit, "date-unreadable")) == 25
    text = str(audit)
    assert "; 1 blank line besides" in text
    told = [x for x in text.splitlines() if "is not a date" in x or "like these" in x]
    assert len(told) == 6
    assert "'2025-06-05x'" in told[4]
    assert told[5] == (
        "  And 20 more like these, in rows 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18 and 8 more; "
        "with --json each is printed."
    )
    _, _, few = audited(HEAD + "".join(rows.splitlines(keepends=True)[:12]))
    assert str(few).count("is not a date") == 12


def test_two_sheets_of_one_workbook_are_accounted_for_apart(make_study, tmp_path):
    import openpyxl

    from fleetstats.records.audit.audit import audit_records
    from fleetstats.records.readers import read_records

    book = openpyxl.Workbook()
    for n, name in enumerate(("North", "South")):
        sheet = book.active if n == 0 else book.create_sheet()
        sheet.title = name
        sheet.append(["engine", "exit_hours", "ending"])
        sheet.append([f"{name}-1", 100, "running"])
        sheet.append([f"{name}-2", "?" if n else 200, "running"])
    book.save(tmp_path / "a.xlsx")
    records = '\n[[records]]\nfile = "lives.csv"\nsheet = "North"\n'
    records += '[[records]]\nfile = "lives.csv"\nsheet = "South"\n'
    study = make_study((tmp_path / "a.xlsx").read_bytes(), name="a.xlsx", records=records)
    audit = audit_records(study, read_records(study))
    assert [(a.sheet, a.n_read, a.n_used, a.n_set_aside) for a in audit.accounts] == [
        ("North", 2, 2, 0),
        ("South", 2, 1, 1),
    ]
    assert str(audit.stops[0]).startswith("a.xlsx [South] row 3, column 'exit_hours'")


def test_findings_on_a_log_name_its_own_columns(audited):
    log = (
        "engine,date,hours,kind\nA,2020-01-01,0,installed\nA,2020-01-03,300,reading\n"
        "B,2025-01-01,0,installed\nB,2026-08-01,80,reading\n"
    )
    records = '[[records]]\nfile = "lives.csv"\nshape = "log"\n'
    _, _, audit = audited(log, records=records)
    columns = {f.code: f.column for f in audit.findings}
    assert columns["hours-exceed-calendar"] == "hours"
    assert columns["reading-stale"] == columns["date-future"] == "date"
