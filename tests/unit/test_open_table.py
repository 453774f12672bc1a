"""Files of every kind become the same table, row for row."""

from __future__ import annotations

import datetime as dt
import io
import warnings
import zipfile

import openpyxl
import pandas as pd
import pytest

from fleetstats.core.limits import LIMITS, ReadingLimit
from fleetstats.tables.csv_table import read_csv
from fleetstats.tables.parquet_table import read_parquet
from fleetstats.tables.table import BadCell, TableError
from fleetstats.tables.xlsx_table import read_xlsx

TEXT = "engine;exit_hours;note\nÉ-1;812,4;Größe\nE-2;100;\n"


@pytest.mark.parametrize(
    "encoding",
    ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252"],
)
def test_every_common_encoding_gives_the_same_table(tmp_path, encoding):
    path = tmp_path / "a.csv"
    path.write_bytes(TEXT.encode(encoding))
    table = read_csv(path, "a.csv")
    assert table.header == ("engine", "exit_hours", "note")
    assert [(r.row, r.cells) for r in table.rows] == [
        (2, ("É-1", "812,4", "Größe")),
        (3, ("E-2", "100", "")),
    ]
    guessed = [f.code for f in table.findings]
    assert guessed == (["encoding-guessed"] if encoding == "cp1252" else [])


def test_a_stated_encoding_is_kept_to(tmp_path):
    path = tmp_path / "a.csv"
    path.write_bytes(TEXT.encode("cp437"))
    assert read_csv(path, "a.csv", encoding="cp437").rows[0].cells[0] == "É-1"
    with pytest.raises(TableError, match="not text in the encoding 'ascii'"):
        read_csv(path, "a.csv", encoding="ascii")


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_common_delimiter_and_line_end_is_found(tmp_path, mark, end):
    path = tmp_path / "a.csv"
    lines = [["engine", "hours", "note"], ["E-1", "10", "a b"], ["E-2", "20", ""]]
    path.write_bytes(end.join(mark.join(x) for x in lines).encode())
    table = read_csv(path, "a.csv")
    assert table.delimiter == mark
    assert [r.cells for r in table.rows] == [tuple(lines[1]), tuple(lines[2])]
    assert [r.row for r in table.rows] == [2, 3]


