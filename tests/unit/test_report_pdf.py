"""The report on paper: tagged, fonts embedded, names set as text, tables that fit."""

from __future__ import annotations

import dataclasses
import re
import shutil
import subprocess
import zlib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_document import make_document

from fleetstats.document.document import Column, Pointer, Statement, Table
from fleetstats.document.table_of import col, table_of
from fleetstats.report import pdf as pdf_module
from fleetstats.report.pdf import (
    COLUMNS_PRINTED,
    PADDING_PT,
    PAGE_PT,
    SIZES_PT,
    fit_columns,
    report_pdf,
)


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


def printed_table(table: Table) -> dict[str, Any]:
    return pdf_module._Paper({}, ()).table(table)


@pytest.mark.parametrize("n", [15, 20, 27, 28, 41])
def test_a_table_too_wide_for_paper_is_printed_in_parts(n: int) -> None:
    """No column is lost: each stands in one part, and the first of the table begins each part."""
    table = Table(
        key="wide",
        title="Wide",
        columns=tuple(Column(key=f"c{j}", title=f"Col {j}") for j in range(n)),
        rows=tuple(tuple(f"{i}-{j}" for j in range(n)) for i in range(3)),
    )
    told = printed_table(table)
    heads = [[c["title"] for c in part["columns"]] for part in told["parts"]]
    assert all(h[0] == "Col 0" and len(h) <= COLUMNS_PRINTED for h in heads)
    assert [h for part in heads for h in part[1:]] == [f"Col {j}" for j in range(1, n)]
    for part, head in zip(told["parts"], heads, strict=True):
        assert len(part["widths"]) == len(head)
        for i, row in enumerate(part["rows"]):
            assert [c["text"] for c in row] == [f"{i}-{h.removeprefix('Col ')}" for h in head]
    assert told["cut"] == ""


def test_a_pointer_on_paper_is_a_link(tmp_path: Path) -> None:
    """The words lead to the place of the heading; what is around them is plain text."""
    words, anchor = "“Every engine” (Annex A)", "table-engines"
    paper = pdf_module._Paper({}, (Pointer(words=words, key="engines", anchor=anchor),))
    told = paper.block(Statement(text=f"See {words}, then “another”."))
    assert told["text"] == [
        {"text": "See ", "to": ""},
        {"text": words, "to": anchor},
        {"text": ", then “another”.", "to": ""},
    ]
    document = make_document()
    plain = len(re.findall(rb"/Subtype\s*/Link", streams(report_pdf(document))))
    first, *others = document.sections
    said = Statement(text=f"See {words}.")
    document = dataclasses.replace(
        document,
        sections=(dataclasses.replace(first, blocks=(said, *first.blocks)), *others),
        pointers=(Pointer(words=words, key=first.key, anchor=first.key),),
    )
    linked = len(re.findall(rb"/Subtype\s*/Link", streams(report_pdf(document))))
    assert linked > plain


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
    printed = printed_table(table)
    assert len(printed["parts"][0]["rows"]) == (100 if uncut else pdf_module.ROWS_PRINTED)
    assert bool(printed["cut"]) is not uncut
