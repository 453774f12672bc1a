"""Data files: numbers stay numbers, formulas become text, bytes repeat."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_document import curve_figure, evil_table, make_document

from fleetstats.document.cells import drop_empty, format_cell, neutral_text, set_text, table_width
from fleetstats.document.document import Column, Table
from fleetstats.report.json import document_json, script_json
from fleetstats.report.tables import all_csv, figure_csv, table_csv, tables_xlsx
from fleetstats.vocabulary.caution import STANDING_NOTICE


def rows(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text)))


def test_cells_that_look_like_formulas_are_neutralised_and_numbers_are_not() -> None:
    body = rows(table_csv(evil_table()))[1:]
    texts = [r[0] for r in body]
    assert texts[1:7] == ["'=HYPERLINK(1)", "'+1", "'-1", "'@sum", "'\t=1", "'  =1"]
    assert texts[7] == "plain"
    assert [r[1] for r in body] == ["1.5", "-2", "0", "", "inf", "3", "1e-09", ""]


@given(st.text(max_size=12))
def test_no_text_starts_as_a_formula(text: str) -> None:
    out = neutral_text(text)
    assert not out.lstrip().startswith(("=", "+", "-", "@", "\t", "\r", "＝", "＋", "－", "＠"))
    assert not any(ord(c) < 32 and c not in "\t\n\r" for c in out)


def test_the_workbook_holds_no_formula_and_keeps_numbers() -> None:
    import openpyxl

    doc = make_document()
    data = tables_xlsx(doc)
    assert data == tables_xlsx(doc)
    book = openpyxl.load_workbook(io.BytesIO(data))
    assert book.sheetnames[0] == "Contents"
    assert set(book.sheetnames[1:]) == {"claim-box", "engines", "evil"}
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                if isinstance(cell.value, str):
                    assert not cell.value.lstrip().startswith(("=", "+", "-", "@"))
    front = [c.value for c in book["Contents"]["A"]]
    assert set(STANDING_NOTICE) <= set(front)
    assert book["engines"]["C2"].value == 100
    assert book["engines"]["D3"].value is None
    assert book.properties.modified.year == 2000


def test_each_table_and_figure_has_its_file_and_a_codebook_explains_them() -> None:
    files = all_csv(make_document())
    assert set(files) == {
        "tables/claim-box.csv", "tables/engines.csv", "tables/evil.csv", "tables/columns.csv",
        "figures/survival.csv", "figures/other.csv"}  # fmt: skip
    book = rows(files["tables/columns.csv"])
    assert ["engines", "Every engine", "chance", "Chance", "percent", "share, 0 to 1"] in [
        r[:6] for r in book
    ]


@pytest.mark.parametrize(
    ("value", "edge", "shown"),
    [(0.1772, "", "18 %"), (0.1712, "high", "18 %"), (0.1772, "low", "17 %"),
     (0.9154, "high", "91.6 %"), (0.9154, "low", "91.5 %")],
)  # fmt: skip
def test_edges_of_bands_are_rounded_as_sentences_round_them(
    value: float, edge: str, shown: str
) -> None:
    """A table that says 17 % beside a sentence that says "at most 18 %" would be doubted."""
    assert format_cell(value, "percent", edge) == shown


def test_a_column_without_a_word_is_not_shown_but_kept_in_the_data() -> None:
    columns = (Column(key="a", title="A"), Column(key="n", title="Note"),
               Column(key="x", title="X", kind="hours"))  # fmt: skip
    table = Table(key="t", title="T", columns=columns, rows=(("p", "", None), ("q", None, None)))
    assert [c.key for c in drop_empty(table).columns] == ["a", "x"]
    assert drop_empty(table).rows == (("p", None), ("q", None))
    assert rows(table_csv(table))[0] == ["a", "n", "x"]
    noted = dataclasses.replace(table, rows=(("p", "", None), ("q", "seen", None)))
    assert drop_empty(noted) is noted


def test_data_of_a_figure_say_what_is_extrapolation() -> None:
    body = [r for r in rows(figure_csv(curve_figure())) if r[1] == "fit"]
    assert body
    for r in body:
        assert r[10] == ("yes" if float(r[5]) > 1450.0 else "")


def test_the_report_as_json_is_strict_sorted_and_carries_the_notice() -> None:
    text = document_json(make_document())
    assert text == document_json(make_document())

    def refuse(word: str) -> float:
        raise AssertionError(word)

    data = json.loads(text, parse_constant=refuse)
    assert data["standing_notice"]
    assert list(data) == sorted(data)


@given(st.text())
def test_no_way_out_of_a_script_element(text: str) -> None:
    out = script_json({"a": text})
    assert "<" not in out
    assert ">" not in out
    assert json.loads(out) == {"a": text}


@pytest.mark.parametrize(
    ("value", "kind", "shown"),
    [
        (None, "hours", "–"),
        (math.nan, "percent", "–"),
        (math.inf, "hours", "no limit"),
        (1234.4, "hours", "1,234"),
        (3.14159, "hours", "3.1"),
        (0.0234, "percent", "2.3 %"),
        (-0.05, "percent", "−5 %"),
        (0.0512, "percent", "5.1 %"),
        (12.0, "count", "12"),
        (12.5, "count", "12.5"),
        (1234567.0, "money", "1,234,567"),
        (2026, "number", "2026"),
        (-1.5, "number", "−1.50"),
        (0.00536, "number", "0.0054"),
        (0.118, "number", "0.12"),
        (20.0, "number", "20"),
        (1e-9, "percent", "< 0.0001 %"),
        (True, "text", "yes"),
        ("x", "number", "x"),
    ],
)
def test_cells_as_a_reader_sees_them(value: object, kind: str, shown: str) -> None:
    assert format_cell(value, kind) == shown  # type: ignore[arg-type]


def test_a_number_stays_with_its_unit() -> None:
    assert set_text("at 1,200 h and 5 % here") == "at 1,200\u00a0h and 5\u00a0% here"
    assert set_text("12 hours") == "12 hours"


def test_an_unknown_kind_of_column_is_refused() -> None:
    from fleetstats.core.errors import ReportError

    with pytest.raises(ReportError, match="unknown kind of column 'x'"):
        format_cell(1.0, Column(key="a", title="", kind="x").kind)


def test_the_width_of_a_table_follows_heads_and_cells() -> None:
    """By hand: figures keep one line, long texts break at 14 letters, heads between words."""
    table = Table(
        key="t",
        title="t",
        columns=(
            Column(key="a", title="Engine"),
            Column(key="b", title="Hours between checks", kind="hours"),
            Column(key="c", title="Why"),
        ),
        rows=(
            ("E-1", 1234567.0, "a sentence that may well break between its words"),
            ("E-22", 3.0, "short"),
        ),
    )
    # "Engine" + 2 and "1,234,567" are 8 and 9, but the head "between" + 2 is 9 too; 14 for the text
    assert table_width(table) == (8 + 3) + (9 + 3) + (14 + 3)


def test_every_reason_of_a_row_set_aside_has_words() -> None:
    from fleetstats.vocabulary.findings import FINDINGS, meaning_of

    assert meaning_of("merged").endswith("merged.")
    assert all(meaning_of(code).endswith(".") for code in FINDINGS)
    assert meaning_of("cannot have the defect") == ""
