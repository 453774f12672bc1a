"""The report on paper: tagged, fonts embedded, names set as text, tables that fit."""

from __future__ import annotations

import re
import shutil
import subprocess
import zlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_document import make_document

from fleetstats.document.table_of import col, table_of
from fleetstats.report import pdf as pdf_module
from fleetstats.report.pdf import PADDING_PT, PAGE_PT, SIZES_PT, fit_columns, report_pdf


@pytest.fixture(scope="module")
def pdf() -> bytes:
    return report_pdf(make_document())


def streams(pdf: bytes) -> bytes:
    """Return the file with its compressed parts opened."""
    out = [pdf]
    for m in re.finditer(rb"stream\r?\n(.*?)\r?\nendstream", pdf, flags=re.DOTALL):
        try:
            out.append(zlib.decompress(m[1]))
        except zlib.error:
            continue
    return b"\n".join(out)


def test_it_is_tagged_has_a_language_and_claims_accessibility(pdf: bytes) -> None:
    whole = streams(pdf)
    assert pdf.startswith(b"%PDF-1.7")
    assert b"/StructTreeRoot" in whole
    assert b"/Marked true" in whole
    assert b"en-GB" in whole
    assert b"pdfuaid" in whole


def test_every_font_is_embedded(pdf: bytes) -> None:
    whole = streams(pdf)
    n_fonts = len(re.findall(rb"/FontDescriptor\b(?!\s*/)", whole))
    assert n_fonts
    described = re.findall(rb"/Type\s*/FontDescriptor.*?>>", whole, flags=re.DOTALL)
    assert described
    assert all(b"/FontFile" in d for d in described)


def test_no_clock_in_it(pdf: bytes) -> None:
    assert not re.search(rb"D:20\d\d", streams(pdf))


def test_names_from_outside_are_set_as_text(pdf: bytes, tmp_path: Path) -> None:
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed, so the words on the pages cannot be read")
    (tmp_path / "r.pdf").write_bytes(pdf)
    text = subprocess.run(
        ["pdftotext", "-layout", str(tmp_path / "r.pdf"), "-"], check=True, capture_output=True
    ).stdout.decode()
    flat = " ".join(text.split())
    assert '<script>alert("x")</script> & $x_1$ =1+1' in flat
    assert "This is a statistical summary" in flat
    assert "Contents" in flat
    assert flat.count("data version") >= flat.count("\f")
    for word in ("Not yet shown", "For the club", "Terms in plain words"):
        assert word in flat


cells = st.lists(
    st.lists(st.text("abcdefgh ", max_size=60), min_size=2, max_size=4), min_size=1, max_size=12
)


@given(cells)
def test_columns_fit_the_page(texts: list[list[str]]) -> None:
    size, widths = fit_columns(texts)
    assert size in SIZES_PT
    assert len(widths) == len(texts)
    assert sum(widths) <= PAGE_PT + 0.01 * len(widths)
    assert all(w == 0.0 for w in widths) or all(w >= PADDING_PT for w in widths)


def test_a_table_too_wide_for_paper_says_what_is_left_out() -> None:
    """Twenty columns of five letters: fourteen are printed, and the note says so."""
    from fleetstats.document.document import Column, Table
    from fleetstats.report.pdf import COLUMNS_PRINTED, _table

    table = Table(
        key="wide",
        title="Wide",
        columns=tuple(Column(key=f"c{j}", title=f"Col {j}") for j in range(20)),
        rows=tuple(tuple(f"{i}-{j}" for j in range(20)) for i in range(3)),
    )
    told = _table(table)
    assert len(told["columns"]) == len(told["rows"][0]) == len(told["widths"]) == COLUMNS_PRINTED
    assert told["cut"].strip() == "The first 14 of 20 columns are printed."
    assert told["size"] == SIZES_PT[0]


def test_names_break_at_their_joints_and_count_as_their_parts() -> None:
    from fleetstats.report.pdf import _breakable

    assert _breakable("question.censoring_causes").split("\u200b") == [
        "question.", "censoring_", "causes"
    ]  # fmt: skip
    assert _breakable("short-name") == "short-name"
    assert _breakable("1,200.5 h to 2026-09-30") == "1,200.5 h to 2026-09-30"
    # a column of parts may be narrower than one of whole names, so the long text gets more room
    texts = ["x " * 150] * 3
    _, whole = fit_columns([["question.censoring_causes"] * 3, texts])
    _, parts = fit_columns([[_breakable("question.censoring_causes")] * 3, texts])
    assert parts[1] > whole[1]


def test_room_goes_to_the_column_whose_texts_are_long_on_average() -> None:
    """One cell of 200 letters among twenty blanks, beside twenty cells of 100 letters."""
    one = ["head", "a " * 100, *[""] * 19]
    all_long = ["head", *["b " * 50] * 20]
    _, widths = fit_columns([one, all_long])
    assert widths[1] > 1.5 * widths[0]


@pytest.mark.parametrize("uncut", [True, False])
def test_a_table_of_choices_is_printed_whole(uncut: bool) -> None:
    """A hundred maps of a club's words are a hundred choices; none may be missing on paper."""
    table = table_of(
        range(100),
        key="many",
        title="Many",
        columns=(col("n", "N", str), col("x", "X", str)),
        uncut=uncut,
    )
    printed = pdf_module._table(table)
    assert len(printed["rows"]) == (100 if uncut else pdf_module.ROWS_PRINTED)
    assert bool(printed["cut"]) is not uncut