def test_commas_within_cells_do_not_win_over_semicolons(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("engine;hours;note\nE-1;12,5;a, b, c, d\nE-2;13,5;e, f\n", encoding="utf-8")
    assert read_csv(path, "a.csv").delimiter == ";"


def test_blank_lines_and_cells_of_many_lines_keep_the_numbers_right(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(
        '\n\nengine,hours,note\nE-1,1,"two\nlines"\n\n,,\nE-2,2,\n   \n', encoding="utf-8"
    )
    table = read_csv(path, "a.csv")
    assert table.header_row == 3
    assert [r.row for r in table.rows] == [4, 8 - 0]
    assert table.n_blank == 3
    assert table.rows[1].cells[0] == "E-2"


def test_a_header_further_down_is_taken_where_stated(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("Club returns 2025,,\nengine,hours,note\nE-1,1,\n", encoding="utf-8")
    table = read_csv(path, "a.csv", header_row=2)
    assert table.header == ("engine", "hours", "note")
    with pytest.raises(TableError, match="no header on line 9"):
        read_csv(path, "a.csv", header_row=9)


def test_rows_too_long_and_too_short_are_marked_not_mended(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("a,b,c\n1,2\n1,2,3,,\n1,2,3,4\n", encoding="utf-8")
    table = read_csv(path, "a.csv")
    assert table.short == {2: 2}
    assert table.long == {4: 4}
    assert [len(r.cells) for r in table.rows] == [3, 3, 3]


@pytest.fixture
def book(tmp_path):
    """Return a maker of workbooks: rows of cells, then anything done to the sheet."""

    def make(rows, change=None):
        wb = openpyxl.Workbook()
        ws = wb.active
        ws.title = "Returns"
        for r in rows:
            ws.append(r)
        if change:
            change(ws)
        path = tmp_path / "a.xlsx"
        wb.save(path)
        return path

    return make


def test_a_sheet_gives_values_as_they_are(book):
    day = dt.datetime(2024, 4, 3)
    path = book([
        ["engine", "hours", "on", "flown", "ok"],
        ["E-1", 812.4, day, dt.timedelta(hours=30, minutes=30), True],
        [None, None, None, None, None],
        [7, "812,4", None, None, None],
    ])  # fmt: skip
    table = read_xlsx(path, "a.xlsx")
    assert table.sheet == "Returns"
    assert [r.row for r in table.rows] == [2, 4]
    assert table.n_blank == 1
    assert table.rows[0].cells[:3] == ("E-1", 812.4, day)
    assert table.rows[0].cells[3] == dt.timedelta(hours=30, minutes=30)
    assert table.rows[1].cells[:2] == (7, "812,4")


def test_a_formula_never_calculated_is_no_blank(book):
    table = read_xlsx(book([["engine", "hours"], ["E-1", "=100+1"]]), "a.xlsx")
    cell = table.rows[0].cells[1]
    assert isinstance(cell, BadCell)
    assert cell.why == "A formula without a stored value stands"
    assert table.formulas == {2}


def test_a_formula_with_a_stored_value_gives_that_value(book, tmp_path):
    path = book([["engine", "hours"], ["E-1", "=100+1"]])
    out = io.BytesIO()
    with zipfile.ZipFile(path) as z, zipfile.ZipFile(out, "w") as w:
        for name in z.namelist():
            data = z.read(name)
            if name.endswith("sheet1.xml"):
                data = data.replace(b"<v></v>", b"<v>101</v>").replace(b"<v />", b"<v>101</v>")
            w.writestr(name, data)
    path.write_bytes(out.getvalue())
    table = read_xlsx(path, "a.xlsx")
    assert table.rows[0].cells[1] == 101
    assert table.formulas == {2}


def test_error_values_and_merged_cells_are_seen(book):
    def change(ws):
        ws["B3"].value = "#DIV/0!"
        ws["B3"].data_type = "e"
        ws.merge_cells("A4:A5")

    path = book([["engine", "hours"], ["E-1", 1], ["E-2", None], ["E-3", 3], ["E-4", 4]], change)
    table = read_xlsx(path, "a.xlsx")
    assert isinstance(table.rows[1].cells[1], BadCell)
    assert table.merged == {4, 5}


def test_the_named_sheet_is_read_or_the_nearest_named(book):
    path = book([["engine"], ["E-1"]])
    assert read_xlsx(path, "a.xlsx", sheet="Returns").rows[0].cells == ("E-1",)
    with pytest.raises(TableError) as e:
        read_xlsx(path, "a.xlsx", sheet="Return")
    assert e.value.finding.advice == "Did you mean 'Returns'?"


def test_a_sheet_with_a_cell_far_away_is_refused_not_filled(book):
    path = book([["engine"], ["E-1"]], lambda ws: ws.cell(row=900_000, column=400, value="x"))
    with pytest.raises(TableError, match="900,000 rows by 400 columns") as e:
        read_xlsx(path, "a.xlsx")
    assert e.value.finding.code == "file-too-large"


def test_an_archive_that_unpacks_too_large_is_not_unpacked(book, monkeypatch):
    low = ReadingLimit(value=1000, unit="bytes", reason="for this test")
    monkeypatch.setitem(LIMITS, "workbook_bytes", low)
    with pytest.raises(TableError, match="refused: it has"):
        read_xlsx(book([["engine"], ["E-1"]]), "a.xlsx")


@pytest.mark.parametrize("damage", ["cut", "zip", "xml"])
def test_a_damaged_workbook_is_named(book, tmp_path, damage):
    path = book([["engine"], ["E-1"]])
    data = path.read_bytes()
    if damage == "cut":
        path.write_bytes(data[: len(data) // 2])
    elif damage == "zip":
        with zipfile.ZipFile(path, "w") as z:
            z.writestr("x.txt", "x")
    else:
        out = io.BytesIO()
        with zipfile.ZipFile(io.BytesIO(data)) as z, zipfile.ZipFile(out, "w") as w:
            for name in z.namelist():
                w.writestr(name, b"<broken" if name.endswith("sheet1.xml") else z.read(name))
        path.write_bytes(out.getvalue())
    with pytest.raises(TableError) as e:
        read_xlsx(path, "a.xlsx")
    assert e.value.finding.code == "file-unreadable"


def test_an_empty_sheet_has_no_header(book):
    with pytest.raises(TableError, match="no header in the sheet"):
        read_xlsx(book([]), "a.xlsx")


def test_parquet_gives_values_and_counts_from_two(tmp_path):
    path = tmp_path / "a.parquet"
    frame = pd.DataFrame(
        {"engine": ["E-1", None, "E-3"], "hours": [1.5, None, 3.0], "on": [dt.date(2024, 4, 3)] * 3}
    )
    frame.loc[1, "on"] = None
    frame["tags"] = [["a"], None, None]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        frame.to_parquet(path)
    table = read_parquet(path, "a.parquet")
    assert table.header == ("engine", "hours", "on", "tags")
    assert [r.row for r in table.rows] == [2, 4]
    assert table.n_blank == 1
    assert table.rows[0].cells[:3] == ("E-1", 1.5, dt.date(2024, 4, 3))
    assert isinstance(table.rows[0].cells[3], BadCell)


def test_csv_workbook_and_parquet_of_one_fleet_read_alike(make_study, tmp_path):
    from fleetstats.records.readers import read_records

    frame = pd.DataFrame(
        {
            "engine": ["E-1", "E-2", "E-3"],
            "entry_hours": [None, 600.0, 0.0],
            "exit_hours": [812.4, 1180.0, 55.5],
            "ending": ["running", "found-at-check", "failed"],
            "last_reading_date": ["2025-06-01", "2025-06-02", None],
        }
    )
    frame.to_csv(tmp_path / "a.csv", index=False)
    frame.to_excel(tmp_path / "a.xlsx", index=False)
    frame.to_parquet(tmp_path / "a.parquet")
    told = []
    for name in ("a.csv", "a.xlsx", "a.parquet"):
        study = make_study((tmp_path / name).read_bytes(), name=name)
        rows = read_records(study).rows
        told.append([(r.engine, r.entry_h, r.exit_h, r.ending, r.last_reading, r.origin.row)
                     for r in rows])  # fmt: skip
    assert told[0] == told[1] == told[2]
    assert told[0][1] == ("E-2", 600.0, 1180.0, "found-at-check", dt.date(2025, 6, 2), 3)
