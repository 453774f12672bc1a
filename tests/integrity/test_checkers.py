"""The two plain scripts of a report: they agree where nothing is wrong, and notice what is.

They are an outside source for the package's figures, and it is one for theirs: they share no code.
The fleets of the quick tests are invented.
"""

from __future__ import annotations

import ast
import csv
import importlib.util
import io
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from lives_files import lives_csv
from made_studies import MADE, results_of

from fleetstats.advice.results import Results
from fleetstats.report.checkers import answers as answers_module
from fleetstats.report.checkers.answers import ANSWERS, check_files
from fleetstats.report.write import render_files
from fleetstats.studies.analyse import analyse
from fleetstats.study.study import read_study

SCRIPTS = Path(answers_module.__file__).parent
DATASETS = Path(__file__).parents[2] / "datasets"
DEMOS = ("new-mode", "on-condition", "quiet-fleet", "tow-clubs", "workshop")
RSCRIPT = shutil.which("Rscript")
STUDY = """\
[study]
title = "Fleet for the checkers"
analysis_date = 2026-01-31
claimed_interval_h = 800

[question]
causes = ["piston"]

[evidence]
resamples = 400

[[records]]
file = "lives.csv"
source = "club"
"""


def _rows(failures: int) -> str:
    """Return lives with late entries, failures between checks and by another cause."""
    rng = np.random.default_rng(14)
    lines = ["engine,entry_hours,exit_hours,last_good_hours,ending,cause"]
    for i, age in enumerate(np.round(rng.uniform(250, 1500, failures), 1)):
        good, ending = (f"{age - 50:.1f}", "found at check") if i % 3 == 0 else ("", "failed")
        lines.append(f"F{i},{200 if i % 2 else 0},{age},{good},{ending},piston")
    if failures:
        lines += ["C1,0,700,,failed,propeller strike", "C2,0,810.5,,failed,propeller strike"]
    ages = np.round(rng.uniform(100, 1600, 50), 1)
    lines += [f"R{i},{60 if i % 4 == 0 else 0},{age},,running," for i, age in enumerate(ages)]
    return "\n".join(lines) + "\n"


def results_here(folder: Path, failures: int) -> Results:
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    (folder / "lives.csv").write_text(_rows(failures), encoding="utf-8")
    return analyse(read_study(folder))


