"""Rows of a long table that were read before are taken up, and nothing but the time shows it."""

from __future__ import annotations

import json
import os
import pickle
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from fleetstats.cli import main
from fleetstats.core import shelf as shelf_room
from fleetstats.core.shelf import Shelf, Unsealed, open_shelf, sealed, unseal
from fleetstats.core.shelf.sealed import MARK, Sealed, take_apart
from fleetstats.core.shelf.shelf import trim
from fleetstats.spells.bulk.bulk_rows import ChunkReader
from fleetstats.studies.by_chunks import lives_by_chunks
from fleetstats.study.study import read_study
from fleetstats.tables import csv_chunks

HEAD = "engine,entry_hours,exit_hours,ending,cause,last_reading_date,note\n"
STUDY = """\
[study]
title = "Many parts"
analysis_date = 2026-02-01
claimed_interval_h = 400
{more}
[fleet]
built = 900
[merge]
returns = false
[treat]
hours-unreadable = "set-aside"
row-long = "set-aside"
duplicate-life = "set-aside"
{treat}
[[records]]
file = "parts.csv"
"""


def rows_of(n: int, seed: int = 3) -> list[str]:
    """Return lines with all that a reader of chunks adds up: odd ones among many plain ones."""
    rng = np.random.default_rng(seed)
    out = []
    for i in range(n):
        end = round(float(rng.uniform(50, 1500)), 1)
        failed = rng.random() < 0.2
        out.append(
            f"E{i:04d},0,{end},{'failed' if failed else 'running'},{'piston' if failed else ''},"
            f"{'2023-03-01' if i % 40 == 0 else '2026-01-15'},"
        )
    for at, line in (
        (10, "E9001,0,many,running,,2026-01-15,"),  # hours that cannot be read
        (60, "E9002,0,about 700,running,,2026-01-15,"),  # hours in words
        (90, "E9003,0,450,failed,Pistn,2026-01-15,"),  # a cause one slip apart
        (150, "E0007,100,300,failed,piston,2026-01-15,"),  # an engine told twice
        (200, "E9004,0,500,running,,2026-01-15,crankshaft broke"),  # a note that tells of trouble
        (201, ""),
        (260, "E9005,0,800,running,,2026-01-15,,,more"),  # too many cells
        (300, "E0020,0,300,failed,piston,2025-12-15,"),
        (301, 'E9006,0,600,running,,2026-01-15,"two\nlines"'),
    ):
        out.insert(at, line)
    return out


ENDS = {"plain": "\n", "marked": "\n", "returns": "\r\n", "old": "\r"}


def make(
    folder: Path, lines: list[str], *, more: str = "", treat: str = "", form: str = "plain"
) -> Path:
    text = HEAD + "\n".join(lines) + "\n"
    code = "utf-8-sig" if form == "marked" else "utf-8"
    (folder / "parts.csv").write_bytes(text.replace("\n", ENDS[form]).encode(code))
    (folder / "study.toml").write_text(STUDY.format(more=more, treat=treat), encoding="utf-8")
    return folder


def small_blocks(monkeypatch: pytest.MonkeyPatch, n_bytes: int) -> None:
    """Read texts in blocks of so few bytes, that a few rows fill several."""
    monkeypatch.setattr(csv_chunks, "BLOCK", n_bytes)
    monkeypatch.setattr(csv_chunks, "HEAD", n_bytes)


def told_of(folder: Path, shelf: Shelf | None = None) -> str:
    """Return all that reading gives, as text."""
    _, audit, built, chapters, _ = lives_by_chunks(read_study(folder), shelf=shelf)
    bulk = chapters["bulk"]
    rest = [repr(x) for x in (bulk.told, bulk.left_out, bulk.trouble, audit.findings)]
    return "\n".join(
        [json.dumps(bulk.to_dict()), built.spells.to_frame().to_csv(), repr(built.funnel), *rest]
    )


@pytest.fixture
def said() -> list[str]:
    return []


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("FLEETSTATS_KEPT", str(tmp_path / "kept"))
    return tmp_path


