"""The pages of the docs: every command prints what the page shows; links lead somewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from desk_pictures import HEIGHT, MOST_BYTES, WIDTH
from docs_pages import DOCS, ROOT, agrees, find_commands, run_command, workplace

PAGES = sorted(DOCS.glob("*.md"))
SLOW = {"verify"}
"""Pages whose commands render whole reports."""
PICTURE = re.compile(r"!\[[^\]]+\]\(([^)]+)\)")
LINK = re.compile(r"\[[^\]]+\]\(([^)#]+)(?:#[^)]*)?\)")


@pytest.mark.parametrize(
    "page",
    [pytest.param(p, marks=[pytest.mark.slow] if p.stem in SLOW else []) for p in PAGES],
    ids=lambda p: p.stem,
)
def test_commands_print_what_the_page_shows(page: Path, tmp_path: Path) -> None:
    folder = workplace(tmp_path)
    for shown in find_commands(page.read_text(encoding="utf-8")):
        got = run_command(shown.command, folder)
        assert agrees(shown.lines, got), f"{shown.command}\n" + "\n".join(got)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_links_lead_somewhere(page: Path) -> None:
    for target in LINK.findall(page.read_text(encoding="utf-8")):
        if not target.startswith("http"):
            assert (page.parent / target).resolve().exists(), target


def test_the_index_lists_every_page() -> None:
    text = (DOCS / "README.md").read_text(encoding="utf-8")
    for page in PAGES:
        assert page.name == "README.md" or f"({page.name})" in text, page.name
    assert "reports/docs/README.md" in (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_readmes_pictures_are_there_small_and_of_the_width_that_the_page_is_tested_at() -> None:
    from PIL import Image

    text = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = {ROOT / p for p in PICTURE.findall(text)}
    own = set((DOCS / "pictures").iterdir())
    assert own <= shown
    assert len(own) == 2
    for path in own:
        assert path.stat().st_size <= MOST_BYTES, path.name
        with Image.open(path) as picture:
            assert picture.size == (WIDTH, HEIGHT), path.name
    assert all(p.exists() for p in shown)


def test_a_gap_stands_for_any_lines_and_nothing_else_does() -> None:
    assert agrees(("a", "…", "d"), ["a", "b", "c", "d"])
    assert agrees(("a", "…"), ["a"])
    assert not agrees(("a", "d"), ["a", "b", "d"])
    assert not agrees(("a", "…", "e"), ["a", "b", "c", "d"])
    assert not agrees(("a.b",), ["axb"])


def test_another_program_is_not_run(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="Only the package's own command"):
        run_command("rm -r datasets", tmp_path)
    with pytest.raises(ValueError, match="begins without a command"):
        list(find_commands("```console\nhello\n```\n"))
