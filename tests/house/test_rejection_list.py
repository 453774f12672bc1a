"""Each reason for which evidence is rejected has a section of the report and tests that exist."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from fleetstats.chapters.registry import CHAPTERS

TESTS = Path(__file__).parents[1]
PAGE = TESTS.parent / "reports" / "docs" / "rejections.md"
ROWS = [
    tuple(c.strip() for c in line.strip().strip("|").split("|"))
    for line in PAGE.read_text(encoding="utf-8").splitlines()
    if re.match(r"\| \d", line)
]


def test_there_are_fifteen() -> None:
    assert [int(r[0]) for r in ROWS] == list(range(1, 16))


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r[0])
def test_the_sections_exist(row: tuple[str, ...]) -> None:
    sections = re.findall(r"`([a-z-]+)`", row[3])
    assert sections
    assert set(sections) <= set(CHAPTERS)


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r[0])
def test_the_tests_exist(row: tuple[str, ...]) -> None:
    named = re.findall(r"`([^`]+)::(\w+)`", row[4])
    assert named
    for file, name in named:
        tree = ast.parse((TESTS / file).read_text(encoding="utf-8"))
        assert name in {n.name for n in tree.body if isinstance(n, ast.FunctionDef)}, name