def shelf_of(folder: Path, said: list[str], *, again: bool = False) -> Shelf:
    shelf = open_shelf(folder, again=again, tell=said.append)
    assert shelf is not None
    return shelf


@pytest.mark.parametrize(
    ("cut", "block", "form"),
    [(90, 1500, "plain"), (155, 2500, "marked"), (305, 5000, "plain"), (410, 900, "returns")],
)
def test_a_table_that_grew_gives_what_it_gives_read_anew(
    room: Path, said: list[str], monkeypatch: pytest.MonkeyPatch, cut: int, block: int, form: str
) -> None:
    small_blocks(monkeypatch, block)
    lines = rows_of(420)
    folder = make(room, lines[:cut], form=form)
    told_of(folder, shelf_of(folder, said))
    assert said == []
    make(room, lines, form=form)
    assert told_of(folder, shelf_of(folder, said)) == told_of(folder)
    assert len(said) == 1
    assert "those below are read" in said[0]
    # and once more, now that all is kept
    assert told_of(folder, shelf_of(folder, said)) == told_of(folder)
    assert "is as it was" in said[1]


def test_of_a_table_that_grew_rows_looked_at_one_by_one_are_not_read_again(
    room: Path, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    small_blocks(monkeypatch, 5000)
    lines = rows_of(420)
    # one more row of an engine that failed, which turns what its first row says into a doubt
    grown = [*lines, "E9100,0,700,running,,2026-01-15,", "E9004,500,510,failed,piston,2026-01-20,"]
    folder = make(room, lines[:400])
    told_of(folder, shelf_of(folder, said))
    make(room, grown)
    anew = told_of(folder)
    again: list[int] = []
    real = ChunkReader.read_again

    def noting(self: ChunkReader, chunk: Any, wanted: Any) -> Any:
        again.extend(wanted.tolist())
        return real(self, chunk, wanted)

    monkeypatch.setattr(ChunkReader, "read_again", noting)
    assert told_of(folder, shelf_of(folder, said)) == anew
    place = min(int(json.loads(p.read_bytes().split(b"\n", 3)[2])["about"]["place"]["line"])
                for p in (room / "kept").rglob("rows-*.kept"))  # fmt: skip
    assert 250 < place < 400
    # nearly all lives of so few rows are looked at, and those of the first run are at hand
    assert 20 <= len(set(again)) <= len(grown) + 2 - place
    assert min(again) >= place


def test_lines_that_end_in_returns_alone_are_read_anew(
    room: Path, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    small_blocks(monkeypatch, 1500)
    folder = make(room, rows_of(200)[:180], form="old")
    told_of(folder, shelf_of(folder, said))
    make(room, rows_of(200), form="old")
    assert told_of(folder, shelf_of(folder, said)) == told_of(folder)
    assert said == []


def test_settings_that_reading_does_not_ask_leave_the_rows_as_they_are(
    room: Path, said: list[str]
) -> None:
    folder = make(room, rows_of(300))
    told_of(folder, shelf_of(folder, said))
    make(room, rows_of(300), more="confidence = 0.8")
    assert told_of(folder, shelf_of(folder, said)) == told_of(folder)
    assert len(said) == 1
    # but not those that it asks
    make(room, rows_of(300), treat='reading-stale = "set-aside"')
    assert told_of(folder, shelf_of(folder, said)) == told_of(folder)
    assert len(said) == 1


def test_a_row_that_changed_above_is_read_again(
    room: Path, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    small_blocks(monkeypatch, 1500)
    lines = rows_of(300)
    folder = make(room, lines)
    told_of(folder, shelf_of(folder, said))
    lines[20] = lines[20].replace("E00", "E77")
    make(room, [*lines, "E9100,0,500,running,,2026-01-15,"])
    assert told_of(folder, shelf_of(folder, said)) == told_of(folder)
    assert said == []


@pytest.mark.parametrize("at", ["head", "body"])
def test_an_edited_kept_file_is_refused_with_a_word(room: Path, said: list[str], at: str) -> None:
    folder = make(room, rows_of(300))
    told_of(folder, shelf_of(folder, said))
    (path,) = (room / "kept").rglob("*.kept")
    raw = path.read_bytes()
    edits = {
        "head": raw.replace(b'"fleet.built": 900', b'"fleet.built":  900'),
        "body": raw[:-9] + b"\0" + raw[-8:],
    }
    changed = edits[at]
    assert changed != raw
    path.write_bytes(changed)
    assert told_of(folder, shelf_of(folder, said)) == told_of(folder)
    assert said == [
        "A kept result was not used, since it is edited or damaged; the work is done anew."
    ]
    said.clear()
    told_of(folder, shelf_of(folder, said))
    assert "is as it was" in said[0]


def test_no_version_takes_up_what_another_kept(
    room: Path, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = make(room, rows_of(300))
    told_of(folder, shelf_of(folder, said))
    (path,) = (room / "kept").rglob("*.kept")
    later = {**sealed.versions_now(), "numpy": "99"}
    for module in (sealed, shelf_room.shelf):
        monkeypatch.setattr(module, "versions_now", lambda: later)
    shelf = shelf_of(folder, said)
    assert shelf.folder != path.parent.parent
    told_of(folder, shelf)
    assert said == []
    # nor where it was carried into that version's folder
    os.replace(path, next(shelf.folder.glob("*.kept")))  # noqa: PTH105
    told_of(folder, shelf)
    assert said == ["A kept result was not used, since it is of another version; the work is done "
                    "anew."]  # fmt: skip


def test_two_runs_at_once_give_what_one_gives(room: Path) -> None:
    folder = make(room, rows_of(300))
    alone = told_of(folder)

    def run(_: int) -> str:
        return told_of(folder, open_shelf(folder))

    with ThreadPoolExecutor(4) as pool:
        assert set(pool.map(run, range(8))) == {alone}
    names = [p.name for p in (room / "kept").rglob("*") if p.is_file()]
    assert len(names) == 1
    assert names[0].endswith(".kept")


def test_a_file_that_changes_while_it_is_read_is_not_kept(
    room: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    small_blocks(monkeypatch, 1500)
    folder = make(room, rows_of(300))
    grown: list[int] = []

    def stage(said: str) -> None:
        if "rows" in said and not grown:
            grown.append(1)
            with (folder / "parts.csv").open("a") as f:
                f.write("E9200,0,500,running,,2026-01-15,\n")

    lives_by_chunks(read_study(folder), stage, shelf=open_shelf(folder))
    assert not list((room / "kept").rglob("account-*.kept"))
    # its first rows may have been kept before it changed, by what they were
    assert told_of(folder, open_shelf(folder)) == told_of(folder)


def test_no_kind_is_taken_for_another_whose_name_begins_with_it(room: Path) -> None:
    shelf = shelf_of(room, [])
    shelf.keep("calendar-plane", {"of": 1}, "plane")
    for n in range(5):
        shelf.keep("calendar", {"of": n}, "years")
    assert shelf.take("calendar-plane", lambda _: True)[1] == "plane"
    assert shelf.take("calendar", lambda _: True)[1] == "years"
    assert shelf.take("cal", lambda _: True) == ()


def test_the_oldest_make_room(tmp_path: Path) -> None:
    for i in range(5):
        path = tmp_path / "version" / f"study{i}" / "rows-1.kept"
        path.parent.mkdir(parents=True)
        path.write_bytes(bytes(100))
        os.utime(path, (1000 + i, 1000 + i))
    trim(tmp_path, 250)
    assert sorted(p.parent.name for p in tmp_path.rglob("*.kept")) == ["study3", "study4"]


class Harm:
    """What runs a command as it is unpacked."""

    def __reduce__(self) -> Any:
        return os.mkdir, ("harmed",)


@pytest.mark.parametrize("harm", [Harm(), os.mkdir, Shelf.keep])
def test_nothing_but_data_is_made_of_kept_bytes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, harm: object
) -> None:
    monkeypatch.chdir(tmp_path)
    raw = sealed.seal({}, [harm])  # with a checksum that is right
    with pytest.raises(Unsealed, match="is no data"):
        unseal(take_apart(raw))
    assert not (tmp_path / "harmed").exists()
    assert pickle.loads(take_apart(sealed.seal({}, {"a": 1})).body) == {"a": 1}


@pytest.mark.parametrize(
    "raw", [b"", MARK, MARK + b"x\n[]\n", MARK + b"x\n{}\nbody", b"\n\n\n\n\n"]
)
def test_bytes_that_are_no_kept_result_are_told_apart(raw: bytes) -> None:
    with pytest.raises(Unsealed):
        take_apart(raw)
    kept = take_apart(sealed.seal({"a": 1}, 2))
    assert isinstance(kept, Sealed)
    assert unseal(kept) == 2
    with pytest.raises(Unsealed, match="edited"):
        unseal(replace(kept, body=kept.body + b"."))


def test_no_memory_to_keep_or_take_up_changes_nothing(
    room: Path, said: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = make(room, rows_of(300))
    alone = told_of(folder)

    def none(*_: object, **__: object) -> None:
        raise MemoryError

    with monkeypatch.context() as patch:
        patch.setattr(sealed.pickle, "dumps", none)
        assert told_of(folder, shelf_of(folder, said)) == alone
    assert not list((room / "kept").rglob("*.kept"))
    told_of(folder, shelf_of(folder, said))
    with monkeypatch.context() as patch:
        patch.setattr(sealed, "_Careful", none)
        assert told_of(folder, shelf_of(folder, said)) == alone
    assert said == []
    told_of(folder, shelf_of(folder, said))
    assert "is as it was" in said[0]


def test_a_folder_that_others_may_write_into_is_not_used(room: Path, said: list[str]) -> None:
    (room / "kept").mkdir()
    (room / "kept").chmod(0o777)
    assert open_shelf(room) is None


def test_the_verb_says_what_it_took_up_and_again_forgets(
    room: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # the same results are written, whose report other tests look at
    monkeypatch.setattr("fleetstats.report.write.write_report", lambda *_, **__: Path("x.html"))
    folder = make(room, [x for x in rows_of(300) if "many" not in x])

    def run(*more: str) -> tuple[str, str]:
        got = CliRunner().invoke(
            main, ["study", str(folder), "--chunks", "--json", "--out", str(room / "out"), *more]
        )
        assert got.exit_code == 0, got.output
        return got.stdout, got.stderr

    first = run()
    second, third = run(), run("--again")
    assert first[0] == second[0] == third[0]
    assert ["is as it was" in x for _, x in (first, second, third)] == [False, True, False]


def test_only_the_verb_study_takes_up_what_was_kept() -> None:
    root = Path(__file__).parents[2] / "fleetstats"
    asking = [p.relative_to(root).as_posix() for p in root.rglob("*.py")
              if "open_shelf(" in p.read_text(encoding="utf-8")]  # fmt: skip
    assert sorted(asking) == ["cli/study.py", "core/shelf/shelf.py"]


def test_each_of_many_files_keeps_its_rows(
    room: Path, monkeypatch: pytest.MonkeyPatch, said: list[str]
) -> None:
    small_blocks(monkeypatch, 300)
    make(room, rows_of(310)[91:149])
    text = (room / "parts.csv").read_text("utf-8")
    (room / "parts.csv").unlink()
    for k in range(5):
        (room / f"parts-{k}.csv").write_text(text.replace("\nE", f"\nF{k}"), "utf-8")
    told = (room / "study.toml").read_text("utf-8")
    (room / "study.toml").write_text(told.replace("parts.csv", "parts-*.csv"), "utf-8")
    shelf = open_shelf(room, tell=said.append)
    first = told_of(room, shelf)
    assert said == []
    assert told_of(room, shelf) == first
    assert ["is as it was" in x for x in said] == [True]
    said.clear()
    with (room / "parts-3.csv").open("a", encoding="utf-8") as f:
        f.write("F9999,0,500,running,,2026-01-15,\n")
    grown = told_of(room, shelf)
    assert sum("as they were" in x for x in said) == 5
    assert grown == told_of(room) != first
