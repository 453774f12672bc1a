"""Faults of the machine and of the console: a word and an exit code, never a trace."""

from __future__ import annotations

import builtins
import json
import os
import subprocess
import sys
import warnings
import zipfile
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import click
import pytest
from click.testing import CliRunner

from fleetstats.chapters.verbs import CHAPTER_VERBS
from fleetstats.cli import VERBS, Verbs, main
from fleetstats.core import files
from fleetstats.records.template_xlsx import write_return_template
from fleetstats.studies.analyse import analyse
from fleetstats.study.scaffold import write_scaffold
from fleetstats.study.study import read_study

HEAD = '[study]\ntitle = "Вилга"\nanalysis_date = 2025-12-31\n[[records]]\nfile = "lives.csv"\n'


def lay_out(folder: Path, rows: str, more: str = "") -> Path:
    folder.mkdir(exist_ok=True)
    (folder / "study.toml").write_text(HEAD + more, "utf-8")
    (folder / "lives.csv").write_text("engine,exit_hours,ending\n" + rows, "utf-8")
    return folder


@pytest.mark.parametrize("verb", VERBS)
def test_each_verb_s_help_is_its_own(verb: str) -> None:
    """All in one process, one after the other: no verb shows what another one says."""
    got = CliRunner().invoke(main, [verb, "--help"])
    assert got.exit_code == 0
    command = main.get_command(click.Context(main), verb)  # type: ignore[attr-defined]
    own = {v.name: v for v in CHAPTER_VERBS}.get(verb)
    said = own.says if own is not None else command.callback.__doc__ or ""
    flat = " ".join(got.output.split())
    assert f"Usage: main {verb} " in flat
    assert " ".join(said.split()).partition(".")[0] in flat
    others = [v.says for v in CHAPTER_VERBS if v.name != verb]
    assert not [x for x in others if x.partition(".")[0] in flat]


@pytest.mark.parametrize("error", ["MemoryError", "stopped within an import"])
def test_no_memory_and_a_stop_within_an_import_are_told(
    error: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any) -> None:
        if error == "MemoryError":
            raise MemoryError
        try:
            raise KeyboardInterrupt
        except KeyboardInterrupt:
            raise ImportError("a library turned the stop into this") from None

    monkeypatch.setattr(Verbs, "resolve_command", fail)
    got = CliRunner().invoke(main, ["check", str(tmp_path)])
    memory = error == "MemoryError"
    assert got.exit_code == (1 if memory else 130)
    assert ("not enough memory" if memory else "stopped") in got.stderr
    assert isinstance(got.exception, SystemExit)


