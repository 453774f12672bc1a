"""One catalogue of findings, one of cautions: nothing is said of records or results elsewhere."""

from __future__ import annotations

import ast
import string
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
from catalogue_pages import LIMITED, PAGES, with_limits
from docs_pages import DOCS

from fleetstats.core.limits import LIMITS as READING
from fleetstats.core.pause import collection_paused
from fleetstats.vocabulary import limits
from fleetstats.vocabulary.cautions import CAUTIONS, FIRST, SECOND, caution, rank_of
from fleetstats.vocabulary.findings import (
    CONDITION_FINDINGS,
    FINDINGS,
    LIFE_FINDINGS,
    LOG_FINDINGS,
    say_finding,
)
from fleetstats.vocabulary.findings.cells import CELLS
from fleetstats.vocabulary.findings.entry import ACTIONS, SEVERITIES
from fleetstats.vocabulary.findings.reasons import ASIDE
from fleetstats.vocabulary.limit_reasons import LIMITS
from fleetstats.vocabulary.limits import Limit

PACKAGE = Path(__file__).parents[2] / "fleetstats"
MADE_IN = {"Finding": {"vocabulary/finding.py"}, "Caution": {"vocabulary/cautions/__init__.py"}}
FILES = sorted(p for p in PACKAGE.rglob("*.py") if "vocabulary" not in p.parts)
Trees = Mapping[str, ast.Module]

FINDING_MAKERS = {"make_finding", "life_finding", "pool_finding", "log_finding"}
FINDING_METHODS = {"find", "aside", "drop", "add", "fail", "note", "_find"}
GIVEN = {"engine", "kind"}
"""Fields that the makers of findings give of themselves, from where the finding stands."""

FINDING_KEYS = {f"{c}/{case}" if case else c for c, e in FINDINGS.items() for case in e.says}
CAUTION_KEYS = {f"{c}/{case}" if case else c for c, e in CAUTIONS.items() for case in e.cases}


@pytest.fixture(scope="module")
def trees() -> Trees:
    """Return each file as parsed, for as long as these tests run."""
    files = {*FILES, *(PACKAGE / f for made_in in MADE_IN.values() for f in made_in)}
    with collection_paused():
        return {
            p.relative_to(PACKAGE).as_posix(): ast.parse(p.read_text("utf-8"))
            for p in sorted(files)
        }


def fields_of(*texts: str) -> set[str]:
    """Return the names of the fields of sentences."""
    return {name for t in texts for _, name, _, _ in string.Formatter().parse(t) if name}


def literals(node: ast.expr) -> list[str]:
    """Return the keys that an argument may be: a literal, or either side of a choice of them."""
    if isinstance(node, ast.IfExp):
        return [*literals(node.body), *literals(node.orelse)]
    return [node.value] if isinstance(node, ast.Constant) and isinstance(node.value, str) else []


def calls(trees: Trees, kind: str) -> Iterator[tuple[str, ast.Call, str]]:
    """Yield each call of the package that makes a finding, a caution, a cell error or an aside."""
    for file, tree in trees.items():
        for node in ast.walk(tree):
            if not isinstance(node, ast.Call) or not node.args:
                continue
            f = node.func
            plain = f.id if isinstance(f, ast.Name) else ""
            method = f.attr if isinstance(f, ast.Attribute) else ""
            found = {
                "finding": plain in FINDING_MAKERS
                or (method in FINDING_METHODS and file.startswith("records/")),
                "caution": plain == "caution",
                "cell": plain == "CellError",
                "aside": plain == "say_aside",
            }[kind]
            if found:
                at = 1 if kind == "cell" else 0
                for argument in node.args[at : at + 1]:
                    for key in literals(argument):
                        yield f"{file}:{node.lineno}", node, key


def missing_fields(node: ast.Call, needed: set[str], given: set[str]) -> set[str]:
    """Return fields of a sentence that a call does not name; none where it passes a mapping on."""
    named = {k.arg for k in node.keywords if k.arg}
    return set() if any(k.arg is None for k in node.keywords) else needed - named - given


@pytest.mark.parametrize("name", MADE_IN)
def test_findings_and_cautions_are_made_in_one_place(name: str, trees: Trees) -> None:
    made = {
        file
        for file, tree in trees.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and (node.func.id if isinstance(node.func, ast.Name) else "") == name
    }
    assert made == MADE_IN[name]


def test_no_severity_is_written_outside_the_catalogue(trees: Trees) -> None:
    written = [
        f"{file}:{node.lineno}"
        for file, tree in trees.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        for k in node.keywords
        if k.arg == "severity" and isinstance(k.value, ast.Constant)
    ]
    assert not written


def test_every_finding_that_is_made_is_in_the_catalogue_with_its_fields(trees: Trees) -> None:
    seen = [
        (where, node, key) for where, node, key in calls(trees, "finding")
        if key.partition("/")[0] in FINDINGS or "-" in key
    ]  # fmt: skip
    assert len(seen) > 100  # the walk finds the calls at all
    unknown = [f"{where}: {key}" for where, _, key in seen if key not in FINDING_KEYS]
    assert not unknown
    short = []
    for where, node, key in seen:
        code, _, case = key.partition("/")
        needed = fields_of(FINDINGS[code].says[case], FINDINGS[code].cure[case])
        if left := missing_fields(node, needed, GIVEN | {"hint"}):
            short.append(f"{where}: {key} wants {sorted(left)}")
    assert not short