def lay_out(results: Results, folder: Path, files: dict[str, bytes] | None = None) -> Path:
    """Write what the scripts read, and them, as a report does."""
    told = check_files(results) if files is None else files
    for name, data in told.items():
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)
    if not (folder / "lives.csv").is_file():
        (folder / "lives.csv").write_text(lives_csv(results.spells), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def failing(tmp_path_factory: pytest.TempPathFactory) -> Path:
    results = results_here(tmp_path_factory.mktemp("study"), 9)
    return lay_out(results, tmp_path_factory.mktemp("report"))


@pytest.fixture(scope="module")
def quiet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    results = results_here(tmp_path_factory.mktemp("study"), 0)
    return lay_out(results, tmp_path_factory.mktemp("report"))


@pytest.fixture
def script() -> ModuleType:
    """Return check.py, loaded as the file that it is, anew for each test."""
    spec = importlib.util.spec_from_file_location("check_alone", SCRIPTS / "check.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def copy(failing: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(failing, tmp_path / "r"))


def change(path: Path, edit: Callable[[list[dict[str, str]]], list[dict[str, str]]]) -> None:
    with path.open(encoding="utf-8", newline="") as f:
        rows = list(csv.DictReader(f))
    names = list(rows[0])
    out = io.StringIO()
    write = csv.DictWriter(out, names, lineterminator="\n")
    write.writeheader()
    write.writerows(edit(rows))
    path.write_text(out.getvalue(), encoding="utf-8")


def answer_rows(folder: Path) -> list[dict[str, str]]:
    with (folder / ANSWERS).open(encoding="utf-8", newline="") as f:
        return list(csv.DictReader(f))


def test_the_script_needs_the_standard_library_and_numpy_alone() -> None:
    tree = ast.parse((SCRIPTS / "check.py").read_text(encoding="utf-8"))
    used = {a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names}
    used |= {n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)}
    tops = {m.split(".")[0] for m in used}
    assert tops - {"numpy"} <= sys.stdlib_module_names


def test_it_runs_alone_from_the_folder_of_the_report(failing: Path) -> None:
    run = subprocess.run(
        [sys.executable, "-I", "check/check.py"], cwd=failing, capture_output=True, text=True
    )
    assert run.returncode == 0, run.stdout + run.stderr
    lines = run.stdout.splitlines()
    assert lines[0] == "lives.csv: 61 rows count, 1 do not."
    assert lines[-1] == "All figures above agree."
    agreed = [line for line in lines if line.endswith("  yes")]
    checked = [r for r in answer_rows(failing) if r["rule"] not in ("given", "not-checked")]
    assert len(agreed) == len(checked) >= 40


def test_the_figures_are_those_of_every_rule(failing: Path) -> None:
    rows = {r["key"]: r for r in answer_rows(failing)}
    assert {r["rule"] for r in rows.values()} == {
        "given", "count", "product-limit", "weibull", "profile", "assumed-shape",
        "engines-counted", "open-shapes", "not-checked",
    }  # fmt: skip
    assert float(rows["failures_between"]["value"]) == 3
    assert float(rows["competing"]["value"]) == 2
    assert rows["quoted_failure_high"]["value"]


def test_a_fleet_without_failures_says_why_there_is_no_fit(
    quiet: Path, script: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    assert script.main([str(quiet)]) == 0
    told = capsys.readouterr().out
    assert "Nothing failed, so there is no fit to check" in told
    assert "Not checked here: Weibull fit and its limits: there is none. No life ended" in told
    assert "Weibull shape" not in told
    assert "failure by 800 h at most, as the verdict has it" in told


def test_no_altered_answer_passes(
    failing: Path, script: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each figure moved by a ten-thousandth, made blank, or given another rule is a miss."""
    lives, _ = script.read_lives(failing / "lives.csv")
    given, told = script.read_answers(failing / ANSWERS)
    here = script.figures_here(lives, given, list(told))
    script.figures_here = lambda *_: dict(here)
    assert script.compare(lives, given, told) == []
    for key, row in told.items():
        if row["rule"] == "not-checked":
            continue
        x = float(row["value"]) if row["value"] else 0.0
        moved = repr(x * 1.0001 if x else 0.5)
        for changed in ({"value": moved}, {"value": ""}, {"rule": "not-checked"}, {"rule": "x"}):
            if changed == {"rule": "not-checked"} and key.startswith("quoted_"):
                continue  # whether it is quoted is the report's to say; the table lists it as left
            if changed == {"value": row["value"]}:
                continue
            other = told | {key: row | changed}
            assert script.compare(lives, given, other) == [key], (key, changed)
    for key in script.NEEDED:
        rest = {k: v for k, v in told.items() if k != key}
        assert script.compare(lives, given, rest) == [key]
    stranger = told | {"strange": {"label": "strange", "value": "1.0", "rule": "count"}}
    assert script.compare(lives, given, stranger) == ["strange"]
    capsys.readouterr()


ROWS = {
    "an exit later": lambda t: [t[0] | {"exit_high_h": "1700.5", "exit_low_h": "1700.5"}, *t[1:]],
    "a failure taken as running": lambda t: [
        r | {"event": "running"} if r["engine"] == "F1" else r for r in t
    ],
    "a running engine that failed": lambda t: [
        r | {"event": "failed"} if r["engine"] == "R3" else r for r in t
    ],
    "a row left out": lambda t: [r for r in t if r["engine"] != "R5"],
    "a row twice": lambda t: [*t, t[3]],
    "a row not counted": lambda t: [t[0] | {"use": "set aside"}, *t[1:]],
    "a weight": lambda t: [t[0] | {"weight": "2.0"}, *t[1:]],
    "an entry": lambda t: [t[0] | {"entry_h": "150.0"}, *t[1:]],
    "a failure between checks at its end": lambda t: [
        r | {"exit_low_h": r["exit_high_h"]} if r["engine"] == "F0" else r for r in t
    ],
    "another engine's name": lambda t: [t[0] | {"engine": t[1]["engine"]}, *t[1:]],
}


@pytest.mark.parametrize("name", ROWS)
def test_no_altered_life_passes(
    name: str, copy: Path, script: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    change(copy / "lives.csv", ROWS[name])
    script.Weibull = None  # the counts notice already; a fit is not asked
    rows = [r for r in answer_rows(copy) if r["rule"] not in ("weibull", "profile")]
    change(copy / ANSWERS, lambda _: [*rows, dict.fromkeys(rows[0], "") | {"key": "no_fit",
                                                      "rule": "not-checked"}])  # fmt: skip
    assert script.main([str(copy)]) == 1
    assert "DOES NOT AGREE" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("column", "cell", "said"),
    [
        ("exit_high_h", "soon", "row 2, column exit_high_h: 'soon' is no number"),
        ("event", "burst", "row 2, column event: 'burst' is none of the four"),
        ("entry_h", "9999", "row 2: hours out of order"),
        ("weight", "nan", "row 2, column weight: 'nan' is no number"),
    ],
)
def test_a_table_that_cannot_be_read_is_told(
    column: str,
    cell: str,
    said: str,
    copy: Path,
    script: ModuleType,
    capsys: pytest.CaptureFixture[str],
) -> None:
    change(copy / "lives.csv", lambda t: [t[0] | {column: cell}, *t[1:]])
    assert script.main([str(copy)]) == 2
    assert said in capsys.readouterr().out


def test_a_key_that_stands_twice_or_is_not_there_is_told(
    copy: Path, script: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    whole = answer_rows(copy)
    change(copy / ANSWERS, lambda t: [*t, t[-1]])
    assert script.main([str(copy)]) == 2
    assert "stands twice" in capsys.readouterr().out
    change(copy / ANSWERS, lambda _: [r for r in whole if r["key"] != "two_sided"])
    assert script.main([str(copy)]) == 2
    assert "no row 'two_sided'" in capsys.readouterr().out
    assert script.main([str(copy / "check")]) == 2
    assert "no lives.csv" in capsys.readouterr().out


def run_r(folder: Path, **env: str) -> subprocess.CompletedProcess[str]:
    assert RSCRIPT is not None
    return subprocess.run(
        [RSCRIPT, "--vanilla", "check/check.R"],
        cwd=folder, capture_output=True, text=True, env={"PATH": "/usr/bin:/bin", **env},
    )  # fmt: skip


@pytest.mark.skipif(RSCRIPT is None, reason="Rscript is not installed")
def test_the_r_script_agrees_and_notices(copy: Path, quiet: Path) -> None:
    change(copy / "lives.csv", lambda t: [t[0] | {"words": 'Kolben, "gerissen"\nü'}, *t[1:]])
    run = run_r(copy, LC_ALL="C")
    assert run.returncode == 0, run.stdout + run.stderr
    agreed = [line for line in run.stdout.splitlines() if line.endswith("  yes")]
    checked = [r for r in answer_rows(copy) if r["rule"] not in ("given", "not-checked")]
    assert len(agreed) == len(checked)
    assert run_r(quiet).returncode == 0
    change(copy / ANSWERS, lambda t: [
        r | {"value": repr(1.0001 * float(r["value"]))} if r["key"] == "life_h.low" else r
        for r in t
    ])  # fmt: skip
    change(copy / "lives.csv", lambda t: [t[0] | {"entry_h": "150.0"}, *t[1:]])
    run = run_r(copy)
    assert run.returncode == 1
    wrong = run.stdout.splitlines()[-1]
    assert wrong.startswith("DOES NOT AGREE: ")
    assert {"hours", "life_h.low"} <= set(wrong[16:-1].split(", "))


@pytest.mark.skipif(RSCRIPT is None, reason="Rscript is not installed")
def test_the_r_script_tells_what_it_cannot_read(copy: Path) -> None:
    change(copy / "lives.csv", lambda t: [t[0] | {"weight": "much"}, *t[1:]])
    run = run_r(copy)
    assert run.returncode == 2
    assert "row 2, column weight: 'much' is no number" in run.stdout


@pytest.mark.slow
@pytest.mark.parametrize("name", DEMOS)
def test_both_scripts_agree_on_every_demo(name: str, tmp_path: Path, script: ModuleType) -> None:
    from fleetstats.chapters.compose import compose_checked

    results, document = compose_checked(analyse(read_study(DATASETS / name)))
    folder = lay_out(results, tmp_path, render_files(document, results))
    assert script.main([str(folder)]) == 0
    if RSCRIPT is not None:
        run = run_r(folder)
        assert run.returncode == 0, run.stdout + run.stderr


@pytest.mark.slow
@pytest.mark.parametrize("name", MADE)
def test_both_scripts_agree_on_fleets_in_which_something_is_missing(
    name: str, tmp_path: Path, script: ModuleType
) -> None:
    folder = lay_out(results_of(name), tmp_path)
    assert script.main([str(folder)]) == 0
    if RSCRIPT is not None:
        run = run_r(folder)
        assert run.returncode == 0, run.stdout + run.stderr
