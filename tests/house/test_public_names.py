"""What a chapter works with has one public name, told in the guide; our own rules, no source."""

from __future__ import annotations

import ast
import importlib
import inspect
from collections import Counter
from pathlib import Path

import pytest
from names_page import first_line, stub_text, with_names

import fleetstats
from fleetstats.names import GROUPS, RETIRED

PACKAGE = Path(fleetstats.__file__).parent
GUIDE = PACKAGE.parent / "reports" / "docs" / "api.md"
HOMES = {n: h for group in GROUPS.values() for n, h in group.items()}


def of_home(home: str, name: str) -> object:
    module, _, inner = home.partition(":")
    return getattr(importlib.import_module(f"fleetstats.{module}"), inner or name)


def called_by_chapters() -> dict[str, object]:
    """Return functions with a gate that chapters and advice take from the floors below."""
    found: dict[str, object] = {}
    for path in [*PACKAGE.glob("chapters/*/*.py"), *PACKAGE.glob("advice/**/*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            module = getattr(node, "module", None) or ""
            if isinstance(node, ast.ImportFrom) and module.startswith(
                ("fleetstats.survival", "fleetstats.bands", "fleetstats.records.merging")
            ):
                for a in node.names:
                    held = getattr(importlib.import_module(module), a.name)
                    if inspect.isfunction(held) and hasattr(held, "__gate__"):
                        found[a.name] = held
    return found


def test_every_gated_function_that_a_chapter_calls_is_public() -> None:
    public = {id(getattr(fleetstats, n)) for n in fleetstats.__all__}
    called = called_by_chapters()
    assert len(called) > 20
    assert not [n for n, held in called.items() if id(held) not in public]


def test_a_thing_has_one_public_name() -> None:
    assert sum(map(len, GROUPS.values())) == len(HOMES) == len(fleetstats.__all__)
    held = Counter(id(getattr(fleetstats, n)) for n in fleetstats.__all__)
    assert max(held.values()) == 1


@pytest.mark.parametrize("name", sorted(HOMES))
def test_a_public_name_says_what_it_is_in_one_line(name: str) -> None:
    held = getattr(fleetstats, name)
    assert held is of_home(HOMES[name], name)
    assert 10 < len(first_line(held)) < 160
    assert name in dir(fleetstats)


def test_the_guide_lists_the_names_as_they_are() -> None:
    text = GUIDE.read_text(encoding="utf-8")
    assert with_names(text) == text, "run: python tests/docs_pages.py reports/docs/api.md"
    assert with_names(text.replace("`fs.fit_weibull`]", "`fs.fit`]")) == text


def test_a_retired_name_works_and_warns_and_is_in_no_list(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(RETIRED, "fit_life", ("fit_weibull", "0.3", "0.5"))
    with pytest.warns(
        DeprecationWarning, match=r"fit_life is called fit_weibull since 0\.3.*0\.5"
    ) as w:
        assert fleetstats.fit_life is fleetstats.fit_weibull
    assert w[0].filename == __file__
    assert "fit_life" not in dir(fleetstats)
    assert "fit_weibull import fit_weibull as fit_life\n" in stub_text()
    with pytest.raises(AttributeError, match="has no attribute 'fit_lives'"):
        _ = fleetstats.fit_lives


def parts(version: str) -> tuple[int, ...]:
    return tuple(int(x) for x in version.split("."))


def test_a_retired_name_leads_to_a_public_one_for_two_minor_versions() -> None:
    for old, (new, since, gone) in RETIRED.items():
        assert new in fleetstats.__all__, old
        assert old not in fleetstats.__all__
        assert parts(since)[0] == parts(gone)[0]
        assert parts(gone)[1] >= parts(since)[1] + 2
        assert parts(fleetstats.__version__)[:2] < parts(gone)[:2], f"{old} is due to go"
