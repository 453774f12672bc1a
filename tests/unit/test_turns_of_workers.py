"""Workers that run the tests beside each other: which files are named, and what is kept together.

Common practice, no source.
"""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

TESTS = Path(__file__).parents[1]


@pytest.fixture
def shared(request: pytest.FixtureRequest) -> Any:
    return request.config.pluginmanager.get_plugin(str(TESTS / "conftest.py"))


class Item:
    """A test as the hook meets it."""

    def __init__(self, file: str, group: str | None = None) -> None:
        self.path, self.group = TESTS / file, group

    def get_closest_marker(self, name: str) -> str | None:
        assert name == "xdist_group"
        return self.group

    def add_marker(self, mark: Any) -> None:
        self.group = mark.args[0]


def test_every_file_named_is_there(shared: Any) -> None:
    assert [f for f in shared.LONGEST if not (TESTS / f).is_file()] == []
    assert len(set(shared.LONGEST)) == len(shared.LONGEST)
    assert set(shared.LONGEST) >= shared.APART


def test_a_file_that_shares_a_fixture_is_not_taken_apart(shared: Any) -> None:
    for file in shared.APART:
        text = (TESTS / file).read_text(encoding="utf-8")
        assert 'scope="' not in text
        assert "cache" not in text


def test_a_file_is_kept_on_one_worker_and_the_longest_begin(shared: Any) -> None:
    first, apart = shared.LONGEST[0], shared.LONGEST[3]
    items = [Item("unit/test_a.py"), Item(apart), Item("unit/test_b.py", "own"), Item(first)]
    shared.pytest_collection_modifyitems(SimpleNamespace(workerinput={}), items)
    assert [i.path for i in items] == [
        TESTS / f for f in (first, apart, "unit/test_a.py", "unit/test_b.py")
    ]
    assert [i.group for i in items] == [first, None, "unit/test_a.py", "own"]


def test_where_tests_run_one_by_one_nothing_is_moved(shared: Any) -> None:
    items = [Item("unit/test_a.py"), Item(shared.LONGEST[0])]
    shared.pytest_collection_modifyitems(SimpleNamespace(), items)
    assert [i.group for i in items] == [None, None]
    assert items[0].path == TESTS / "unit/test_a.py"
