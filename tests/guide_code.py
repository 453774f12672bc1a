"""The code of the guide's pages: found, run block by block, and its output written anew.

A block of kind ``python`` stands beside what it prints: the lines that begin with ``# → `` below a
statement. All blocks of a page run in order, in one session. ``python tests/docs_pages.py`` writes
the output anew where a page asks for it (`WRITTEN`), and the tables of printed figures.
"""

from __future__ import annotations

import ast
import contextlib
import doctest
import io
import os
import re
import textwrap
from collections.abc import Iterator
from pathlib import Path

from docs_pages import DOCS, ROOT, workplace
from reference_pages import doc_of

import fleetstats
from fleetstats.selftest import run_selftest
from fleetstats.selftest.agreement import COMPUTED, Agreement

BLOCK = re.compile(r"^```python\n(.*?)^```$", re.MULTILINE | re.DOTALL)
SAYS = "# →"
PAGES = ("api.md", "worked.md")
"""Pages whose blocks are run, and held to strict types."""
WRITTEN = ("worked.md",)
PRINTED = re.compile(r"<!-- printed: ([\w-]+) -->\n(.*?)<!-- end -->", re.DOTALL)


def blocks(page: Path) -> list[str]:
    """Return the blocks of a page in order."""
    return BLOCK.findall(page.read_text(encoding="utf-8"))


def said(block: str) -> list[str]:
    """Return the lines that a block says it prints."""
    return [x.removeprefix(SAYS).removeprefix(" ") for x in block.splitlines() if x[:3] == SAYS]


def run_block(block: str, names: dict[str, object]) -> list[str]:
    """Run a block among `names`; return the lines it prints."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(compile(block, "<guide>", "exec"), names)
    return out.getvalue().splitlines()


def with_output(block: str, names: dict[str, object]) -> str:
    """Return a block with what each of its statements prints written below it anew."""
    lines = block.splitlines()
    out: list[str] = []
    done = 0
    for node in ast.parse(block).body:
        end = node.end_lineno or 0
        own = [x for x in lines[done:end] if x[:3] != SAYS]
        done = end
        out += [*own, *(f"{SAYS} {x}".rstrip() for x in run_block("\n".join(own), names))]
    return "\n".join(out) + "\n"


def with_outputs(text: str, names: dict[str, object]) -> str:
    """Return the text of a page with the output of all its blocks written anew."""
    return BLOCK.sub(lambda m: f"```python\n{with_output(m[1], names)}```", text)


def agreements(case: str) -> list[Agreement]:
    """Return the figures of a case that its source prints, as the selftest has them."""
    return [r for r in run_selftest().rows if r.case == case and r.told != COMPUTED]


def printed_table(case: str) -> str:
    """Return the figures of a case as its source prints them, beside ours."""
    rows = agreements(case)
    head = [f"Source: {rows[0].source}.", ""]
    lines = [("figure", "printed", "here", "known"), ("---", "---:", "---:", "---")]
    lines += [(r.quantity, r.reference, r.here, r.told.removeprefix("printed, ")) for r in rows]
    return "\n".join(head + [f"| {' | '.join(cells)} |" for cells in lines]) + "\n"


def with_printed(text: str) -> str:
    """Return the text of a page with its tables of printed figures made anew."""
    return PRINTED.sub(
        lambda m: f"<!-- printed: {m[1]} -->\n\n{printed_table(m[1])}\n<!-- end -->", text
    )


def problems(text: str) -> Iterator[tuple[str, str, list[str]]]:
    """Yield for each problem of a page its case, its part of the text, and its blocks."""
    for part in text.split("\n## ")[1:]:
        found = PRINTED.search(part)
        assert found is not None, part[:60]
        yield found[1], part, BLOCK.findall(part)


def write_worked(folder: Path) -> None:
    """Write the output and the printed figures of the pages that ask for it."""
    here = Path.cwd()
    os.chdir(workplace(folder))
    try:
        for name in WRITTEN:
            page = DOCS / name
            names: dict[str, object] = {}
            text = with_printed(page.read_text(encoding="utf-8"))
            page.write_text(with_outputs(text, names), encoding="utf-8")
    finally:
        os.chdir(here)


def write_modules(folder: Path) -> list[Path]:
    """Write the blocks of each page as a module into a folder; return the files."""
    out = []
    for page in (*(DOCS / n for n in PAGES), ROOT / "README.md"):
        path = folder / f"guide_{page.stem.lower()}.py"
        path.write_text("\n".join(blocks(page)), encoding="utf-8")
        out.append(path)
    return out


def write_examples(folder: Path) -> Path:
    """Write the example of every public name as a function of a module into a folder."""
    out = ["import fleetstats"]
    for name in fleetstats.__all__:
        parts = doctest.DocTestParser().get_examples(doc_of(getattr(fleetstats, name))["Examples"])
        out.append(f"def use_{name}() -> None:")
        out += [textwrap.indent(e.source.rstrip(), "    ") for e in parts]
    out += [f"print(fleetstats.{name})" for name in fleetstats.__all__]
    path = folder / "examples.py"
    path.write_text("\n".join(out) + "\n", encoding="utf-8")
    return path