def test_a_stop_before_the_verbs_are_there_is_told(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from fleetstats.__main__ import run

    real = builtins.__import__

    def stop(name: str, *args: Any, **kwargs: Any) -> Any:
        if name == "fleetstats.cli":
            raise KeyboardInterrupt
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", stop)
    with pytest.raises(SystemExit) as e:
        run()
    assert e.value.code == 130
    assert capsys.readouterr().err == "fleetstats: stopped; nothing was begun.\n"


def test_warnings_of_libraries_do_not_reach_the_screen(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[str] = []

    def noisy(*_: Any) -> None:
        warnings.warn("overflow encountered in exp", RuntimeWarning, stacklevel=1)
        seen.append("went on")
        raise click.exceptions.Exit(0)

    monkeypatch.setattr(Verbs, "resolve_command", noisy)
    monkeypatch.setattr(sys, "warnoptions", [])
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        CliRunner().invoke(main, ["check", str(tmp_path)])
    assert seen
    assert told == []


@pytest.mark.parametrize("encoding", ["cp1252", "latin-1"])
def test_a_console_of_an_old_encoding_is_no_fault(encoding: str, tmp_path: Path) -> None:
    """A title and an id in Cyrillic letters on a console that has none."""
    folder = lay_out(tmp_path / "s", "Вилга-1,100,running\nВилга-2,100,упала\n")
    env = {**os.environ, "PYTHONIOENCODING": encoding}
    got = subprocess.run(
        [sys.executable, "-m", "fleetstats", "check", str(folder)],
        env=env, capture_output=True, check=False,
    )  # fmt: skip
    assert b"Traceback" not in got.stderr
    assert b"ending-unknown" in got.stdout
    text = got.stdout.decode(encoding)
    got = subprocess.run(
        [sys.executable, "-m", "fleetstats", "check", str(folder), "--json"],
        env=env, capture_output=True, check=False,
    )  # fmt: skip
    assert "Вилга" in json.dumps(json.loads(got.stdout.decode(encoding)), ensure_ascii=False)
    assert "\\u0443" in text


def test_a_table_with_a_header_only_is_told_by_chunks_too(tmp_path: Path) -> None:
    got = CliRunner().invoke(main, ["study", str(lay_out(tmp_path / "s", "")), "--chunks"])
    assert got.exit_code == 1
    assert "has a header and no row" in got.stderr


def test_a_number_of_five_thousand_digits_in_the_study_file_is_told(tmp_path: Path) -> None:
    more = f"[targets]\nclaimed_interval_h = {'1' * 5001}\n"
    got = CliRunner().invoke(main, ["check", str(lay_out(tmp_path / "s", "A,1,running\n", more))])
    assert got.exit_code == 2
    assert "more digits" in got.stderr


def test_a_disk_without_hard_links_takes_a_new_study(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(files.os, "link", refuse)
    monkeypatch.setattr(Path, "chmod", refuse)
    write_scaffold(tmp_path / "new")
    told = (tmp_path / "new" / "study.toml").read_bytes()
    assert b"[study]" in told
    # a name that is taken stays whose it is
    with pytest.raises(FileExistsError):
        files.write_whole(tmp_path / "new" / "study.toml", "x", replace=False)
    assert (tmp_path / "new" / "study.toml").read_bytes() == told
    assert not list(tmp_path.rglob("*.part"))


def test_a_disk_that_fills_up_leaves_no_name_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(files.os, "link", refuse)
    monkeypatch.setattr(Path, "replace", refuse)
    with pytest.raises(PermissionError):
        files.write_whole(tmp_path / "x", "x", replace=False)
    assert list(tmp_path.iterdir()) == []


def test_a_clock_before_1980_writes_workbooks(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The format of archives has no such year; a machine without a battery shows 1970."""
    import time

    told = SimpleNamespace(time=lambda: 0.0, localtime=lambda *_: time.gmtime(0), sleep=time.sleep)
    monkeypatch.setattr(zipfile, "time", told)
    path = write_return_template(tmp_path / "t.xlsx")
    study = str(lay_out(tmp_path / "s", "A,500,running\nB,many,running\n"))
    quiet = str(Path(__file__).parents[2] / "datasets" / "quiet-fleet")
    for words in (["check", study], ["calls", quiet, "--most", "2"]):
        path = tmp_path / f"{words[0]}.xlsx"
        got = CliRunner().invoke(main, [*words, "--out", str(path)])
        assert path.exists(), (words, got.output, got.exception)
        with zipfile.ZipFile(path) as book:
            assert "xl/workbook.xml" in book.namelist()


DRAWN = """
from fleetstats.report.figures import glyphs
from fleetstats.survival import second_opinion
print(glyphs.set_line("AVA To 12.5 h"), glyphs.measure("AVA To W", 8.0))
"""


@pytest.mark.parametrize("rc", [b"text.kerning_factor: 6\nno.such.key: 1\n", b"\xff\xfe\x00bad"])
@pytest.mark.parametrize("where", ["folder", "user"])
def test_settings_of_the_drawing_library_neither_restyle_nor_stop_a_report(
    rc: bytes, where: str, tmp_path: Path
) -> None:
    """A file of settings in the folder at hand or of the user, odd or damaged."""
    said = []
    for n, data in enumerate((None, rc)):
        folder = tmp_path / str(n)
        folder.mkdir()
        env = dict(os.environ)
        if data is not None:
            (folder / "matplotlibrc").write_bytes(data)
        if where == "user":
            env["MATPLOTLIBRC"] = str(folder / "matplotlibrc")
        at = folder if where == "folder" else tmp_path
        got = subprocess.run(
            [sys.executable, "-c", DRAWN], cwd=at, env=env, capture_output=True, check=False
        )
        said.append((got.returncode, got.stdout, got.stderr))
    assert said[0] == said[1]
    assert said[0][0] == 0
    assert said[0][2] == b""


def test_a_watch_over_lives_that_no_day_places_is_told_in_words(tmp_path: Path) -> None:
    """Dates of readings alone do not say since when an engine was at risk."""
    folder = lay_out(tmp_path / "s", "")
    rows = [f"E{i},{400 + i},{'failed' if i % 5 == 0 else 'running'},2025-11-02" for i in range(20)]
    text = "\n".join(["engine,exit_hours,ending,last_reading_date", *rows, ""])
    (folder / "lives.csv").write_text(text, "utf-8")
    got = CliRunner().invoke(main, ["watch", str(folder)])
    assert isinstance(got.exception, SystemExit)
    assert got.exit_code == 1
    assert "No life can be placed in the calendar" in got.stderr
    assert "the day of entering service" in got.stderr


def test_what_gives_nothing_to_study_is_told_in_one_way(tmp_path: Path) -> None:
    folder = lay_out(tmp_path / "s", "")
    got = CliRunner().invoke(main, ["check", str(folder)])
    assert "next:" not in got.output  # a study of it would be refused
    told = {
        CliRunner().invoke(main, ["study", str(folder), how]).stderr.splitlines()[-1]
        for how in ("--whole", "--chunks")
    }
    assert len(told) == 1
    assert "has a header and no row" in told.pop()


@pytest.mark.parametrize("how", ["--whole", "--chunks"])
def test_what_stops_a_study_is_told_with_a_cure_that_can_be_taken(how: str, tmp_path: Path) -> None:
    unread = lay_out(tmp_path / "s", "A,x,running\nB,100,running\n")
    got = CliRunner().invoke(main, ["study", str(unread), how])
    assert "at 1 finding:" in got.stderr
    assert "under [treat] in study.toml what to do with: hours-unreadable." in got.stderr
    # what concerns a whole file cannot be treated, and is not said to be
    broken = lay_out(tmp_path / "t", f'A,100,running\nB,"{"x" * 140_000}\n')
    got = CliRunner().invoke(main, ["study", str(broken), how])
    assert got.exit_code == 1
    assert "[treat]" not in got.stderr


def test_every_finding_names_a_column_as_its_file_does(tmp_path: Path) -> None:
    """Of one row, of lives against each other, whole and by chunks."""
    lives = "".join(f"E{i},{300 + i},running\n" for i in range(40))
    folder = lay_out(tmp_path / "s", lives + "X,44300,running\nY,?,running\n")
    file = folder / "lives.csv"
    file.write_text(file.read_text("utf-8").replace("exit_hours", "exit"), "utf-8")
    got = CliRunner().invoke(main, ["check", str(folder), "--json"])
    found = {f["code"]: f["column"] for f in json.loads(got.stdout)["findings"]}
    assert (found["hours-far"], found["hours-missing"]) == ("exit", "exit")
    file.write_text(file.read_text("utf-8").replace("Y,?,running\n", ""), "utf-8")
    long = analyse(read_study(folder), chunks=True)
    told = {f.code: f.column for f in long.audit.findings}
    assert told["hours-far"] == "exit"
