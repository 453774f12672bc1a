"""The notebook in reports/notebook: its cells run, as a notebook file and as a page.

    python tests/tools/notebook.py

The cells are a plain script, `tow_clubs_cells.py` beside this file, cut at its lines ``# %%``. No
notebook program is needed: a cell's last expression is shown as a notebook would show it, by
`_repr_html_` where there is one, else by its repr. The page is drawn by jinja; colours of code and
the plain text between come from pygments and markdown-it, which rich brings.
"""

from __future__ import annotations

import ast
import contextlib
import io
import json
import os
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
CELLS = Path(__file__).with_name("tow_clubs_cells.py")
FOLDER = ROOT / "reports" / "notebook"
NAME = "tow-clubs"
TEMPLATE = Path(__file__).with_name("notebook.html.j2")
CUT = re.compile(r"^# %%(?: \[(\w+)\])?\n", re.MULTILINE)


@dataclass(frozen=True)
class Cell:
    """One cell: its text, and what it prints and shows when it is code."""

    kind: str
    text: str
    printed: str = ""
    shown: str | None = None
    html: str | None = None


def read_cells(script: str) -> list[Cell]:
    """Return the cells of a script in order; text loses the marks that make it a comment."""
    parts = CUT.split(script)[1:]
    out = []
    for kind, body in zip(parts[::2], parts[1::2], strict=True):
        text = body.strip()
        if kind == "markdown":
            text = "\n".join(x.removeprefix("#").removeprefix(" ") for x in text.splitlines())
        out.append(Cell(kind or "code", text))
    return out


def run_cell(cell: Cell, names: dict[str, Any]) -> Cell:
    """Run a cell of code among `names`; return it with what it printed and showed."""
    tree = ast.parse(cell.text)
    last = tree.body.pop() if isinstance(tree.body[-1], ast.Expr) else None
    out = io.StringIO()
    held = None
    with contextlib.redirect_stdout(out):
        exec(compile(tree, "<cell>", "exec"), names)
        if isinstance(last, ast.Expr):
            held = eval(compile(ast.Expression(last.value), "<cell>", "eval"), names)
    if held is None:
        return Cell(cell.kind, cell.text, out.getvalue())
    as_html = getattr(held, "_repr_html_", None)
    html = as_html() if as_html is not None else None
    return Cell(cell.kind, cell.text, out.getvalue(), repr(held), html)


def run_cells(cells: list[Cell], folder: Path) -> list[Cell]:
    """Run all cells in one session, with `folder` as the notebook's own.

    Tables are shown as pandas shows them by itself, whatever was set in this process before.
    """
    import pandas as pd

    here = Path.cwd()
    os.chdir(folder)
    names: dict[str, Any] = {"__name__": "__notebook__"}
    try:
        with pd.option_context("display.float_format", None):
            return [run_cell(c, names) if c.kind == "code" else c for c in cells]
    finally:
        os.chdir(here)


def _outputs(cell: Cell, count: int) -> list[dict[str, Any]]:
    out: list[dict[str, Any]] = []
    if cell.printed:
        lines = cell.printed.splitlines(keepends=True)
        out.append({"output_type": "stream", "name": "stdout", "text": lines})
    if cell.shown is not None:
        data = {"text/plain": cell.shown.splitlines(keepends=True)}
        if cell.html is not None:
            data["text/html"] = cell.html.splitlines(keepends=True)
        out.append(
            {
                "output_type": "execute_result",
                "execution_count": count,
                "metadata": {},
                "data": data,
            }
        )
    return out


def notebook_text(cells: list[Cell]) -> str:
    """Return the notebook file, in version 4.5 of its format."""
    count = 0
    out: list[dict[str, Any]] = []
    for i, cell in enumerate(cells):
        told: dict[str, Any] = {
            "cell_type": cell.kind,
            "id": f"cell-{i:02}",
            "metadata": {},
            "source": cell.text.splitlines(keepends=True),
        }
        if cell.kind == "code":
            count += 1
            told |= {"execution_count": count, "outputs": _outputs(cell, count)}
        out.append(told)
    kernel = {"display_name": "Python 3", "language": "python", "name": "python3"}
    meta = {"kernelspec": kernel, "language_info": {"name": "python"}}
    book = {"cells": out, "metadata": meta, "nbformat": 4, "nbformat_minor": 5}
    return json.dumps(book, indent=1, ensure_ascii=False) + "\n"


def page_text(cells: list[Cell]) -> str:
    """Return the page: text, code in colours, and below each cell what it showed."""
    import jinja2
    from markdown_it import MarkdownIt
    from pygments import highlight
    from pygments.formatters import HtmlFormatter
    from pygments.lexers import PythonLexer

    text = MarkdownIt()
    made: list[dict[str, Any]] = []
    count = 0
    for cell in cells:
        if cell.kind == "markdown":
            made.append({"kind": "text", "html": text.render(cell.text)})
            continue
        count += 1
        code = highlight(cell.text, PythonLexer(), HtmlFormatter(nowrap=True))
        made.append({"kind": "code", "count": count, "code": code, "cell": cell})
    title = next(x.removeprefix("# ") for x in cells[0].text.splitlines())
    env = jinja2.Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True)
    page: str = env.from_string(TEMPLATE.read_text("utf-8")).render(title=title, cells=made)
    return page + "\n"


def make() -> dict[str, str]:
    """Run the cells; return both files by their names."""
    FOLDER.mkdir(exist_ok=True)
    cells = run_cells(read_cells(CELLS.read_text("utf-8")), FOLDER)
    return {f"{NAME}.ipynb": notebook_text(cells), f"{NAME}.html": page_text(cells)}


if __name__ == "__main__":
    for name, text in make().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
