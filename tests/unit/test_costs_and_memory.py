"""Long work is announced before it begins, and computing is held to a bound of memory."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from fleetstats.chapters.registry import CHAPTERS
from fleetstats.cli import main
from fleetstats.core.errors import SettingError
from fleetstats.core.memory import LEAST_BYTES, read_memory, say_memory
from fleetstats.portfolio import family as families
from fleetstats.studies import costs, how_read
from fleetstats.studies.single import run_single
from fleetstats.study.study import read_study
from fleetstats.vocabulary.limits import CHUNKS_FROM_BYTES

STUDY = """[study]
title = "Few engines"
analysis_date = 2025-12-31
claimed_interval_h = 100
[[records]]
file = "lives.csv"
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "study.toml").write_text(STUDY, "utf-8")
    rows = [*(f"A{i},{900 + i},running" for i in range(120)), "B,800,failed"]
    (tmp_path / "lives.csv").write_text("\n".join(["engine,exit_hours,ending", *rows, ""]), "utf-8")
    return tmp_path


def test_each_cost_is_of_a_chapter_that_is_worked_out() -> None:
    chapters = {k for k, c in CHAPTERS.items() if c.compute is not None}
    assert set(costs.MEASURED) - chapters == {costs.REPORT}


def test_costs_go_through_what_was_measured_and_never_fall_with_the_lives() -> None:
    for key, measured in costs.MEASURED.items():
        assert costs.seconds_of(key, costs.AT[0]) == pytest.approx(measured[0])
        assert costs.seconds_of(key, costs.AT[1]) == pytest.approx(
            max(measured[1], 5**costs.LEAST_POWER * measured[0])
        )
        at = [costs.seconds_of(key, n) for n in (0, 1, 100, 4999, 5001, 1e5, 1e7)]
        assert at == sorted(at)


def test_short_work_is_not_announced_and_long_work_is_with_its_longest_parts() -> None:
    everything = (*CHAPTERS, costs.REPORT)
    assert costs.say_costs(260, everything) == ""
    assert costs.say_costs(2_000, ("hidden",)) == ""
    assert costs.say_costs(20_000, everything) == ""
    assert costs.say_costs(100_000, everything) == (
        "Up to about 40 s of work on 100,000 lives lie ahead."
    )
    said = costs.say_costs(1_000_000, everything)
    assert said.startswith("Up to about 5 min of work on 1,000,000 lives lie ahead, of it ")
    assert said.index("writing the report about 2 min") < said.index("causes about 20 s")
    assert "whom to ask" not in said
    assert "made up under other truths about 50 s" in costs.say_costs(260, everything, 400)
    assert costs.stage_words("causes", 1_000_000) == "causes (up to about 20 s)"
    assert costs.stage_words("causes", 20_000) == "causes"
    assert costs.say_tasks("studying 900 families", 900, 0.1, workers=2).startswith("About 40 s: ")
    assert costs.stress_seconds(100) == costs.stress_seconds(250) == costs.STRESS_S[0]
    assert costs.stress_seconds(5_000) == pytest.approx(costs.STRESS_S[1])
    assert costs.say_tasks("studying 90 families", 90, 0.1) == ""


