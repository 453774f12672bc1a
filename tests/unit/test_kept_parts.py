"""Files of one table that were finished before a run was stopped are taken up by the next.

No outside source: what is taken up is held against what is read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from test_patterns import cut

from fleetstats.cli import main
from fleetstats.core.crew import Crew, WorkerLost, do_work
from fleetstats.core.shelf import Shelf, open_shelf
from fleetstats.spells.bulk import bulk as bulk_module
from fleetstats.spells.bulk.bulk import BulkRead, read_bulk
from fleetstats.spells.bulk.kept_table import KeptTable
from fleetstats.study.study import read_study

OTHERS = Crew(workers=2)
NAMES = [f"r-{k}.csv" for k in range(1, 5)]


class Work:
    """The work of others, done here one task after the other, and lost after some."""

    def __init__(self, until: int = 99) -> None:
        self.until, self.files = until, []

    def __call__(
        self, function: Callable[[Any], Any], tasks: Sequence[Any], crew: Crew
    ) -> Iterator[tuple[int, Any]]:
        for i, result in do_work(function, tasks, Crew()):
            if i == self.until:
                raise WorkerLost("The scheduler is gone.")
            self.files.append(tasks[i][1].file)
            yield i, result


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FLEETSTATS_KEPT", str(tmp_path / "kept"))
    (tmp_path / "study").mkdir()
    return cut(tmp_path / "study", [25, 50, 70], NAMES, file="r-*.csv")


def read(
    folder: Path, monkeypatch: pytest.MonkeyPatch, work: Work, shelf: Shelf | None, crew: Crew
) -> BulkRead:
    monkeypatch.setattr(bulk_module, "do_work", work)
    return read_bulk(read_study(folder), crew=crew, **asked(shelf))


def asked(shelf: Shelf | None) -> dict[str, Any]:
    return {"kept": KeptTable(shelf=shelf)}


def shelf_of(folder: Path, said: list[str]) -> Shelf:
    shelf = open_shelf(folder, tell=said.append)
    assert shelf is not None
    return shelf


def told(read: BulkRead) -> tuple[Any, ...]:
    return read.bulk, read.labels, read.in_service, read.running, read.tally.spells()


def as_parquet(folder: Path) -> None:
    import pyarrow.csv as pc
    import pyarrow.parquet as pq

    for name in NAMES:
        pq.write_table(pc.read_csv(folder / name), (folder / name).with_suffix(".parquet"))
        (folder / name).unlink()
    text = (folder / "study.toml").read_text("utf-8")
    (folder / "study.toml").write_text(text.replace("r-*.csv", "r-*.parquet"), "utf-8")


@pytest.mark.parametrize(
    ("kind", "crew"), [("csv", OTHERS), ("parquet", OTHERS), ("parquet", Crew())]
)
def test_a_run_that_was_stopped_goes_on_where_it_was(
    room: Path, monkeypatch: pytest.MonkeyPatch, kind: str, crew: Crew
) -> None:
    if kind == "parquet":
        as_parquet(room)
    plain = told(read(room, monkeypatch, Work(), None, crew))
    said: list[str] = []
    shelf = shelf_of(room, said)
    with pytest.raises(WorkerLost):
        read(room, monkeypatch, Work(until=2), shelf, crew)
    rest = Work()
    assert told(read(room, monkeypatch, rest, shelf, crew)) == plain
    assert rest.files == [f"r-{k}.{kind}" for k in (3, 4)]
    assert [x.partition(":")[0] for x in said] == [
        "2 of 4 files are as they were when they were read before"
    ]
    # a file that changed is read again, alone
    changed = room / f"r-2.{kind}"
    changed.write_bytes((room / f"r-3.{kind}").read_bytes())
    again = Work()
    got = read(room, monkeypatch, again, shelf, crew)
    assert again.files == [changed.name]
    assert told(got) == told(read(room, monkeypatch, Work(), None, crew)) != plain


@pytest.mark.parametrize("order", [[3, 2, 1, 0], [2, 0, 3, 1]])
def test_the_order_in_which_files_are_done_changes_nothing(
    room: Path, monkeypatch: pytest.MonkeyPatch, order: list[int]
) -> None:
    class Turned(Work):
        def __call__(self, function: Any, tasks: Any, crew: Crew) -> Iterator[tuple[int, Any]]:
            done = dict(super().__call__(function, tasks, crew))
            yield from ((i, done[i]) for i in order)

    plain = told(read(room, monkeypatch, Work(), None, OTHERS))
    assert told(read(room, monkeypatch, Turned(), None, OTHERS)) == plain


def test_what_settings_turn_is_not_taken_up(room: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    shelf = shelf_of(room, [])
    read(room, monkeypatch, Work(), shelf, OTHERS)
    text = (room / "study.toml").read_text("utf-8")
    (room / "study.toml").write_text(text.replace('"set-aside"', '"accept"'), "utf-8")
    work = Work()
    got = read(room, monkeypatch, work, shelf, OTHERS)
    assert len(work.files) == 4
    assert told(got) == told(read(room, monkeypatch, Work(), None, OTHERS))


def test_a_file_that_changed_while_it_was_read_is_not_kept(
    room: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf = shelf_of(room, [])

    class Changing(Work):
        def __call__(self, function: Any, tasks: Any, crew: Crew) -> Iterator[tuple[int, Any]]:
            for i, part in super().__call__(function, tasks, crew):
                part.steady = i != 1
                yield i, part

    read(room, monkeypatch, Changing(), shelf, OTHERS)
    # the table as a whole is no longer as it was
    grown = room / "r-3.csv"
    grown.write_bytes(grown.read_bytes() + b"\n")
    work = Work()
    read(room, monkeypatch, work, shelf, OTHERS)
    assert work.files == ["r-2.csv", "r-3.csv"]


def test_the_verb_takes_up_what_is_kept_and_again_forgets(
    room: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    call = ["study", str(room), "--chunks", "--quick", "--workers", "2", "--no-history", "--out"]
    for more, until, files in (([], 3, 3), ([], 99, 1), (["--again"], 1, 1)):
        work = Work(until)
        monkeypatch.setattr(bulk_module, "do_work", work)
        got = CliRunner().invoke(main, [*call, str(room.parent / "out"), *more])
        assert len(work.files) == files
        assert got.exit_code == (0 if until == 99 else 1), got.output
        assert ("3 of 4 files are as they were" in got.output) == (until == 99)
        assert "Traceback" not in got.output
