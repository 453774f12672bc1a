"""The guide's code runs as written, prints what it says, and holds under strict types.

The answers of the worked problems are those that their sources print; each stands with its source
in the selftest's cases, where they are held to values computed elsewhere as well.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest
from guide_code import (
    DOCS,
    PAGES,
    agreements,
    blocks,
    problems,
    run_block,
    said,
    with_output,
    with_printed,
    write_examples,
    write_modules,
)
from names_page import STUB, stub_text

import fleetstats

ROOT = Path(__file__).parents[2]
WORKED = (DOCS / "worked.md").read_text(encoding="utf-8")
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


@pytest.mark.parametrize("name", PAGES)
def test_every_block_runs_and_prints_what_the_guide_says(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "datasets").symlink_to(ROOT / "datasets")
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    for block in blocks(DOCS / name):
        assert run_block(block, names) == said(block), block
    assert name != "api.md" or (tmp_path / "out" / "report.pdf").is_file()


def test_the_guide_names_every_public_call() -> None:
    """Calls that a reader may use are in the guide; a new one must be told of."""
    text = (DOCS / "api.md").read_text(encoding="utf-8")
    missing = [n for n in fleetstats.__all__ if not re.search(rf"\b{n}\b", text)]
    assert not missing, missing


def test_ten_problems_give_every_figure_that_their_sources_print() -> None:
    """Each figure is told by the problem's own code, to the last digit of its source."""
    seen = set()
    for case, part, code in problems(WORKED):
        seen.add(case)
        told = {x for block in code for line in said(block) for x in NUMBER.findall(line)}
        rows = agreements(case)
        assert rows, case
        for row in rows:
            assert row.agrees, f"{case}: {row.quantity}"
            assert row.reference in told, f"{case}: {row.quantity} {row.reference}"
        assert f"Source: {rows[0].source}." in part
    assert len(seen) == WORKED.count("\n## ") >= 10


def test_the_tables_of_printed_figures_are_those_of_the_selftest() -> None:
    assert with_printed(WORKED) == WORKED, "run: python tests/docs_pages.py"
    assert with_printed(WORKED.replace("| 1.7208 |", "| 1.7209 |")) == WORKED


def test_output_is_written_below_its_own_statement() -> None:
    block = "x = 1\nprint(x)\n# → old\n\nfor i in (2, 3):\n    print(i)\n# → 2\n"
    want = "x = 1\nprint(x)\n# → 1\n\nfor i in (2, 3):\n    print(i)\n# → 2\n# → 3\n"
    assert with_output(block, {}) == want
    assert said(want) == ["1", "2", "3"]


def test_the_types_of_the_public_names_are_those_of_their_homes() -> None:
    assert STUB.read_text(encoding="utf-8") == stub_text(), "run: python tests/docs_pages.py"


def checked(*files: Path) -> subprocess.CompletedProcess[str]:
    """Hold files to strict types, with what the house's own run of the checker has kept."""
    pytest.importorskip("mypy")
    return subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", *map(str, files)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip


def test_the_code_of_the_guide_holds_under_strict_types(tmp_path: Path) -> None:
    """A wrong attribute is found too, so that the names are known to have types."""
    wrong = tmp_path / "wrong.py"
    wrong.write_text("import fleetstats as fs\n\nfs.fit_weibull(3).shapes\n", encoding="utf-8")
    out = checked(*write_modules(tmp_path), write_examples(tmp_path), wrong)
    errors = [(Path(x.split(":")[0]).name, x) for x in out.stdout.splitlines() if "error:" in x]
    assert [x for name, x in errors if name.startswith("guide_")] == []
    # examples are short: they do not ask first whether there is a limit
    there = (
        "[attr-defined]",
        "[call-arg]",
        "[call-overload]",
        "[name-defined]",
        "[import-not-found]",
    )
    assert [x for name, x in errors if name == "examples.py" and x.endswith(there)] == []
    assert 'has no attribute "shapes"' in out.stdout
    assert 'incompatible type "int"; expected "Spells"' in out.stdout
