"""Of a table that grew neither its first block nor what was added is parted more often than once.

What comes of it is held against the table read anew, with nothing kept.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from test_kept_rows import make, rows_of, shelf_of, small_blocks, told_of

from fleetstats.spells.bulk import bulk_part
from fleetstats.tables.csv_chunks import _Blocks

GERMAN = "E9100,0,1.234,running,,03.04.2025,"


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FLEETSTATS_KEPT", str(tmp_path / "kept"))
    small_blocks(monkeypatch, 2500)
    return tmp_path


@pytest.fixture
def settled(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Note each settling."""
    seen: list[str] = []
    plain = bulk_part.settle_file

    def noting(table: Any, *given: Any, **named: Any) -> Any:
        seen.append(table.file)
        return plain(table, *given, **named)

    monkeypatch.setattr(bulk_part, "settle_file", noting)
    return seen


@pytest.fixture
def parted(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Note the first line of each block that is parted."""
    seen: list[int] = []
    plain = _Blocks._chunk

    def noting(self: _Blocks, block: bytes, line: int) -> Any:
        seen.append(line)
        return plain(self, block, line)

    monkeypatch.setattr(_Blocks, "_chunk", noting)
    return seen


def test_what_the_first_rows_settle_is_taken_up_where_the_table_grew(
    room: Path, settled: list[str]
) -> None:
    lines = rows_of(420)
    folder = make(room, lines[:400])
    told_of(folder, shelf_of(folder, []))
    assert len(settled) == 1
    make(room, lines)
    grown = told_of(folder, shelf_of(folder, []))
    assert len(settled) == 1
    assert grown == told_of(folder)
    assert len(settled) == 2


def test_it_is_settled_anew_where_the_first_rows_or_the_stated_marks_are_others(
    room: Path, settled: list[str]
) -> None:
    lines = rows_of(420)
    folder = make(room, lines)
    told_of(folder, shelf_of(folder, []))
    make(room, [*lines[:5], GERMAN, *lines[5:]])
    assert told_of(folder, shelf_of(folder, [])) == told_of(folder)
    assert len(settled) == 3
    study = folder / "study.toml"
    study.write_text(study.read_text("utf-8") + 'decimal = "."\n', "utf-8")
    assert told_of(folder, shelf_of(folder, [])) == told_of(folder)
    assert len(settled) == 5


def test_what_was_added_is_parted_once_though_some_of_it_is_read_again(
    room: Path, parted: list[int]
) -> None:
    lines = rows_of(420)
    folder = make(room, lines[:415])
    told_of(folder, shelf_of(folder, []))
    parted.clear()
    make(room, lines)
    grown = told_of(folder, shelf_of(folder, []))
    assert len(parted) == len(set(parted)) == 1
    assert parted[0] > 300  # of 420 lines, and a block holds some fifty
    assert grown == told_of(folder)
