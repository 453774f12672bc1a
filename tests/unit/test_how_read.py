"""Whole or by chunks: the study decides by size and says so, or does as asked.

No outside source: both roads have to give the same answers from the same rows.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fleetstats.advice.results import Results
from fleetstats.chapters.cautions import qualify
from fleetstats.chapters.compose import compose_report
from fleetstats.chapters.data.long_table import CHAPTERS_LEFT_OUT, LEFT_OUT
from fleetstats.chapters.registry import CHAPTERS
from fleetstats.cli import main
from fleetstats.core.errors import SettingError
from fleetstats.document.document import Document, Statement
from fleetstats.spells.bulk.bulk_study import unmet_conditions
from fleetstats.studies import how_read
from fleetstats.studies.analyse import analyse
from fleetstats.studies.how_read import choose_reading
from fleetstats.studies.long_chapters import LONG_CHAPTERS
from fleetstats.study.study import Study, read_study

DATA = Path(__file__).parents[2] / "datasets"
BY_CHUNKS = ("new-mode", "on-condition", "on-condition-2025", "quiet-fleet")
"""Shipped data sets that can be read by chunks."""
CLOSE = 1e-9
"""Equal rows are added up in another order; a search that starts there ends within this."""
CURVATURE = 1e-7
"""Curvatures of other families are taken by differences, which magnify the last digits."""
ROWS = "engine,exit_hours,ending\n" + "".join(
    f"E{i},{300 + 20 * i},{'failed' if i % 4 == 0 else 'running'}\n" for i in range(30)
)
STUDY = """\
[study]
title = "Thirty"
analysis_date = 2026-02-01
claimed_interval_h = 400
{more}
[[records]]
file = "{file}"
"""


def make(folder: Path, more: str = "", file: str = "parts.csv") -> Study:
    """Write a table of thirty invented lives and its study."""
    if file.endswith(".csv"):
        (folder / file).write_text(ROWS, encoding="utf-8")
    else:
        import pandas as pd

        cells = [line.split(",") for line in ROWS.splitlines()]
        frame = pd.DataFrame(cells[1:], columns=cells[0]).astype({"exit_hours": float})
        frame.to_parquet(folder / file)
    (folder / "study.toml").write_text(STUDY.format(more=more, file=file), encoding="utf-8")
    return read_study(folder)


def in_data(document: Document) -> str:
    """Return the statements of *Data and audit*."""
    (data,) = (s for s in document.sections if s.key == "data")
    return " ".join(b.text for b in data.blocks if isinstance(b, Statement))


def test_from_its_limit_on_a_table_of_text_is_read_by_chunks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = make(tmp_path)
    monkeypatch.setattr(how_read, "CHUNKS_FROM_BYTES", len(ROWS) + 1)
    assert (choose_reading(study).by_chunks, choose_reading(study).reason) == (False, "size")
    monkeypatch.setattr(how_read, "CHUNKS_FROM_BYTES", len(ROWS))
    how = choose_reading(study)
    assert (how.by_chunks, how.reason, how.left_out) == (True, "size", LEFT_OUT)
    assert how.sentence.startswith("Read by chunks, since parts.csv has 0.0 MB; ")
    assert not choose_reading(study, chunks=False).by_chunks


def test_from_its_limit_on_a_table_of_parquet_is_read_by_chunks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = make(tmp_path, file="parts.parquet")
    monkeypatch.setattr(how_read, "CHUNKS_FROM_BYTES", 1)  # a packed table is told by its rows
    monkeypatch.setattr(how_read, "CHUNKS_FROM_ROWS", 31)
    assert not choose_reading(study).by_chunks
    monkeypatch.setattr(how_read, "CHUNKS_FROM_ROWS", 30)
    assert choose_reading(study).by_chunks
    assert "parts.parquet has 30 rows" in choose_reading(study).sentence
    (tmp_path / "parts.parquet").write_bytes(b"no table at all")
    assert not choose_reading(study).by_chunks  # and the reader says what is wrong with it


def test_the_choice_is_told_at_the_prompt_in_the_report_and_in_the_data(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    make(tmp_path)
    monkeypatch.setattr(how_read, "CHUNKS_FROM_BYTES", 10)
    folder, out = str(tmp_path), tmp_path / "out"
    got = CliRunner().invoke(main, ["study", folder, "--out", str(out), "--json"])
    assert got.exit_code == 0, got.output
    told = json.loads(got.stdout)["how_read"]
    assert told["by_chunks"] is True
    assert told["left_out"] == list(LEFT_OUT)
    assert got.stderr.startswith(f"{told['sentence']}\n")
    assert told["sentence"] in (out / "report.html").read_text(encoding="utf-8")
    assert json.loads((out / "results.json").read_text(encoding="utf-8"))["how_read"] == told


def test_what_the_study_asks_for_comes_before_size_and_that_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = make(tmp_path, '[hours]\nrounded = "interval"')
    monkeypatch.setattr(how_read, "CHUNKS_FROM_BYTES", 10)
    results = analyse(study)
    assert "bulk" not in results.chapters
    assert results.how_read.reason == "needs"
    assert results.how_read.sentence == (
        "Read whole, though parts.csv has 0.0 MB: by chunks only a study with "
        "hours.rounded = 'as-given'."
    )
    assert results.how_read.sentence in in_data(compose_report(results))


@pytest.mark.parametrize("name", ["tow-clubs", "workshop"])
def test_chunks_that_cannot_be_are_refused(name: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    got = CliRunner().invoke(main, ["study", str(DATA / name), "--chunks", "--out", str(out)])
    assert got.exit_code == 2
    assert "only in a study with record files of shape 'lives' alone." in got.stderr
    assert "Read by chunks" not in got.stderr
    assert not out.exists()


def test_rows_at_hand_are_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = make(tmp_path)
    monkeypatch.setattr(how_read, "CHUNKS_FROM_BYTES", 10)
    assert not choose_reading(study, at_hand=True).by_chunks
    with pytest.raises(SettingError, match="at hand"):
        choose_reading(study, chunks=True, at_hand=True)


def test_the_command_that_is_printed_asks_for_the_same(tmp_path: Path) -> None:
    study = make(tmp_path)
    for chunks, option in ((None, ""), (True, " --chunks"), (False, " --whole")):
        command = analyse(study, chunks).provenance.command
        assert command == f"fleetstats study {study.name}{option}"


def test_the_page_of_many_parts_says_from_which_size_on() -> None:
    page = DATA.parent / "reports" / "docs" / "many-parts.md"
    assert how_read.FROM in " ".join(page.read_text(encoding="utf-8").split())


def test_the_verb_that_was_is_named_with_what_does_its_work() -> None:
    got = CliRunner().invoke(main, ["large", "parts"])
    assert got.exit_code == 2
    assert "There is no verb 'large'. 'fleetstats study --chunks'" in got.stderr
    other = CliRunner().invoke(main, ["stud", "parts"])
    assert "There is no verb 'stud'. Did you mean 'study'?" in other.stderr


def test_every_chapter_that_is_left_out_is_named() -> None:
    named = [key for keys in CHAPTERS_LEFT_OUT.values() for key in keys]
    assert len(named) == len(set(named))
    computed = {k for k, c in CHAPTERS.items() if c.compute is not None}
    assert set(named) == computed - {
        *LONG_CHAPTERS,
        "claim",
        "cautions",
        "declared",
        "departures",
        "looks",
        "looks-made",
        "mends",
        "origin",
        "weakest",
    }


def test_which_shipped_data_sets_can_be_read_by_chunks() -> None:
    folders = [p.parent for p in DATA.glob("*/study.toml")]
    able = {f.name for f in folders if not unmet_conditions(read_study(f))}
    assert able == set(BY_CHUNKS)


@pytest.fixture(scope="module", params=BY_CHUNKS)
def both(request: pytest.FixtureRequest) -> tuple[Results, Results]:
    study = read_study(DATA / request.param)
    return analyse(study, chunks=False), analyse(study, chunks=True)


def test_answers_by_chunks_are_those_of_the_whole_table(both: tuple[Results, Results]) -> None:
    # what is open about a claim hangs on chapters that are left out
    bare = [qualify(r, ()) for r in both]
    whole, chunks = (r.to_dict() for r in bare)
    for told in (whole, chunks):
        told["advice"].pop("cautions")
        told["chapters"]["claim"].pop("subsets")  # sources and builds, which are left out
    for part in ("advice", "sureness", "fit", "no_fit", "comparison", "description", "assumptions"):
        assert not list(differ(whole[part], chunks[part], part))
    claims = [told["chapters"]["claim"] for told in (whole, chunks)]
    assert not list(differ(*claims, "claim"))
    said = [r.answer_lines()[:5] for r in bare]
    assert said[0] == said[1]


def test_only_what_is_named_is_left_out(both: tuple[Results, Results]) -> None:
    whole, chunks = both
    named = {key for keys in CHAPTERS_LEFT_OUT.values() for key in keys}
    assert set(whole.chapters) - set(chunks.chapters) <= named
    assert set(chunks.chapters) - set(whole.chapters) == {"bulk", "pairing"}
    codes = [{c.code for c in r.advice.cautions} for r in both]
    assert codes[1] <= codes[0]
    words = in_data(compose_report(chunks))
    assert all(x in words for x in (chunks.how_read.sentence, *LEFT_OUT))
    assert whole.how_read.sentence in in_data(compose_report(whole))


def differ(old: Any, new: Any, path: str) -> Iterator[str]:
    """Yield where two JSON values are not the same to their digits."""
    if isinstance(old, dict) and isinstance(new, dict) and old.keys() == new.keys():
        for key in old:
            yield from differ(old[key], new[key], f"{path}.{key}")
    elif isinstance(old, list) and isinstance(new, list) and len(old) == len(new):
        for i, (a, b) in enumerate(zip(old, new, strict=True)):
            yield from differ(a, b, f"{path}.{i}")
    elif isinstance(old, float) and isinstance(new, float):
        curved = path.startswith("comparison.fits.") and ".covariance." in path
        if old != new and not math.isclose(old, new, rel_tol=CURVATURE if curved else CLOSE):
            yield f"{path}: {old!r} became {new!r}"
    elif old != new:
        yield f"{path}: {old!r} became {new!r}"
