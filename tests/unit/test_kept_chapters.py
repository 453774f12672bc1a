"""Chapters that were worked out before are taken up one by one, and no digit shows it."""

from __future__ import annotations

import json
import pickle
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fleetstats.advice.results import Results
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.core.shelf import Shelf, digest_content, open_shelf
from fleetstats.core.value import Value
from fleetstats.spells.spells import Spells
from fleetstats.studies import kept_chapters
from fleetstats.studies.analyse import analyse
from fleetstats.studies.asked import EVERY, Listener, work_noting
from fleetstats.studies.kept_chapters import KeptChapters
from fleetstats.study.study import read_study

DATA = Path(__file__).parents[2] / "datasets"


@pytest.fixture(scope="module")
def base() -> Results:
    return analyse(read_study(DATA / "quiet-fleet"), quick=True)


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shelf:
    monkeypatch.setenv("FLEETSTATS_KEPT", str(tmp_path / "kept"))
    monkeypatch.setattr(kept_chapters, "FROM_S", 0.0)
    found = open_shelf(tmp_path)
    assert found is not None
    return found


def work_all(base: Results, shelf: Shelf | None) -> tuple[dict[str, Value], list[str]]:
    """Return the chapters of a quick study, and which of them were taken up."""
    kept, done = KeptChapters(shelf, replace(base, chapters={})), dict[str, Value]()
    for key in base.chapters:
        value = kept.work(key, done)
        if value is not None:
            done[key] = value
    return done, kept.taken


@pytest.fixture(scope="module")
def anew(base: Results) -> dict[str, Value]:
    return work_all(base, None)[0]


def told(chapters: dict[str, Value]) -> str:
    return json.dumps({k: v.to_dict() for k, v in chapters.items()})


def with_setting(base: Results, table: str, **keys: Any) -> Results:
    s = base.settings
    changed = replace(s, **{table: replace(getattr(s, table), **keys)})
    return replace(base, study=replace(base.study, settings=changed))


def test_what_is_taken_up_is_what_is_worked_out(
    base: Results, anew: dict[str, Value], shelf: Shelf
) -> None:
    first, none = work_all(base, shelf)
    second, taken = work_all(base, shelf)
    assert none == []
    assert told(first) == told(second) == told(anew)
    assert all(first[k] == second[k] and repr(first[k]) == repr(second[k]) for k in first)
    assert set(taken) == set(base.chapters)


def test_a_changed_setting_touches_those_that_read_it(
    base: Results, anew: dict[str, Value], shelf: Shelf
) -> None:
    work_all(base, shelf)
    other = with_setting(base, "fleet", hours_per_year=111.0)
    second, taken = work_all(other, shelf)
    assert told(second) == told(work_all(other, None)[0]) != told(anew)
    assert {"outlook", "plan", "departures"} == set(base.chapters) - set(taken)


def test_other_lives_touch_those_that_look_at_them(base: Results, shelf: Shelf) -> None:
    first, _ = work_all(base, shelf)
    rows = base.built.rows
    grown = replace(base, built=replace(base.built, rows=(*rows[:-1], replace(rows[-1], note="x"))))
    second, taken = work_all(grown, shelf)
    assert told(second) == told(first)
    # a note moves no spell: whoever looks at spells alone is not touched
    assert "claim" in taken
    assert not {"plan", "outlook", "hidden"} & set(taken)
    # one that asks a chapter before rests on what that came to
    kept = KeptChapters(shelf, replace(base, chapters={}))
    assert kept.take("weakest", first) is not None
    assert kept.take("weakest", {k: v for k, v in first.items() if k != "hidden"}) is None


def test_one_that_looks_into_the_folder_is_not_kept(base: Results, shelf: Shelf) -> None:
    kept = KeptChapters(shelf, base)
    for key in ("origin", "looks-made"):
        kept.work(key, {})
        assert "study.folder" in work_noting(key, base, {}).asked.parts
        assert kept.take(key, {}) is None