def test_every_caution_that_is_made_is_in_the_catalogue_with_its_fields(trees: Trees) -> None:
    seen = list(calls(trees, "caution"))
    assert len(seen) > 40
    assert not [f"{where}: {key}" for where, _, key in seen if key not in CAUTION_KEYS]
    short = []
    for where, node, key in seen:
        code, _, case = key.partition("/")
        told = CAUTIONS[code].cases[case]
        if left := missing_fields(node, fields_of(told.says, told.where), set()):
            short.append(f"{where}: {key} wants {sorted(left)}")
    assert not short


def test_every_trouble_of_a_cell_and_every_reason_is_in_the_catalogue(trees: Trees) -> None:
    for kind, table in (("cell", CELLS), ("aside", ASIDE)):
        seen = list(calls(trees, kind))
        assert seen
        assert not [f"{where}: {key}" for where, _, key in seen if key not in table]
    for where, node, key in calls(trees, "cell"):
        assert not missing_fields(node, fields_of(*CELLS[key]), set()), where
    for where, node, key in calls(trees, "aside"):
        assert not missing_fields(node, fields_of(ASIDE[key]), set()), where


def test_every_entry_is_used(trees: Trees) -> None:
    """A key stands in the code as a literal, or is put together from a number's column."""
    words = {
        n.value for tree in trees.values() for n in ast.walk(tree)
        if isinstance(n, ast.Constant) and isinstance(n.value, str)
    }  # fmt: skip
    words |= {
        f"{n.args[0].value}-impossible"
        for tree in trees.values()
        for n in ast.walk(tree)
        if isinstance(n, ast.Call)
        and isinstance(n.func, ast.Name)
        and n.func.id == "condition_number"
        and n.args
        and isinstance(n.args[0], ast.Constant)
    }
    assert not FINDING_KEYS - words
    assert not CAUTION_KEYS - words
    assert not set(CELLS) - words
    assert not {k for k in ASIDE if k not in words}


def test_an_entry_of_the_catalogue_is_whole() -> None:
    for code, e in FINDINGS.items():
        assert e.code == code == code.lower().strip()
        assert e.severity in SEVERITIES
        assert e.usual in ACTIONS
        assert e.meaning.endswith(".")
        assert set(e.says) == set(e.cure)
        assert (e.usual == "stop") <= (e.severity == "error")
    for code, c in CAUTIONS.items():
        assert c.code == code == code.lower().strip()
        assert rank_of(code) in (FIRST, SECOND)
        assert c.meaning.endswith(".")
        assert c.cure.endswith(".")
        assert all(k.where for k in c.cases.values())
    assert len(FINDINGS) == len(LIFE_FINDINGS) + len(LOG_FINDINGS) + len(CONDITION_FINDINGS)


def test_each_limit_is_named_once_with_its_reason_and_source(trees: Trees) -> None:
    numbers = {
        k: v for k, v in vars(limits).items()
        if k.isupper() and isinstance(v, int | float) and not isinstance(v, bool)
    }  # fmt: skip
    assert set(numbers) == set(LIMITS)
    for name, x in LIMITS.items():
        assert isinstance(x, Limit)
        assert x.value == numbers[name]
        assert x.reason.endswith(".")
        assert x.source
    named = [n for e in CAUTIONS.values() for k in e.cases.values() for n in k.limits]
    named += [n for e in FINDINGS.values() if e.limit for n in e.limit.split(", ")]
    assert not [n for n in named if n not in LIMITS and "." not in n]
    again = [
        f"{file}: {target.id}"
        for file, tree in trees.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name) and target.id in LIMITS
    ]
    assert not again


def test_a_key_or_a_field_that_is_not_there_is_refused() -> None:
    with pytest.raises(KeyError):
        say_finding("no-such-code")
    with pytest.raises(KeyError):
        say_finding("hours-impossible/overhaul", at=1.0)
    with pytest.raises(KeyError):
        caution("thin-start")


@pytest.mark.parametrize("name", PAGES)
def test_the_page_is_what_the_catalogue_says(name: str) -> None:
    told = "run python tests/docs_pages.py"
    assert (DOCS / name).read_text(encoding="utf-8") == PAGES[name](), told


def test_the_limits_of_readers_stand_in_one_place_and_are_all_used() -> None:
    page = (DOCS / LIMITED).read_text(encoding="utf-8")
    assert page == with_limits(page), "run python tests/docs_pages.py"
    sources = [
        p.read_text(encoding="utf-8")
        for p in PACKAGE.rglob("*.py")
        if p != PACKAGE / "core" / "limits.py"
    ]
    for key, limit in READING.items():
        assert f"| {key.replace('_', ' ')} | {limit} |" in page
        assert any(f'"{key}"' in s for s in sources), f"{key} limits nothing"
        assert limit.value > 0
        assert limit.reason.endswith(".")