def test_a_single_chapter_announces_what_it_needs(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(costs, "MEASURED", {"unreported": (4e5, 2e6), "hidden": (1.0, 4.0)})
    monkeypatch.setattr(costs, "WHOLE_S", (4e5, 2e6))
    told: list[str] = []
    stages: list[str] = []
    run_single(read_study(folder), ("hidden",), stages.append, told.append)
    assert len(told) == 2
    assert told[0].startswith("About ")
    assert ": reading 0 MB of records" in told[0]
    assert told[1].startswith("Up to about 40 min of work on 121 lives lie ahead, of it ")
    assert "failures that nobody told (up to about 40 min)" in stages


def test_a_log_is_announced_by_its_events_and_a_table_by_its_lives(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As measured, no source: a line of a log is no life, of which far fewer come of it."""

    def told(*shapes: str) -> str:
        files = [f'[[records]]\nfile = "{s}.csv"\nshape = "{s}"\n' for s in shapes]
        text = STUDY[: STUDY.index("[[records]]")] + "".join(files)
        (tmp_path / "study.toml").write_text(text, "utf-8")
        for shape in shapes:
            with (tmp_path / f"{shape}.csv").open("wb") as f:
                f.truncate(100 * 2**20)
        return costs.say_reading(read_study(tmp_path), by_chunks=False)

    said = costs.say_seconds(100 * costs.LOG_S_PER_MB)
    assert told("log") == f"{said.capitalize()}: reading 100 MB of records."
    mb_of_lives = [n * costs.BYTES_OF_LIFE / 2**20 for n in costs.AT]
    monkeypatch.setattr(costs, "WHOLE_S", tuple(0.6 * mb for mb in mb_of_lives))
    monkeypatch.setattr(costs, "LOG_S_PER_MB", 0.3)
    assert told("lives") == "About 60 s: reading 100 MB of records."
    assert told("log") == "About 30 s: reading 100 MB of records."
    assert told("lives", "log") == "About 90 s: reading 200 MB of records."


@pytest.mark.parametrize(
    ("text", "n", "n_bytes"),
    [("2GB", 1, 2 * 10**9), ("2 gib", 1, 2**31), ("1500MB", 2, 75 * 10**7)],
)
def test_a_size_of_memory_is_read(text: str, n: int, n_bytes: int) -> None:
    assert read_memory(text, processes=n) == n_bytes


@pytest.mark.parametrize("text", ["", "2", "GB", "-2GB", "2TB", "1e3GB", "599MB", "0GB", "２GB"])
def test_what_is_no_size_of_memory_or_too_little_is_refused(text: str) -> None:
    with pytest.raises(SettingError, match=r"memory"):
        read_memory(text)


def test_a_memory_shared_by_too_many_is_refused_with_what_would_do(tmp_path: Path) -> None:
    got = CliRunner().invoke(
        main, ["portfolio", str(tmp_path), "--workers", "4", "--memory", "2GB"]
    )
    assert got.exit_code == 2
    assert "400 MB for each of 5 processes" in got.stderr
    assert f"{say_memory(5 * LEAST_BYTES)} or more" in got.stderr


def test_within_a_memory_shorter_tables_are_read_by_chunks(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = read_study(folder)
    assert how_read.chunks_from(None)[0] == CHUNKS_FROM_BYTES
    assert how_read.chunks_from(10**12)[0] == CHUNKS_FROM_BYTES
    sizes = [how_read.chunks_from(m)[0] for m in (6 * 10**8, 10**9, 2 * 10**9)]
    assert sizes == sorted(set(sizes))
    assert not how_read.choose_reading(study, memory=10**9).by_chunks
    monkeypatch.setattr(how_read, "BYTES_A_ROW", 10**8)
    how = how_read.choose_reading(study, memory=10**9)
    assert how.by_chunks
    assert "within a memory of 1 GB" in how.sentence
    assert not how_read.choose_reading(study, False, memory=10**9).by_chunks


def test_lives_that_do_not_fit_are_told_with_the_memory_that_would_do(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The verb told of --workers and --chunks, also where neither was used nor could be."""

    def fail(*_: object, **__: object) -> None:
        raise MemoryError

    size = (folder / "lives.csv").stat().st_size
    n = 100 * round(size / how_read.TEXT_A_ROW / 100)
    monkeypatch.setattr("fleetstats.studies.analyse.analyse", fail)
    asked = ["study", str(folder), "--no-history", "--out", str(folder / "out")]
    got = CliRunner().invoke(main, [*asked, "--memory", "600MB"])
    assert got.exit_code == 2
    assert "do not fit into 600 MB; nothing was written" in got.stderr
    assert f"{n:,} rows, read whole, take about 900 MB" in got.stderr
    assert not (folder / "out").exists()
    monkeypatch.setattr(how_read, "TEXT_A_ROW", size / 200_000)
    got = CliRunner().invoke(main, [*asked, "--memory", "600MB", "--whole"])
    assert "200,000 rows, read whole, take about 3.5 GB" in got.stderr
    with pytest.raises(MemoryError), how_read.told_what_would_do(read_study(folder), None, None):
        fail()


def test_a_family_without_memory_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_: object) -> None:
        raise MemoryError

    monkeypatch.setattr(families, "_advise", fail)
    row = families.advise_family(
        families.Family(name="f", slug="f", digest="", study=None, opened={})
    )
    assert "not enough memory" in row.message


GREEDY = """
import dataclasses, sys
import numpy as np
from fleetstats.chapters import registry

def fail(*_):
    return np.ones(200_000_000)  # 1.6 GB

for key in list(registry.CHAPTERS):
    if key not in ("answer", "claim", "hidden", "unreported", "change", "provenance"):
        del registry.CHAPTERS[key]
chapter = registry.CHAPTERS["unreported"]
registry.CHAPTERS["unreported"] = dataclasses.replace(chapter, compute=fail, show=None)
from fleetstats.cli import main
main()
"""


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux holds data to a bound")
def test_a_chapter_that_does_not_fit_says_so_and_the_report_is_written(folder: Path) -> None:
    """The system itself refuses the memory, in a process of its own."""
    got = subprocess.run(
        [sys.executable, "-c", GREEDY, "study", str(folder), "--out", str(folder / "out"),
         "--memory", "1GB", "--no-history", "--json"],
        capture_output=True, text=True, check=False, cwd=folder,
    )  # fmt: skip
    assert got.returncode in (0, 3), got.stderr
    told = json.loads(got.stdout)
    failed = {t["where"]: t["text"] for t in told["troubles"]}
    assert "not enough memory" in failed["unreported"]
    assert "rests on another part" in failed["hidden"]
    assert told["provenance"]["command"].endswith("--memory '1GB'")
    assert "not enough memory" in (folder / "out" / "report.html").read_text("utf-8")