def test_a_file_that_changed_touches_those_that_ask_for_files(
    base: Results, shelf: Shelf, tmp_path: Path
) -> None:
    folder = shutil.copytree(DATA / "quiet-fleet", tmp_path / "study")
    there = replace(base, study=read_study(folder), chapters={})
    KeptChapters(shelf, there).work("recurrence", {})
    assert KeptChapters(shelf, there).take("recurrence", {}) == (None,)
    with there.study.files[0].path.open("a", encoding="utf-8") as f:
        f.write("\n")
    assert KeptChapters(shelf, there).take("recurrence", {}) is None


def test_a_chapter_whose_code_fails_keeps_nothing(
    base: Results, shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> Value:
        raise ArithmeticError("no")

    monkeypatch.setitem(CHAPTERS, "plan", replace(CHAPTERS["plan"], compute=fails))
    with pytest.raises(ArithmeticError):
        KeptChapters(shelf, base).work("plan", {})
    assert not list(shelf.root.rglob("*.kept"))


def test_an_edited_chapter_is_worked_out_anew(base: Results, shelf: Shelf) -> None:
    said: list[str] = []
    shelf = replace(shelf, tell=said.append)
    KeptChapters(shelf, base).work("plan", {})
    (path,) = shelf.root.rglob("*.kept")
    raw = path.read_bytes()
    path.write_bytes(raw[:-9] + bytes([raw[-9] ^ 1]) + raw[-8:])
    kept = KeptChapters(shelf, base)
    assert kept.work("plan", {}) == CHAPTERS["plan"].work_out(base, {})
    assert kept.taken == []
    assert said == [
        "A kept result was not used, since it is edited or damaged; the work is done anew."
    ]


def test_work_below_a_moment_is_not_kept(
    base: Results, shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(kept_chapters, "FROM_S", 1e9)
    KeptChapters(shelf, base).work("plan", {})
    assert not list(shelf.root.rglob("*.kept"))


def test_what_is_asked_for_is_noted(base: Results) -> None:
    heard = Listener()
    seen = heard.base(base)
    assert seen.settings.study.seed == base.settings.study.seed
    assert replace(seen, no_fit="none").spells is base.spells
    done = heard.chapters({"plan": base.chapters["plan"]})
    assert "claim" not in done
    assert done.get("plan") is base.chapters["plan"]
    asked = heard.asked
    assert asked.settings == ("study.seed",)
    assert asked.parts == ("built.spells",)
    assert asked.chapters == ("claim", "plan")
    assert len(done) == 1
    assert EVERY in heard.asked.chapters


def test_what_goes_to_another_process_counts_as_looked_at(base: Results) -> None:
    heard = Listener()
    copy = pickle.loads(pickle.dumps(heard.base(base).built))
    assert type(copy) is type(base.built)
    assert copy == base.built
    assert {"built.rows", "built.trouble"} <= set(heard.asked.parts)


def test_a_digest_tells_content_and_nothing_else() -> None:
    wide = np.arange(6.0).reshape(2, 3)
    text = "so" * 20
    assert digest_content(wide) == digest_content(np.asfortranarray(wide))
    assert digest_content((text, text)) == digest_content(("so" * 20, "so" * 20))
    assert digest_content(frozenset("abc")) == digest_content(frozenset("cba"))
    others = [wide, wide.T, wide.astype(np.float32), wide.ravel(), -wide, [0.0], [-0.0], [0], "0"]
    assert len({digest_content(x) for x in others}) == len(others)
    assert digest_content(lambda: 0) is None
    lives = Spells.of(0, [400, 650], [1, 0])
    assert digest_content(lives) == digest_content(pickle.loads(pickle.dumps(lives)))
    assert digest_content(lives) != digest_content(Spells.of(0, [400, 651], [1, 0]))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["workshop", "tow-clubs", "on-condition"])
def test_a_whole_study_says_the_same(shelf: Shelf, tmp_path: Path, name: str) -> None:
    folder = shutil.copytree(DATA / name, tmp_path / name)
    study, said = read_study(folder), list[str]()
    alone = json.dumps(analyse(study).to_dict())
    for _ in range(2):
        kept = open_shelf(folder, tell=said.append)
        assert json.dumps(analyse(study, shelf=kept).to_dict()) == alone
    assert any("chapters" in x for x in said)
