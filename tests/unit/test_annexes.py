"""What stands in the body, what in an annex, and how a reader comes from one to the other.

The rules are ours (common sense, no source): what serves the decision stays in the body, and the
rest is one step away.
"""

from __future__ import annotations

import dataclasses
import shutil
from pathlib import Path

import pytest
from browser import BROWSER, WIDTHS, play
from made_studies import document_of
from page_fill import fill_of
from report_document import curve_figure, make_document

from fleetstats.document.annexes import annexes_of, body_of, split
from fleetstats.document.document import Column, Document, Explain, Section, Statement, Table
from fleetstats.report.html import page_html
from fleetstats.report.pdf import report_pdf

WIDE = Table(
    key="wide",
    title="Wide",
    columns=tuple(Column(key=f"c{j}", title=f"Some column {j}") for j in range(12)),
    rows=tuple(tuple(f"cell {i}, {j}" for j in range(12)) for i in range(5)),
)
FIRST = Statement(text="First.")
BLOCKS = (
    Explain(term="Band", text="A range."),
    FIRST,
    Statement(text="Take care.", tone="caution"),
    WIDE,
    Statement(text="Later."),
)


def section(key: str = "s", annex: str = "", keeps: tuple[str, ...] = ()) -> Section:
    blocks = tuple(dataclasses.replace(b, key=f"{key}-t") if b is WIDE else b for b in BLOCKS)
    return split(Section(key=key, title=key.capitalize(), blocks=blocks), annex, keeps)


def report(*sections: Section) -> Document:
    return dataclasses.replace(make_document(), sections=sections)


@pytest.mark.parametrize(
    ("keeps", "kept"),
    [
        ((), ()),
        (("first",), (1,)),
        (("caution",), (2,)),
        (("said",), (1, 2, 4)),
        (("first", "table-s-t"), (1, 3)),
        (("fig-s-t",), ()),  # a figure of that key is not the table
        (("first", "caution", "table-s-t"), (1, 2, 3)),
    ],
)
def test_what_stays_in_the_body(keeps: tuple[str, ...], kept: tuple[int, ...]) -> None:
    got = section(annex="records", keeps=keeps)
    assert (got.annex, got.kept) == ("records", kept)


def test_nothing_but_explanations_is_no_annex() -> None:
    got = section(annex="records", keeps=("said", "table-s-t"))
    assert (got.annex, got.kept) == ("", ())


def test_letters_follow_the_order_of_the_annexes_not_of_the_sections() -> None:
    document = report(section("a", "doubts"), section("b", "records", ("said",)), section("c"))
    assert [(a.letter, a.key) for a in annexes_of(document)] == [
        ("A", "records"), ("B", "doubts"), ("C", "terms")
    ]  # fmt: skip


def test_an_annex_is_opened_from_the_part_before_it_else_after_it_else_the_first() -> None:
    document = report(
        section("first"),
        section("early", "lives"),
        section("lives", "lives", ("first",)),
        section("other", "curves", ("first",)),
        section("late", "lives"),
        section("alone", "settings"),
    )
    led = {
        p.section.key: [(o.annex.letter, [s.key for s in o.sections]) for o in p.onward]
        for p in body_of(document)
    }
    assert led == {
        "first": [("C", ["alone"])],
        "lives": [("A", ["early", "lives-more", "late"])],
        "other": [("B", ["other-more"])],
    }
    body = {p.section.key: p.section.blocks for p in body_of(document)}
    assert body["lives"] == (FIRST,)


PLAYER = r"""
(function () {
  var seen = {errors: window.playErrors};
  var annex = document.getElementById("annex-lives");
  var table = document.querySelector("#table-lives-t");
  var folds = Array.from(document.querySelectorAll("details"));
  seen.shut = !annex.open;
  seen.others = folds.some(function (d) { return d.classList.contains("annex") && d.open; });
  document.querySelector("a[href='#lives-more']").click();
  seen.open = annex.open;
  seen.heads = getComputedStyle(table.querySelector("thead")).display;
  seen.named = Array.from(table.querySelector("tbody tr").cells).map(function (c) {
    return getComputedStyle(c, "::before").content;
  });
  window.dispatchEvent(new Event("beforeprint"));
  seen.printed = folds.every(function (d) { return d.open; });
  parent.postMessage(JSON.stringify(seen), "*");
})();
"""


def small() -> Document:
    pictured = Section(
        key="pictured", title="P", blocks=(curve_figure("more"), FIRST), annex="doubts"
    )
    return report(section("start"), section("lives", "lives", ("first",)), pictured)


@pytest.mark.skipif(BROWSER is None, reason="no Chromium on this machine")
def test_a_link_opens_the_annex_and_a_narrow_page_names_each_cell(tmp_path: Path) -> None:
    page = page_html(small())
    seen = play(page, tmp_path, 400, PLAYER)
    assert seen["errors"] == []
    assert seen["shut"] is True
    assert seen["others"] is False
    assert seen["open"] is True
    assert seen["printed"] is True
    assert seen["heads"] == "none"
    want = ["none"] + [f'"Some column {j}: "' for j in range(1, 12)]
    assert seen["named"] == want  # the first cell heads its row


@pytest.mark.skipif(BROWSER is None, reason="no Chromium on this machine")
def test_no_column_lies_outside_a_narrow_page(tmp_path: Path) -> None:
    seen = play(page_html(document_of("quiet-fleet")), tmp_path, 400, WIDTHS)
    assert (seen["page"], seen["window"]) == (400, 400)
    assert seen["spill"] == seen["cut"] == []
    assert int(str(seen["tables"])) > 30


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm is not installed")
def test_no_page_is_nearly_empty(tmp_path: Path) -> None:
    """Of the whole demo; the tool itself is held to pages whose ink is known."""
    (tmp_path / "r.pdf").write_bytes(report_pdf(document_of("quiet-fleet")))
    fills = fill_of(tmp_path / "r.pdf")
    assert len(fills) > 10
    assert min(fills) >= 1 / 3, fills


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm is not installed")
@pytest.mark.parametrize("down_mm", [20.0, 60.0, 200.0])
def test_how_full_a_page_is_measured(down_mm: float, tmp_path: Path) -> None:
    """A black bar at a known height of an A4 page, beside a blank page and a foot."""
    import typst
    from page_fill import FOOT_MM, HEAD_MM

    bar = "rect(width: 50mm, height: 4mm, fill: black)"
    foot = f"#place(bottom + left, dy: -8mm, {bar})"
    (tmp_path / "p.typ").write_text(
        '#set page(paper: "a4", margin: 0mm)\n'
        f"#place(top + left, dy: {HEAD_MM + down_mm}mm, {bar})\n{foot}\n#pagebreak()\n{foot}\n",
        encoding="utf-8",
    )
    typst.compile(str(tmp_path / "p.typ"), output=str(tmp_path / "p.pdf"))
    first, second = fill_of(tmp_path / "p.pdf")
    assert first == pytest.approx((down_mm + 4) / (297 - HEAD_MM - FOOT_MM), abs=0.01)
    assert second == 0.0
