"""The workbook for members: what it offers, and that what comes back is read."""

import datetime as dt
import warnings

import pytest

from fleetstats.core.errors import ReadError, SettingError
from fleetstats.records.check_return import check_return
from fleetstats.records.template_xlsx import SHEETS, write_return_template
from fleetstats.vocabulary.endings import ENDINGS
from fleetstats.vocabulary.events import KINDS

ON = dt.date(2026, 11, 25)


def load(path):
    from openpyxl import load_workbook

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return load_workbook(path)


def fill(path, rows, *, sheet="Engines", start=3):
    """Write rows, dictionaries by our names, below the example."""
    book = load(path)
    ws = book[sheet]
    heads = [str(c.value).split(" [")[0].lower().replace(" ", "_") for c in ws[1]]
    for i, row in enumerate(rows):
        for name, value in row.items():
            ws.cell(row=start + i, column=heads.index(name) + 1, value=value)
    book.save(path)
    return path


@pytest.mark.parametrize(("shape", "words"), [("lives", ENDINGS), ("log", KINDS)])
def test_the_template_offers_our_words_and_explains_each_column(tmp_path, shape, words):
    path = write_return_template(tmp_path / "r.xlsx", shape=shape, builds=("B1", "=B2"))
    book = load(path)
    assert book.sheetnames == [SHEETS[shape], "Read me", "Lists"]
    ws = book[SHEETS[shape]]
    assert book.active.title == "Read me"
    assert book["Lists"].sheet_state == "hidden"
    assert all(c.comment is not None and len(c.comment.text) > 10 for c in ws[1])
    lists = {}
    for column in book["Lists"].iter_cols(values_only=True):
        lists[column[0]] = [v for v in column[1:] if v is not None]
    assert lists["ending" if shape == "lives" else "kind"] == list(words)
    assert lists["build"] == ["B1", "=B2"]
    assert all(c.data_type == "s" for row in book["Lists"].iter_rows() for c in row if c.value)
    rules = [r for r in ws.data_validations.dataValidation if r.type == "list"]
    assert len(rules) == len(lists)
    assert {r.formula1.split("$")[1] for r in rules} == {
        c[0].column_letter for c in book["Lists"].iter_cols()
    }


def test_an_unfilled_template_has_one_row_and_it_is_not_counted(tmp_path):
    for shape in SHEETS:
        path = write_return_template(tmp_path / f"{shape}.xlsx", shape=shape)
        audit = check_return(path, on=ON)
        assert (audit.n_read, audit.n_used, audit.n_set_aside) == (1, 0, 1)
        assert list(audit.reasons) == ["example-row" if shape == "lives" else "log-example-row"]
        assert audit.ok
        assert {f.severity for f in audit.findings} <= {"note"}


def test_a_filled_template_is_read_without_any_mapping(tmp_path):
    path = fill(
        write_return_template(tmp_path / "r.xlsx"),
        [
            {"engine": "E-1", "exit_hours": 812.5, "ending": "running", "meter": "tach",
             "in_service_date": dt.date(2019, 4, 1), "last_reading_date": dt.date(2026, 10, 1)},
            {"engine": "E-2", "entry_hours": 600, "exit_hours": 1180, "ending": "failed",
             "cause": "gears", "confirmed": "yes", "ended_date": dt.date(2025, 5, 1)},
            {"engine": "E-3", "build": "B1", "exit_hours": 900, "ending": "running",
             "modified_at_hours": 500, "modified_to": "B2",
             "last_reading_date": dt.date(2026, 9, 1)},
        ],
    )  # fmt: skip
    audit = check_return(path, on=ON)
    assert audit.ok
    assert (audit.n_read, audit.n_used) == (4, 3)
    a, b, c = audit.used
    assert (a.exit_h, a.meter, a.in_service) == (812.5, "tach", dt.date(2019, 4, 1))
    assert (b.entry_h, b.ending, b.cause, b.confirmed) == (600, "failed", "gears", True)
    assert (c.modified_h, c.build_after) == (500, "B2")


def test_a_log_return_is_told_by_its_sheet(tmp_path):
    path = fill(
        write_return_template(tmp_path / "r.xlsx", shape="log"),
        [
            {"engine": "E-1", "date": dt.date(2020, 1, 1), "hours": 0, "kind": "installed"},
            {"engine": "E-1", "date": dt.date(2024, 1, 1), "hours": 700, "kind": "reading"},
            {"engine": "E-1", "date": dt.date(2025, 1, 1), "hours": 650, "kind": "reading"},
        ],
        sheet="Events",
    )
    audit = check_return(path, on=ON)
    assert [f.code for f in audit.stops] == ["log-hours-backwards"]
    assert audit.stops[0].row == 5
    assert (audit.n_read, audit.n_used, audit.n_set_aside) == (4, 2, 2)


def test_a_member_sees_what_is_wrong_and_where(tmp_path):
    path = fill(
        write_return_template(tmp_path / "r.xlsx"),
        [
            {"engine": "E-1", "exit_hours": "many", "ending": "running"},
            {"engine": "E-2", "entry_hours": 900, "exit_hours": 800, "ending": "running"},
            {"engine": "E-3", "exit_hours": 800, "ending": "fine"},
        ],
    )
    audit = check_return(path, on=ON)
    codes = {f.row: f.code for f in audit.stops}
    assert codes == {3: "hours-unreadable", 4: "exit-before-entry", 5: "ending-unknown"}


def test_what_cannot_be_written_or_found_is_said(tmp_path):
    with pytest.raises(SettingError, match="lives, log"):
        write_return_template(tmp_path / "r.xlsx", shape="diary")
    with pytest.raises(SettingError, match="xlsx"):
        write_return_template(tmp_path / "r.csv")
    with pytest.raises(ReadError, match="no file"):
        check_return(tmp_path / "none.xlsx")
    broken = tmp_path / "broken.xlsx"
    broken.write_bytes(b"PK\x03\x04 nothing")
    assert [f.code for f in check_return(broken, on=ON).stops] == ["file-unreadable"]


def test_a_plain_table_can_be_checked_too(tmp_path):
    path = tmp_path / "club.csv"
    path.write_text("engine,hours,status\nE-1,800,running\n", encoding="utf-8")
    audit = check_return(path, on=ON)
    assert audit.n_used == 1
