"""Every sentence of the page stands in the rooms' files of words, and none there is idle."""

from __future__ import annotations

import ast
import re
import tomllib
from pathlib import Path

import pytest

from fleetstats.desk.rooms import ROOMS
from fleetstats.desk.words import words_of
from fleetstats.study.settings import Settings

DESK = Path(__file__).parents[2] / "fleetstats" / "desk"
TEMPLATES = sorted((DESK / "templates").glob("*.j2"))
FILES = sorted((DESK / "words").glob("*.toml"))
NO_WORDS = {"doctype", "html"}
SHOWN = re.compile(r'(?:aria-label|title|placeholder|alt)="([^"]*)"')


def spoken(template: str) -> list[str]:
    """Return what a template says by itself: text and attributes that are shown or read aloud."""
    bare = re.sub(r"{{.*?}}|{%.*?%}|{#.*?#}", " ", template, flags=re.DOTALL)
    told = [*SHOWN.findall(bare), re.sub(r"<[^>]*>", " ", bare)]
    return [w for t in told for w in re.findall(r"[^\W\d_]+", t)]


def test_the_search_finds_what_a_template_says() -> None:
    assert spoken('<p title="No {{ x }}">Hello {{ w.a }}</p>') == ["No", "Hello"]


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda p: p.name)
def test_no_template_holds_a_sentence(path: Path) -> None:
    assert spoken(path.read_text("utf-8")) == []


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_every_sentence_is_used(path: Path) -> None:
    """Keys made of a part and a name (`job_report`) count where their first part is used so."""
    code = "\n".join(p.read_text("utf-8") for p in (*DESK.rglob("*.py"), *TEMPLATES))
    for key in tomllib.loads(path.read_text("utf-8")):
        part = key.rpartition("_")[0].split("_")[0]
        assert (
            re.search(rf'["\'.]{re.escape(key)}\b', code)
            or re.search(rf'["\']{re.escape(part)}_["\']? ?[~+{{]', code)
        ), key  # fmt: skip


def test_every_sentence_that_code_asks_for_is_there() -> None:
    for path in DESK.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "words":
                room, key = node.args[:2]
                if isinstance(room, ast.Constant) and isinstance(key, ast.Constant):
                    assert key.value in words_of(str(room.value)), f"{path.name}: {key.value}"


def test_every_plain_question_is_a_setting() -> None:
    s = Settings.__dataclass_fields__
    for path, told in words_of("question")["ask"].items():
        table, _, key = path.partition(".")
        assert table in s
        assert set(told) == {"asks", "changes"}
        import typing

        assert key in typing.get_type_hints(typing.get_type_hints(Settings)[table])


def test_every_room_has_its_template_and_its_words() -> None:
    for room in ROOMS:
        assert (DESK / "templates" / f"{room}.html.j2").is_file()
        assert {"name", "title", "lead"} <= set(words_of(room))
