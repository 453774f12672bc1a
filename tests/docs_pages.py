"""Run the commands of a page of docs and compare what they print with what the page shows.

A block of kind ``console`` holds commands, each on a line that begins with ``$ ``, and below each
what it prints on stdout. A line ``…`` stands for any number of lines. A last line ``(exit code n)``
stands for an exit code other than 0. `python tests/docs_pages.py` writes the output anew into every
page, but leaves blocks with ``…`` that still agree as they are; it writes the pages of findings
and of cautions from their catalogues, the list of public names in the guide to the interface, a
page for each of them, and what the worked problems print.
"""

from __future__ import annotations

import os
import re
import shlex
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "reports" / "docs"
BLOCK = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)
GAP = "…"


@dataclass(frozen=True)
class Shown:
    """A command of a page and the lines that the page shows below it."""

    command: str
    lines: tuple[str, ...]


def find_commands(text: str) -> Iterator[Shown]:
    """Yield the commands of a page in order."""
    for block in BLOCK.findall(text):
        command, lines = "", []
        for line in block.splitlines():
            if line.startswith("$ "):
                if command:
                    yield Shown(command, tuple(lines))
                command, lines = line[2:], []
            elif command:
                lines.append(line)
            else:
                raise ValueError(f"A console block begins without a command: {line!r}")
        yield Shown(command, tuple(lines))


def run_command(command: str, folder: Path) -> list[str]:
    """Run one command of the package inside `folder`; return its lines on stdout."""
    from click.testing import CliRunner

    from fleetstats.cli import main

    program, *words = shlex.split(command)
    if program != "fleetstats":
        raise ValueError(f"Only the package's own command is run: {command!r}")
    here = Path.cwd()
    os.chdir(folder)
    # A run on a folder of the repository's own datasets leaves no look there; a copy keeps its own.
    quiet = {"FLEETSTATS_NO_HISTORY": "1" if "datasets/" in command else ""}
    try:
        got = CliRunner().invoke(main, words, terminal_width=96, env=quiet)
    finally:
        os.chdir(here)
    if got.exception is not None and not isinstance(got.exception, SystemExit):
        raise got.exception
    lines = [x.rstrip() for x in got.stdout.rstrip().splitlines()]
    if got.exit_code:
        lines.append(f"(exit code {got.exit_code})")
    return lines


def agrees(shown: tuple[str, ...], got: list[str]) -> bool:
    """Return whether what a page shows is what was printed, gaps allowed for."""
    pattern = "".join(
        r"(?:[^\n]*\n)*" if line == GAP else re.escape(line.rstrip()) + r"\n" for line in shown
    )
    return re.fullmatch(pattern, "".join(line + "\n" for line in got)) is not None


def workplace(folder: Path) -> Path:
    """Make a folder in which the pages' paths hold: the datasets, and room to write."""
    link = folder / "datasets"
    if not link.exists():
        link.symlink_to(ROOT / "datasets")
    return folder


def rewrite(path: Path) -> list[str]:
    """Write the output of a page's commands anew; return the commands whose gaps need a hand."""
    stuck: list[str] = []
    with tempfile.TemporaryDirectory() as place:
        folder = workplace(Path(place))

        def block(match: re.Match[str]) -> str:
            out = []
            for shown in find_commands(match[0] + "\n"):
                got = run_command(shown.command, folder)
                keep = shown.lines
                if GAP in keep and not agrees(keep, got):
                    stuck.append(shown.command)
                out += [f"$ {shown.command}", *(keep if GAP in keep else got)]
            return "```console\n" + "\n".join(out) + "\n```"

        text = path.read_text(encoding="utf-8")
        path.write_text(BLOCK.sub(block, text), encoding="utf-8")
    return stuck


if __name__ == "__main__":
    from catalogue_pages import write_pages
    from guide_code import write_worked
    from names_page import write_names
    from reference_pages import write_reference

    write_pages(DOCS)
    write_names(DOCS)
    write_reference(DOCS)
    with tempfile.TemporaryDirectory() as room:
        write_worked(Path(room))
    for page in [Path(a) for a in sys.argv[1:]] or sorted(DOCS.glob("*.md")):
        for command in rewrite(page):
            sys.stdout.write(f"{page.name}: no longer agrees, mend by hand: {command}\n")
