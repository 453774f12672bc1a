"""Lives that were read before are taken up with their audit, and no digit shows it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from fleetstats.core.errors import ReadError, RecordError
from fleetstats.core.shelf import Shelf, open_shelf
from fleetstats.records.mending.take import GIVE, Decision, take_mends
from fleetstats.records.mends.log import MENDS_FILE
from fleetstats.studies import kept_lives
from fleetstats.studies.analyse import analyse, read_lives_of
from fleetstats.studies.by_chunks import lives_by_chunks
from fleetstats.studies.kept_lives import Read, taken_or_read
from fleetstats.study.study import Study, read_study

DATA = Path(__file__).parents[2] / "datasets"


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FLEETSTATS_KEPT", str(tmp_path / "kept"))
    monkeypatch.setattr(kept_lives, "FROM_ROWS", 1)
    return tmp_path


@pytest.fixture
def said() -> list[str]:
    return []


def copy(name: str, room: Path) -> Path:
    shutil.copytree(DATA / name, room / name)
    return room / name


def get(folder: Path, said: list[str]) -> Read:
    study, shelf = read_study(folder), open_shelf(folder, tell=said.append)
    return taken_or_read(shelf, study, lambda: read_lives_of(study))


def same(a: Read, b: Read) -> bool:
    return all(x == y and repr(x) == repr(y) for x, y in zip(a, b, strict=True)) and (
        json.dumps([x.to_dict() for x in a]) == json.dumps([x.to_dict() for x in b])
    )


@pytest.mark.parametrize("name", ["tow-clubs", "on-condition", "workshop", "quiet-fleet"])
def test_what_is_taken_up_is_what_is_read(room: Path, said: list[str], name: str) -> None:
    folder = copy(name, room)
    first, second = get(folder, said), get(folder, said)
    assert len(said) == 1
    assert "as they were" in said[0]
    assert same(first, second)
    assert same(second, read_lives_of(read_study(folder)))
    # rows stay the very ones that the audit used, as chapters that look for them ask
    records, audit, built = second
    own = {id(x) for x in records.rows}
    assert any(id(x) in own for x in audit.used)
    assert not built.spells.entry.flags.writeable


def change(folder: Path, old: str, new: str, file: str = "study.toml") -> None:
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8")


def test_settings_that_reading_does_not_ask_leave_the_lives(room: Path, said: list[str]) -> None:
    folder = copy("quiet-fleet", room)
    get(folder, said)
    change(folder, "seed = ", "commercial = true\nseed = ")
    assert same(get(folder, said), read_lives_of(read_study(folder)))
    assert len(said) == 1


@pytest.mark.parametrize(
    "how",
    [
        ("study.toml", "analysis_date = ", "since = 2015-01-01\nanalysis_date = "),
        ("study.toml", "[[records]]", '[portfolio]\nfamily = "build"\n[[records]]'),
        ("study.toml", 'file = "', 'encoding = "utf-8"\nfile = "'),
        ("FILE", "running", "lost"),
        (MENDS_FILE, "", ""),
    ],
)
def test_what_reading_asks_is_read_anew_where_it_changed(
    room: Path, said: list[str], how: tuple[str, str, str]
) -> None:
    folder = copy("quiet-fleet", room)
    get(folder, said)
    file, old, new = how
    if file == MENDS_FILE:
        (folder / file).write_text("", encoding="utf-8")
    else:
        change(folder, old, new, read_study(folder).files[0].file if file == "FILE" else file)
    try:
        expected = read_lives_of(read_study(folder))
    except Exception as error:
        with pytest.raises(type(error)):
            get(folder, said)
    else:
        assert same(get(folder, said), expected)
    assert said == []


LINES = "".join(f"E{i};{400 + i};running\n" for i in range(6))


def mended(room: Path) -> Path:
    """Return a study of which one cell was decided about."""
    (room / "study.toml").write_text(
        '[study]\ntitle = "made"\nanalysis_date = 2025-12-31\nclaimed_interval_h = 500\n'
        '[merge]\nreturns = false\n[[records]]\nfile = "lives.csv"\n', "utf-8",
    )  # fmt: skip
    text = f"engine;exit_hours;ending\n{LINES}A;1O50;running\n"
    (room / "lives.csv").write_text(text, "utf-8")
    give(room, "1050")
    return room


def give(folder: Path, new: str) -> None:
    decision = Decision(file="lives.csv", row=8, column="exit_hours", act=GIVE, new=new,
                        why="seen in the log", by="keeper")  # fmt: skip
    take_mends(read_study(folder), [decision])


def ends_of(folder: Path, said: list[str], *, chunks: bool) -> float:
    """Return the latest end, which is that of the cell decided about."""
    if not chunks:
        return get(folder, said)[2].spells.oldest_h
    shelf = open_shelf(folder, tell=said.append)
    return lives_by_chunks(read_study(folder), shelf=shelf)[2].spells.oldest_h


@pytest.mark.parametrize("chunks", [False, True])
def test_lives_are_kept_with_what_was_decided_about_cells(
    room: Path, said: list[str], chunks: bool
) -> None:
    folder = mended(room)
    assert [ends_of(folder, said, chunks=chunks) for _ in range(2)] == [1050.0, 1050.0]
    assert len(said) == 1
    # another decision about the same cell
    give(folder, "1150")
    assert ends_of(folder, said, chunks=chunks) == 1150.0
    assert len(said) == 1
    # none: then the cell cannot be read
    (folder / MENDS_FILE).unlink()
    with pytest.raises(RecordError):
        ends_of(folder, said, chunks=chunks)
    # a file that grew is another one than that of which was decided
    mended(room)
    with (folder / "lives.csv").open("a", encoding="utf-8") as f:
        f.write("B;2000;running\n")
    with pytest.raises((RecordError, ReadError)):
        ends_of(folder, said, chunks=chunks)
    assert len(said) == 1


@pytest.mark.slow
def test_a_whole_study_says_the_same(room: Path, said: list[str]) -> None:
    folder = copy("quiet-fleet", room)
    get(folder, said)

    def told(study: Study, shelf: Shelf | None) -> str:
        return json.dumps(analyse(study, shelf=shelf).to_dict())

    study = read_study(folder)
    assert told(study, open_shelf(folder, tell=said.append)) == told(study, None)
    assert len(said) == 1


def test_few_rows_are_not_kept(
    room: Path, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.undo()
    monkeypatch.setenv("FLEETSTATS_KEPT", str(room / "kept"))
    folder = copy("quiet-fleet", room)
    get(folder, said)
    assert not (room / "kept").exists()
