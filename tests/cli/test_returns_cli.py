"""The verbs for members: a template, and a check of the return."""

import json
import os

from click.testing import CliRunner

from fleetstats.cli import main


def run(*args):
    return CliRunner().invoke(main, [str(a) for a in args], catch_exceptions=False)


def test_a_template_is_written_and_checked(tmp_path):
    path = tmp_path / "return.xlsx"
    out = run("template", path, "--build", "B1")
    assert (out.exit_code, out.stdout.strip()) == (0, str(path))
    out = run("check-return", path, "--json")
    assert out.exit_code == 0
    told = json.loads(out.stdout)
    assert (told["n_read"], told["n_used"], told["reasons"]) == (1, 0, {"example-row": 1})


def test_a_return_with_errors_exits_with_3(tmp_path):
    path = tmp_path / "club.csv"
    path.write_text("engine,hours,status\nE-1,lots,running\n", encoding="utf-8")
    out = run("check-return", path)
    assert out.exit_code == 3
    assert "hours-unreadable" in out.stdout
    assert "row 2" in out.stdout
    assert out.stdout.startswith("1 row read = 0 used + 1 set aside; 1 error,")


def test_a_log_can_be_named(tmp_path):
    path = tmp_path / "club.csv"
    path.write_text(
        "engine,date,hours,event\nE-1,2020-01-01,0,installed\nE-1,2021-01-01,90,reading\n",
        encoding="utf-8",
    )
    assert run("check-return", path, "--shape", "log").exit_code == 0


def test_a_log_is_told_by_its_columns(tmp_path):
    path = tmp_path / "club.csv"
    path.write_text(
        "engine,date,hours,event\nE-1,2020-01-01,0,installed\nE-1,2021-01-01,90,reading\n",
        encoding="utf-8",
    )
    out = run("check-return", path)
    assert (out.exit_code, "2 rows read = 2 used" in out.stdout) == (0, True), out.stdout


def test_a_table_that_is_neither_is_asked_for_the_columns_of_lives(tmp_path):
    path = tmp_path / "club.csv"
    path.write_text("engine,hours,action,oil\nE-1,50,plug clean,0.2\n", encoding="utf-8")
    out = run("check-return", path)
    assert out.exit_code == 3
    assert "There is no column for 'ending'" in out.stdout


def test_what_is_not_there_is_said(tmp_path):
    out = run("check-return", tmp_path / "none.csv")
    assert out.exit_code == 1
    assert "no file" in out.stderr
    out = run("template", tmp_path / "no" / "return.xlsx")
    assert (out.exit_code, str(tmp_path / "no" / "return.xlsx") in out.stderr) == (1, True)
    out = run("template", tmp_path / "x.txt")
    assert out.exit_code == 2
    assert ".xlsx" in out.stderr


def test_a_pipe_is_told_as_one(tmp_path):
    os.mkfifo(tmp_path / "pipe.csv")
    out = run("check-return", tmp_path / "pipe.csv")
    assert out.exit_code == 1
    assert "is a pipe, no regular file" in out.stderr
