"""`fleetstats portfolio`: kept families, pages on demand, Ctrl-C, exit codes."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from portfolio_tables import family_lines, write_table

from fleetstats.cli import main
from fleetstats.portfolio import ranking as portfolio_module
from fleetstats.portfolio import store
from fleetstats.portfolio.family import FamilyRow, advise_family
from fleetstats.portfolio.store import keep_row, read_kept, revive
from fleetstats.records.split_families import read_portfolio

BAD = "B-1,bad one,100,exploded,2025-01-01,2025-12-31,"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    lines = [x for k in range(3) for x in family_lines(f"p{k}", 40, seed=k)]
    return write_table(tmp_path / "parts", [*lines, BAD])


def run(*args: object) -> Any:
    return CliRunner().invoke(main, ["portfolio", *map(str, args)])


def test_a_ranking_is_written_and_the_stopped_family_is_told(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = run(folder, "--out", out, "--workers", 1)
    assert done.exit_code == 1, done.output
    assert "4 families, 3 answered, 1 without an answer" in done.stdout
    assert "No answer: bad one" in done.stdout
    assert "This is a statistical summary" in done.stdout
    page = (out / "ranking" / "report.html").read_text("utf-8")
    assert "Families ranked, each by its own records" in page
    assert "&#39;exploded&#39;" in page
    results = json.loads((out / "ranking" / "results.json").read_text())
    assert [r["row"]["family"] for r in results["ranked"]][-1] == "bad one"
    account = (out / "ranking" / "tables" / "account.csv").read_text()
    assert "121 read = 120 of answered families + 1 of families without an answer + 0" in account


def test_finished_families_are_kept_and_not_done_again(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    first = run(folder, "--out", out, "--workers", 1, "--json", "--quiet")

    def never(_: Any) -> None:
        raise AssertionError("done again")

    monkeypatch.setattr(portfolio_module, "advise_family", never)
    again = run(folder, "--out", out, "--workers", 1, "--json", "--quiet")
    assert again.stdout == first.stdout
    assert run(folder, "--out", out, "--workers", 1, "--again").exit_code == 1


def test_ctrl_c_leaves_no_ranking_and_loses_no_finished_family(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    real, n = advise_family, 0

    def interrupted(family: Any) -> FamilyRow:
        nonlocal n
        n += 1
        if n == 3:
            raise KeyboardInterrupt
        return real(family)

    monkeypatch.setattr(portfolio_module, "advise_family", interrupted)
    stopped = run(folder, "--out", out, "--workers", 1)
    assert stopped.exit_code == 130
    assert "2 of 4 families are kept" in stopped.stderr
    assert not (out / "ranking").exists()
    assert len(list((out / "kept").iterdir())) == 2
    assert run(folder, "--out", out, "--workers", 1).exit_code == 1
    assert n == 5
    assert (out / "ranking" / "report.html").is_file()


def test_a_real_interrupt_of_local_processes_leaves_no_partial_report(tmp_path: Path) -> None:
    """A real process group, a real SIGINT: workers end, nothing half-written stays."""
    lines = [x for k in range(60) for x in family_lines(f"p{k}", 30, seed=k)]
    folder, out = write_table(tmp_path / "parts", lines), tmp_path / "out"
    process = subprocess.Popen(
        [sys.executable, "-c", "from fleetstats.cli import main; main()", "portfolio",
         str(folder), "--out", str(out), "--workers", "2"],
        stderr=subprocess.PIPE, stdout=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline and not list((out / "kept").glob("*.json")):
        assert process.poll() is None
        time.sleep(0.05)
    os.killpg(process.pid, signal.SIGINT)
    said, errors = process.communicate(timeout=60)
    assert process.returncode == 130, errors
    assert said == ""
    assert "the same command goes on from there" in errors
    assert "Traceback" not in errors
    assert [p.name for p in out.iterdir()] == ["kept"]
    assert not list(out.rglob("*.part"))


def test_a_page_on_demand_is_that_family_s_whole_report(tmp_path: Path) -> None:
    quiet = [f"E{i},p1,{100 + 50 * i},running,2024-01-01,2025-12-31," for i in range(14)]
    lines = [*quiet, *family_lines("p2", 20, seed=1), BAD]
    folder, out = write_table(tmp_path / "parts", lines), tmp_path / "out"
    done = run(folder, "--out", out, "--workers", 1, "--page", "P1")
    assert done.exit_code == 1, done.output
    pages = list((out / "pages").iterdir())
    assert [p.name[:2] for p in pages] == ["p1"]
    page = (pages[0] / "report.html").read_text("utf-8")
    assert "Parts of a fleet: p1" in page
    before = (pages[0] / "report.html").stat().st_mtime_ns
    assert run(folder, "--out", out, "--workers", 1, "--page", "p1").exit_code == 1
    assert (pages[0] / "report.html").stat().st_mtime_ns == before
    assert "pages/p1" in (out / "ranking" / "tables" / "ranking.csv").read_text()


def test_an_unknown_family_is_told_with_the_nearest(folder: Path, tmp_path: Path) -> None:
    done = run(folder, "--out", tmp_path / "out", "--page", "bad on")
    assert done.exit_code == 2
    assert "Did you mean 'bad one'?" in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_row_comes_back_from_disk_as_it_was(folder: Path, tmp_path: Path) -> None:
    rows = [advise_family(f) for f in read_portfolio(folder).families]
    for row in rows:
        keep_row(tmp_path, row)
    assert read_kept(tmp_path) == {r.digest: r for r in rows}
    assert revive(FamilyRow, rows[1].to_dict()) == rows[1]


def test_a_kept_row_that_was_edited_or_that_other_versions_made_is_done_again(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    row = advise_family(read_portfolio(folder).families[1])
    keep_row(tmp_path, row)
    path = tmp_path / "kept" / f"{row.slug}.json"
    kept = path.read_text()
    assert list(read_kept(tmp_path).values()) == [row]
    assert row.n_failed != 0
    edited = json.loads(kept)
    edited["row"]["n_failed"] = 0
    path.write_text(json.dumps(edited))
    assert read_kept(tmp_path) == {}
    path.write_text(kept)
    monkeypatch.setattr(store, "installed_versions", lambda: {"scipy": "9.9"})
    assert read_kept(tmp_path) == {}


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", "null", '{"family": "x"}', "[" * 100_000, '{"schema": 1e999}', "\x00"],
)
def test_a_kept_file_that_is_damaged_is_done_again(folder: Path, tmp_path: Path, text: str) -> None:
    row = advise_family(read_portfolio(folder).families[1])
    keep_row(tmp_path, row)
    path = tmp_path / "kept" / f"{row.slug}.json"
    path.write_text(text)
    assert read_kept(tmp_path) == {}
    data = row.to_dict() | {"n_failed": "many"}
    path.write_text(json.dumps(data))
    assert read_kept(tmp_path) == {}


@pytest.mark.parametrize("where", [".", "", "mine"])
def test_a_place_that_is_not_its_own_is_refused_before_the_work(
    where: str, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As of `study --out`: the current folder, and a ranking that holds files of others."""
    (tmp_path / "mine" / "ranking").mkdir(parents=True)
    (tmp_path / "mine" / "ranking" / "notes.txt").write_text("mine", "utf-8")
    monkeypatch.chdir(tmp_path / "mine")
    before = sorted(tmp_path.rglob("*"))
    got = run(folder, "--out", where if where != "mine" else tmp_path / "mine")
    assert got.exit_code == 1
    assert "cannot go to the current folder" in got.stderr
    monkeypatch.chdir(tmp_path)
    got = run(folder, "--out", tmp_path / "mine")
    assert "holds files that this program did not write ('notes.txt')" in got.stderr
    assert sorted(tmp_path.rglob("*")) == before
