"""What is done on the page stands in the folder, and what it says is what the prompt says."""

from __future__ import annotations

import json
import re
import shutil
import time
import tomllib
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from click.testing import CliRunner
from desk_client import Served, served

from fleetstats.cli import main

ROOT = Path(__file__).parents[2]
RAW = """\
Serial;Total time;Status;Reason;Last seen
A1;812;in service;;2025-11-30
A2;1204;kaputt;valve;2025-06-01
A3;990;in service;;2025-10-10
A3;990;in service;;2025-10-10
A4;1310;sold;;2024-05-05
"""


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Served]:
    """A desk in an empty folder."""
    with served(tmp_path) as client:
        yield client


@pytest.fixture(scope="module")
def quiet(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A desk on a demo fleet."""
    folder = tmp_path_factory.mktemp("quiet") / "quiet-fleet"
    shutil.copytree(ROOT / "datasets" / "quiet-fleet", folder)
    with served(folder) as client:
        yield client


def plain(page: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def prompt(*arguments: str) -> str:
    result = CliRunner().invoke(main, [*arguments])
    assert result.exit_code in (0, 3), result.output
    return result.output


def test_an_empty_folder_asks_for_records_and_writes_nothing(desk: Served) -> None:
    assert desk.ask("GET", "/").heads["location"] == "/records"
    for room in ("records", "odd", "question", "answer", "report", "years"):
        desk.see(f"/{room}")
    assert list(desk.folder.iterdir()) == []


def test_from_a_raw_sheet_to_an_answer(desk: Served) -> None:
    """The whole way with what exists: drop, words, odd cells, hours, answer."""
    assert desk.drop({"club.csv": RAW.encode()}).tone == "done"
    assert (desk.folder / "club.csv").read_text() == RAW
    assert "nobody knows yet" in desk.see("/records")
    assert "still stop the study" in plain(desk.see("/odd"))
    word = {"number": "1", "map": "endings", "word": "kaputt", "meaning": "failed"}
    assert desk.act("/records/word", **word).tone == "done"
    column = {"number": "1", "column": "3", "ours": "cause"}
    assert desk.act("/records/column", **column).tone == "done"
    page = plain(desk.see("/odd"))
    assert "1 row hints at a failure" in page
    for code in re.findall(r'name="code" value="([^"]+)"', desk.see("/odd")):
        if f'kind-stop" id="{code}"' in desk.see("/odd"):
            reply = desk.act("/odd/treat", code=code, action="set-aside", why="told twice")
            assert reply.tone == "done", reply.said
    assert "Nothing stops the study" in plain(desk.see("/odd"))
    answer = {"table": "study", "key": "claimed_interval_h", "answer": "800"}
    assert desk.act("/question/choose", **answer).tone == "done"
    told = prompt("claim", str(desk.folder), "--no-history", "--quiet").splitlines()
    page = plain(desk.see("/answer"))
    word, _, may = told[0].partition(": ")
    assert word in page
    assert may in page
    raw = tomllib.loads(desk.study())
    columns = {"cause": "Reason", "last_reading_date": "Last seen"}
    assert raw["records"][0]["columns"] == columns
    assert raw["records"][0]["endings"] == {"kaputt": "failed"}


def test_the_page_says_what_the_prompt_says(quiet: Served) -> None:
    claim = json.loads(prompt("claim", str(quiet.folder), "--json", "--no-history"))
    page = plain(quiet.see("/answer"))
    assert claim["may_quote"] in page
    assert claim["may_not_quote"] in page
    assert all(f"{c['code']} {c['text']}" in page for c in claim["cautions"])
    assert prompt("check", str(quiet.folder)).splitlines()[0] in plain(quiet.see("/odd"))


def test_tried_settings_are_answered_as_the_prompt_does_and_written_nowhere(quiet: Served) -> None:
    before = quiet.study()
    claim = json.loads(
        prompt("claim", str(quiet.folder), "--hours", "900", "--reliability", "0.97", "--json",
               "--no-history")
    )  # fmt: skip
    page = plain(quiet.see("/answer?hours=900&accepted=3&confidence=90&check=50"))
    assert claim["may_quote"] in page
    assert "at settings that are tried" in page
    assert quiet.study() == before
    assert not (quiet.folder / "history.jsonl").exists()


def test_plan_and_calls_are_those_of_the_prompt(quiet: Served) -> None:
    plan = prompt("plan", str(quiet.folder), "--quiet").strip().splitlines()
    page = plain(quiet.see("/answer?evidence=plan"))
    assert len(plan) >= 3
    assert all(plain(line) in page for line in plan)
    calls = json.loads(prompt("calls", str(quiet.folder), "--json"))
    page = plain(quiet.see("/answer?evidence=calls"))
    assert calls["sentence"] in page
    told = [c["name"] for c in calls["calls"] if c["high_if_good"] is not None]
    assert len(told) == 20
    at = [page.index(name, page.index("Bound if all so far are good")) for name in told]
    assert at == sorted(at)
    assert all(line in page for line in calls["assumptions"])


def test_the_list_of_calls_can_be_taken_and_is_what_the_prompt_writes(
    quiet: Served, tmp_path: Path
) -> None:
    import openpyxl

    assert quiet.act("/answer/sheet").tone == "done"
    prompt("calls", str(quiet.folder), "--quiet", "--out", str(tmp_path / "calls.xlsx"))
    reply = quiet.ask("GET", "/take/calls-to-make.xlsx")
    assert reply.status == 200
    (tmp_path / "taken.xlsx").write_bytes(reply.body)
    own, theirs = (
        [[c.value for c in row] for row in openpyxl.load_workbook(tmp_path / name).active.rows]
        for name in ("taken.xlsx", "calls.xlsx")
    )
    assert own == theirs
    assert len(own) > 20


def test_a_band_without_a_claim_keeps_its_cautions_and_its_notice(quiet: Served) -> None:
    text = quiet.study()
    (quiet.folder / "study.toml").write_text(
        re.sub(r"^claimed_interval_h = .*$", "", text, flags=re.M), encoding="utf-8"
    )
    page = plain(quiet.see("/answer"))
    assert "No hours are claimed" in page
    assert "Cautions that qualify it" in page
    assert "maker's instructions" in page
    (quiet.folder / "study.toml").write_text("[study]\n", encoding="utf-8")
    assert "maker's instructions" in plain(quiet.see("/answer"))
    (quiet.folder / "study.toml").write_text(text, encoding="utf-8")


def test_tried_settings_are_kept_line_by_line_and_taken_back(quiet: Served) -> None:
    before = quiet.study()
    reply = quiet.act("/answer/keep", hours="900", accepted="5", confidence="95", check="50")
    assert reply.tone == "done"
    new = [x for x in quiet.study().splitlines() if x not in before.splitlines()]
    assert new == ["claimed_interval_h = 900", "confidence = 0.95"]  # the rest held already
    assert "[study] claimed_interval_h = 900; [study] confidence = 0.95" in quiet.see("/years")
    assert quiet.act("/undo").tone == "done"
    assert quiet.study() == before


def test_one_more_failure_is_what_the_prompt_would_say_of_such_records(
    quiet: Served, tmp_path: Path
) -> None:
    page = quiet.see("/answer?more=1&build=uprated&cause=exhaust+valve")
    rows = re.findall(r'<tr><th scope="row">(\S+) <span', page[page.index('id="more"') :])
    assert len(rows) == 3
    folder = tmp_path / "quiet-fleet"
    shutil.copytree(quiet.folder, folder, ignore=shutil.ignore_patterns("report"))
    lines = (folder / "fleet.csv").read_text().splitlines()
    head = f"{lines[0]},cause,confirmed"
    told = [f"{x.replace('running', 'failed')},exhaust valve,yes" if x.startswith(f"{rows[0]},")
            else f"{x},," for x in lines[1:]]  # fmt: skip
    (folder / "fleet.csv").write_text("\n".join([head, *told]) + "\n")
    claim = json.loads(prompt("claim", str(folder), "--json", "--no-history"))
    assert claim["n_failed"] == 1
    assert claim["may_quote"] in plain(page)


def test_a_cause_that_is_not_in_question_counts_as_no_failure(quiet: Served) -> None:
    page = plain(quiet.see("/answer?more=1&build=standard&cause=prop+strike"))
    assert "counts as no failure here" in page
    page = plain(quiet.see("/answer?more=1&build=nothing&cause="))
    assert "No engine of the build 'nothing' is in service." in page


def test_two_windows_lose_nothing(quiet: Served) -> None:
    before, first, second = quiet.study(), quiet.hidden(), quiet.hidden("/question")
    one = quiet.act("/question/choose", first, table="study", key="commercial", answer="yes")
    assert one.tone == "done"
    held = quiet.study()
    two = quiet.act("/question/choose", second, table="study", key="confidence", answer="0.8")
    assert two.tone == "conflict"
    assert "Nothing was written" in two.said
    assert quiet.study() == held
    assert quiet.act("/undo", first).tone == "conflict"
    assert quiet.act("/undo").tone == "done"
    assert quiet.study() == before


def test_prompt_and_page_in_turn(quiet: Served) -> None:
    """An edit by hand shows at once; what the page did before it is not taken back over it."""
    before = quiet.study()
    quiet.act("/question/choose", table="study", key="commercial", answer="yes")
    by_hand = quiet.study().replace("claimed_interval_h = 1200", "claimed_interval_h = 700  # us")
    (quiet.folder / "study.toml").write_text(by_hand)
    assert "Verdict on 700 h" in plain(quiet.see("/answer"))
    assert "cannot be taken back from here" in quiet.see("/answer")
    assert quiet.act("/undo").tone == "conflict"
    assert quiet.study() == by_hand
    (quiet.folder / "study.toml").write_text(before)


def test_a_wrong_study_file_is_told_and_left_alone(quiet: Served) -> None:
    before = quiet.study()
    for wrong in ("[study\n", before.replace("seed = 41208", "sed = 41208"), "\x00"):
        (quiet.folder / "study.toml").write_text(wrong)
        for room in ("records", "odd", "question", "answer", "report", "years"):
            assert "needs a correction" in quiet.see(f"/{room}")
        quiet.act("/answer/keep", hours="900")
        assert quiet.study() == wrong
    (quiet.folder / "study.toml").write_text(before)


def test_an_answer_that_the_study_refuses_is_told_and_not_written(quiet: Served) -> None:
    before = quiet.study()
    for key, told in (("confidence", "1.5"), ("confidence", "much"), ("analysis_date", "soon"),
                      ("claimed_interval_h", "-1"), ("claimed_interval_h", "1e400")):  # fmt: skip
        reply = quiet.act("/question/choose", table="study", key=key, answer=told)
        assert reply.tone == "wrong"
        assert reply.said
    assert quiet.study() == before


def test_what_the_records_make_idle_is_not_asked(quiet: Served, desk: Served) -> None:
    page = quiet.see("/question")
    assert 'value="claimed_interval_h"' in page
    for idle in ("unknown_cause", "censoring_causes", "rounded", "log_hours", "hit_share"):
        assert f'value="{idle}"' not in page
    told = RAW.replace("kaputt", "failed")
    desk.drop({"club.csv": told.replace("valve", "").encode()})
    assert 'value="unknown_cause"' in desk.see("/question")
    (desk.folder / "club.csv").write_text(told)
    page = desk.see("/question")
    assert 'value="unknown_cause"' not in page
    assert 'value="censoring_causes"' in page


def test_setting_aside_needs_a_reason_which_stands_in_the_file(desk: Served) -> None:
    desk.drop({"club.csv": RAW.replace("kaputt", "failed").encode()})
    assert desk.act("/odd/treat", code="duplicate-row", action="set-aside").tone == "wrong"
    reply = desk.act("/odd/treat", code="duplicate-row", action="set-aside", why="typed\ntwice")
    assert reply.tone == "done"
    assert 'duplicate-row = "set-aside"  # typed twice' in desk.study()
    assert desk.act("/odd/treat", code="duplicate-row", action="").tone == "done"
    assert "treat" not in {k for k, v in tomllib.loads(desk.study()).items() if v}


def test_a_workbook_gives_its_other_sheets(desk: Served, tmp_path: Path) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    for name, engine in (("2023", "X-1"), ("2024", "X-2")):
        sheet = book.create_sheet(name)
        for row in (["Our engines", None, None], ["engine", "hours", "status"],
                    [engine, 120, "in service"]):  # fmt: skip
            sheet.append(row)
    book.create_sheet("prices").append(["part", "price"])
    book["prices"].append(["piston", 120])
    book.remove(book["Sheet"])
    book.save(tmp_path / "x.tmp")
    desk.drop({"fleet.xlsx": (tmp_path / "x.tmp").read_bytes()})
    page = plain(desk.see("/records"))
    assert "2 rows read = 2 used + 0 set aside" in page
    assert "fleet.xlsx [prices] is not read" in page
    assert sheets_of(desk) == [("2023", 2), ("2024", 2)]
    assert desk.act("/records/header", number="1", row="1").tone == "done"
    assert "looks like the column names" in plain(desk.see("/odd"))
    assert "seem to stand in line 2" not in desk.see("/records")  # it was said otherwise
    assert desk.act("/undo").tone == "done"
    assert desk.act("/records/sheet", file="fleet.xlsx", sheet="prices").tone == "done"
    assert sheets_of(desk) == [("2023", 2), ("2024", 2), ("prices", None)]
    assert desk.act("/records/remove", number="3").tone == "done"
    assert sheets_of(desk) == [("2023", 2), ("2024", 2)]


def sheets_of(desk: Served) -> list[tuple[str, int | None]]:
    told = tomllib.loads(desk.study())["records"]
    return [(f["sheet"], f.get("header_row")) for f in told]


def wait(desk: Served, state: str) -> dict[str, object]:
    for _ in range(600):
        job: dict[str, object] = json.loads(desk.ask("GET", "/job").text)
        if job["state"] == state or job["state"] != "running":
            return job
        time.sleep(0.1)
    raise AssertionError(job)


def test_the_report_is_a_job_that_can_be_stopped(tmp_path: Path) -> None:
    folder = tmp_path / "small"
    folder.mkdir()
    with served(folder) as desk:
        rows = [f"E-{i},{400 + 37 * i},{'failed' if i % 4 == 0 else 'running'}" for i in range(12)]
        desk.drop({"lives.csv": "\n".join(["engine,exit_hours,ending", *rows, ""]).encode()})
        assert desk.act("/report/write").tone == "done"
        assert desk.act("/report/bundle").tone == "wrong"  # one at a time
        assert desk.act("/report/stop").tone == "done"
        assert wait(desk, "stopped")["state"] == "stopped"
        assert not (folder / "report").exists()
        assert desk.act("/report/write").tone == "done"
        job = wait(desk, "done")
        assert job["state"] == "done", job
        ours = files_in(folder / "report")
        assert "report.html" in ours
        page = plain(desk.see("/report"))
        assert "The brief: two pages to read and sign" in page
        assert "write it anew" not in page
        assert desk.ask("GET", "/take/brief.pdf").body == ours["brief.pdf"]
        desk.act("/question/choose", table="study", key="commercial", answer="yes")
        assert "write it anew" in plain(desk.see("/report"))


@pytest.mark.slow
def test_the_report_is_the_prompts_to_the_byte(tmp_path: Path) -> None:
    folder = tmp_path / "tow-clubs"
    shutil.copytree(ROOT / "datasets" / "tow-clubs", folder)
    with served(folder) as desk:
        assert desk.act("/report/write").tone == "done"
        assert wait(desk, "done")["state"] == "done"
    prompt("study", str(folder), "--out", str(tmp_path / "out"), "--quiet")
    assert files_in(folder / "report") == files_in(tmp_path / "out")


def files_in(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes()
            for p in folder.rglob("*") if p.is_file()}  # fmt: skip


def test_a_bundle_that_is_none_is_told_and_no_module_is_taken_from_the_folder(
    quiet: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    (quiet.folder / "numpy.py").write_text("raise SystemExit('taken from the records')")
    monkeypatch.chdir(quiet.folder)
    try:
        assert quiet.drop({"x.zip": b"PK no"}, "/report/verify").tone == "done"
        job = wait(quiet, "failed")
    finally:
        (quiet.folder / "numpy.py").unlink()
    assert (job["kind"], job["state"]) == ("verify", "failed")
    assert "x.zip" in str(job["told"]) or "bundle" in str(job["told"])
    left = list(quiet.app.place.jobs.leavings)
    assert left
    quiet.app.stop()
    assert not any(p.exists() for p in left)


def test_closing_ends_the_desk(desk: Served) -> None:
    assert not desk.life.over(desk.life.seen + 1.0)
    assert desk.act("/close", desk.hidden()).status == 200
    assert desk.life.over(0.0)


def test_a_page_that_is_left_ends_the_desk_later_and_one_never_opened_does_not() -> None:
    from fleetstats.desk.life import LEFT_S, SILENT_S, Life

    life = Life()
    assert not life.over(1e9)
    life.sign()
    assert not life.over(life.seen + LEFT_S + 1)
    assert life.over(life.seen + SILENT_S + 1)
    life.leave()
    assert life.over(life.seen + LEFT_S + 1)
    life.sign()
    assert not life.over(life.seen + LEFT_S + 1)
