"""The notebook runs as it stands, and its file and its page hold what its cells show."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from browser import BROWSER, WIDTHS, play
from notebook import CELLS, FOLDER, NAME, Cell, make, notebook_text, page_text, read_cells, run_cell

AGAIN = "run: python tests/tools/notebook.py"


@pytest.fixture(scope="module")
def made() -> dict[str, str]:
    """Run all cells once."""
    return make()


def test_it_has_fifteen_cells_of_code_each_told_of_before() -> None:
    cells = read_cells(CELLS.read_text("utf-8"))
    assert [c.kind for c in cells].count("code") == 15
    assert cells[0].kind == cells[-1].kind == "markdown"
    assert cells[0].text.startswith("# A fleet in fifteen cells\n")


@pytest.mark.parametrize("ending", ["ipynb", "html"])
def test_the_files_hold_what_the_cells_show_today(ending: str, made: dict[str, str]) -> None:
    name = f"{NAME}.{ending}"
    assert set(made) == {p.name for p in FOLDER.iterdir() if not p.name.startswith(".")}
    assert (FOLDER / name).read_text("utf-8") == made[name], AGAIN


def test_every_cell_shows_something_and_none_fails(made: dict[str, str]) -> None:
    book = json.loads(made[f"{NAME}.ipynb"])
    assert (book["nbformat"], book["nbformat_minor"]) == (4, 5)
    code = [c for c in book["cells"] if c["cell_type"] == "code"]
    assert [c["execution_count"] for c in code] == list(range(1, 16))
    assert all(c["outputs"] for c in code)
    kinds = {o["output_type"] for c in code for o in c["outputs"]}
    assert kinds == {"stream", "execute_result"}
    pictures = [
        o
        for c in code
        for o in c["outputs"]
        if "<svg" in "".join(o.get("data", {}).get("text/html", []))
    ]
    assert len(pictures) >= 2


def test_a_cell_shows_its_last_expression_as_a_notebook_does() -> None:
    names: dict[str, object] = {}
    first = run_cell(Cell("code", "x = 2\nprint(x)\nx + 1"), names)
    assert (first.printed, first.shown, first.html) == ("2\n", "3", None)
    assert run_cell(Cell("code", "x = 5"), names).shown is None
    assert run_cell(Cell("code", "None"), names).shown is None
    with pytest.raises(ZeroDivisionError):
        run_cell(Cell("code", "1 / 0"), names)


def test_what_a_cell_prints_is_text_on_the_page_and_no_markup() -> None:
    cells = [Cell("markdown", "# T"), Cell("code", "a < b", printed="<i>", shown="<b>")]
    page = page_text(cells)
    assert "&lt;i&gt;" in page
    assert "&lt;b&gt;" in page
    assert "<title>T</title>" in page
    assert json.loads(notebook_text(cells))["cells"][1]["outputs"][0]["text"] == ["<i>"]


@pytest.mark.slow
@pytest.mark.skipif(BROWSER is None, reason="no browser")
@pytest.mark.parametrize("width", [1280, 400])
def test_the_page_fits_its_window(width: int, tmp_path: Path) -> None:
    page = (FOLDER / f"{NAME}.html").read_text("utf-8")
    seen = play(page, tmp_path, width, WIDTHS)
    assert seen["page"] == seen["window"]
