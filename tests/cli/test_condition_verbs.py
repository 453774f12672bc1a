"""The verbs interval, trends, outlook, forecast and bench: stdout, exit codes, CSV, bad input."""

import csv
import json

import pytest
from click.testing import CliRunner

from fleetstats.cli import main

LIVES = "engine,exit_hours,ending,cause,in_service_date,last_reading_date,ended_date\n"


def run(*args):
    return CliRunner().invoke(main, [str(a) for a in args], catch_exceptions=False)


@pytest.fixture
def folder(tmp_path):
    rows = [f"E-{i},{300 + 30 * i},running,,2018-01-01,2026-09-01," for i in range(30)]
    rows += [f"F-{i},{500 + 90 * i},failed,valve,2018-01-01,,2024-05-0{i + 1}" for i in range(4)]
    (tmp_path / "lives.csv").write_text(LIVES + "\n".join(rows) + "\n", encoding="utf-8")
    checks = ["engine,hours,result,mode,action"]
    for i in range(30):
        for h in range(50, 300 + 30 * i, 50):
            bad = i < 6 and h == 200
            checks.append(
                f"E-{i},{h},{'found' if bad else 'clean'},{'valve' if bad else ''},"
                f"{'repaired' if bad else ''}"
            )
    for i in range(4):
        checks += [f"F-{i},{h},clean,," for h in range(50, 500 + 90 * i, 50)]
    (tmp_path / "checks.csv").write_text("\n".join(checks) + "\n", encoding="utf-8")
    (tmp_path / "study.toml").write_text(
        "\n".join(
            [
                "[study]",
                'title = "t"',
                "analysis_date = 2026-09-30",
                "claimed_interval_h = 1200",
                "[delay]",
                "accepted_share = 0.9",
                "[[records]]",
                'file = "lives.csv"',
                "[[records]]",
                'file = "checks.csv"',
                'shape = "checks"',
            ]
        ),
        encoding="utf-8",
    )
    return tmp_path


@pytest.mark.parametrize(
    ("verb", "option", "value", "said"),
    [
        ("interval", "--hours", "inf", "check.interval_h = inf: must be a finite number"),
        ("interval", "--hours", "nan", "must be a finite number"),
        ("forecast", "--months", "nan", "forecast.months = nan: must be a finite number"),
        ("forecast", "--months", "1e9", "must be above 0 and at most 600"),
        ("forecast", "--months", "-1", "must be above 0"),
    ],
)
def test_numbers_that_cannot_be_are_refused(folder, verb, option, value, said):
    out = run(verb, folder, option, value)
    assert (out.exit_code, said in out.stderr) == (2, True), out.stderr


def test_interval_answers_and_writes_its_tables(folder, tmp_path):
    out = run("interval", folder, "--csv", tmp_path / "csv")
    assert out.exit_code == 0
    assert out.stdout.startswith("Check interval 50 h: supported")
    assert "not airworthiness approval" in out.stdout
    names = {p.name for p in (tmp_path / "csv").iterdir()}
    assert names == {"check-slip.csv", "check-laws.csv", "check-longest.csv", "check-modes.csv"}
    with (tmp_path / "csv" / "check-modes.csv").open(newline="") as f:
        rows = list(csv.DictReader(f))
    assert rows[0]["mode"] == "valve"
    assert (rows[0]["found"], rows[0]["failed"]) == ("6", "4")


def test_json_and_another_interval(folder):
    told = json.loads(run("interval", folder, "--json", "--hours", "25").stdout)
    assert told["schema"] == "fleetstats/check-interval/1"
    assert told["usual_h"] == 25.0
    assert "fits" not in told


@pytest.mark.parametrize(("verb", "schema"), [("outlook", "outlook"), ("forecast", "forecast")])
def test_outlook_and_forecast(folder, verb, schema):
    out = run(verb, folder, "--json")
    assert out.exit_code == 0
    assert json.loads(out.stdout)["schema"] == f"fleetstats/{schema}/1"
    plain = run(verb, folder, "--quiet")
    assert "airworthiness" not in plain.stdout


def test_months_ahead(folder):
    out = run("forecast", folder, "--months", "6")
    assert "next 6 months" in out.stdout
    bad = run("forecast", folder, "--months", "-1")
    assert bad.exit_code == 2
    assert "forecast.months = -1" in bad.stderr


@pytest.mark.parametrize("verb", ["trends", "bench"])
def test_nothing_for_a_verb_is_not_enough_evidence(folder, verb):
    out = run(verb, folder)
    assert out.exit_code == 3
    assert "no file of shape" in out.stdout
    assert json.loads(run(verb, folder, "--json").stdout)["schema"] == "fleetstats/nothing/1"


def test_a_bad_check_file_is_told_and_the_rest_goes_on(folder):
    (folder / "checks.csv").write_bytes(b"engine,hours,result\nE-1,abc,clean\nE-1,,found\n\x00")
    out = run("interval", folder)
    assert out.exit_code in (0, 3)
    assert "Traceback" not in out.output
    assert "checks.csv: 3 rows read = 0 used + 3 set aside" in out.stderr
    assert "'abc' is not hours at the check" in out.stderr
    told = run("check", folder)
    assert told.exit_code == 3
    assert "3 set aside" in told.stdout
    assert json.loads(run("check", folder, "--json").stdout)["condition"]["readings"]
    (folder / "checks.csv").write_text("", encoding="utf-8")
    assert run("interval", folder).exit_code in (0, 3)


def test_a_study_that_cannot_run_says_why(folder):
    (folder / "lives.csv").write_text(LIVES + "E-1,abc,running,,,,\n", encoding="utf-8")
    out = run("forecast", folder)
    assert out.exit_code == 1
    assert "hours-unreadable" in out.stderr
    out = run("forecast", folder / "nowhere")
    assert out.exit_code == 2
