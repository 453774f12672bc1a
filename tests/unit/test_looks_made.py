"""Earlier looks in a study and a claim: listed, counted, made again alike, tampering said.

Invented fleets with no source; what is held is that the same files give the same report, and that
one question gets one answer.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fleetstats.advice.results import Results
from fleetstats.chapters.compose import compose_report
from fleetstats.chapters.looks_made import LooksMade, look_of_study
from fleetstats.chapters.looks_made.words import say_changed
from fleetstats.cli import main
from fleetstats.document.identity import report_id
from fleetstats.document.parts import check_document
from fleetstats.report.json import document_json
from fleetstats.studies.analyse import analyse
from fleetstats.study.history import HISTORY_FILE, LedgerLook, append_look, read_history
from fleetstats.study.study import Study, read_study

DAY = dt.date(2027, 1, 5)
HEAD = """\
[study]
title = "Sixty engines"
analysis_date = {date}
claimed_interval_h = {claim}
[evidence]
resamples = 200
[targets]
reliability = {share}
[[records]]
file = "lives.csv"
source = "club"
"""


def rows(n: int, failed: int, longest: float) -> str:
    out = ["engine,exit_hours,ending,cause,in_service_date,last_reading_date"]
    for i in range(n):
        end = "failed,piston" if i < failed else "running,"
        hours = 300 + (longest - 300) * i / n
        out.append(f"E-{i:03d},{hours:.0f},{end},2015-01-01,2025-12-01")
    return "\n".join(out) + "\n"


def written(
    folder: Path, failed: int = 1, *, claim: float = 600, share: float = 0.8,
    date: str = "2025-12-31", longest: float = 1500,
) -> Study:  # fmt: skip
    """Write the study into a folder, whose ledger stays, and read it."""
    (folder / "lives.csv").write_text(rows(60, failed, longest), encoding="utf-8")
    text = HEAD.format(claim=claim, share=share, date=date)
    (folder / "study.toml").write_text(text, encoding="utf-8")
    return read_study(folder)


@pytest.fixture
def fleet(tmp_path: Path) -> Callable[..., Study]:
    """Return a maker of the study in one folder, whose ledger stays."""

    return functools.partial(written, tmp_path)


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Results:
    """Return the results of the first look of all, whose ledger was empty."""
    return analyse(written(tmp_path_factory.mktemp("first")))


def note(study: Study, results: Results, day: dt.date = DAY) -> None:
    """Write a look down in a study's folder, as the verb does."""
    document = compose_report(results)
    check_document(document)
    append_look(study.folder, look_of_study(results, document.report_id), today=day)


def look(study: Study) -> Results:
    """Run a study and write its look down."""
    results = analyse(study)
    note(study, results)
    return results


def face(results: Results) -> str:
    return document_json(compose_report(results))


def codes(results: Results) -> list[str]:
    return [c.code for c in results.advice.cautions]


def test_a_first_look_and_the_same_again_are_told_alike(fleet: Callable[..., Study]) -> None:
    first = look(fleet())
    again = look(fleet())
    assert "looks-made" not in first.chapters
    assert "looks-made" not in again.chapters
    assert first.to_dict() == again.to_dict()
    assert face(first) == face(again)
    assert len(read_history(first.study.folder).looks) == 1


def test_a_year_later_the_report_lists_the_look_before(
    fleet: Callable[..., Study], first: Results
) -> None:
    note(fleet(), first)
    now = look(fleet(3, date="2026-12-31"))
    made = now.chapters["looks-made"]
    assert isinstance(made, LooksMade)
    (earlier,) = made.earlier
    assert (earlier.date, earlier.verdict) == ("2025-12-31", first.advice.verdict.word)  # type: ignore[union-attr]
    assert earlier.report == report_id(first)
    assert earlier.failed == 1.0
    assert "this is look 2" in made.sentences[0]
    assert made.since == "other records (+2 failures, +0 h); records to 2026-12-31, not 2025-12-31"
    assert made.sentences[0] in now.answer_lines()
    text = face(now)
    assert "Earlier looks at this fleet" in text
    assert "2027-01-05" not in text, "no day of the clock stands in a report"


def test_a_report_made_again_after_later_looks_is_the_same(
    fleet: Callable[..., Study], first: Results
) -> None:
    note(fleet(), first)
    second = look(fleet(3, date="2026-12-31"))
    look(fleet(5, date="2027-12-31"))
    again = look(fleet(3, date="2026-12-31"))
    assert face(again) == face(second)
    assert report_id(again) == report_id(second)
    assert len(read_history(second.study.folder).looks) == 3


def test_the_number_goes_by_the_looks_and_not_by_the_clock(
    fleet: Callable[..., Study], first: Results
) -> None:
    alone = report_id(analyse(fleet(3, date="2026-12-31")))
    numbers = []
    for day in (DAY, DAY + dt.timedelta(days=9)):
        folder = fleet().folder
        (folder / HISTORY_FILE).unlink(missing_ok=True)
        note(fleet(), first, day)
        numbers.append(report_id(analyse(fleet(3, date="2026-12-31"))))
    assert numbers[0] == numbers[1]
    assert numbers[0] != alone, "a report that lists another look has another number"


@pytest.mark.parametrize("how", ["edited", "emptied", "binary", "crlf"])
def test_a_ledger_that_was_changed_is_said_by_study_and_claim(
    fleet: Callable[..., Study], first: Results, how: str
) -> None:
    note(fleet(), first)
    study = fleet(0, date="2026-12-31")
    path = study.folder / HISTORY_FILE
    data = path.read_bytes()
    path.write_bytes(
        {
            "edited": data.replace(b'"verdict":"', b'"verdict":"x'),
            "emptied": b"",
            "binary": b"\x00\x01\xff" * 9,
            "crlf": data.replace(b"\n", b"\r\n"),
        }[how]
    )
    results = analyse(study)
    check_document(compose_report(results))
    (told,) = [c for c in results.advice.cautions if c.code == "looks-altered"]
    verdict = results.advice.verdict
    assert verdict is not None
    assert verdict.word == "supported"
    assert (told.proviso in verdict.provisos) == (how != "crlf")
    got = CliRunner().invoke(main, ["claim", str(study.folder)], env={"FLEETSTATS_NO_HISTORY": ""})
    assert got.exception is None or isinstance(got.exception, SystemExit)
    assert f"Caution (looks-altered): {told.text}" in got.stdout
    assert ("their ledger" in got.stdout) == (how != "crlf")
    assert ("is not as it was written" in got.stderr) == (how != "crlf")
    if how != "crlf":
        assert read_history(study.folder).flaws, "a look that is added heals nothing"


def test_a_verdict_that_other_settings_denied_says_so(fleet: Callable[..., Study]) -> None:
    """The same records, once with 99 % asked to reach 600 h and once with 80 %."""
    denied = look(fleet(1, share=0.99))
    assert denied.advice.verdict is not None
    assert denied.advice.verdict.word != "supported"
    assert "looks-disagree" not in codes(denied)
    study = fleet(1, share=0.8)
    results = analyse(study)
    assert results.advice.verdict is not None
    assert results.advice.verdict.word == "supported"
    (told,) = [c for c in results.advice.cautions if c.code == "looks-disagree"]
    assert "1 earlier look at these same records" in told.text
    assert told.proviso in results.advice.verdict.provisos
    got = CliRunner().invoke(main, ["claim", str(study.folder)])
    assert told.text in got.stdout
    # other hours, or other records, are another question
    assert "looks-disagree" not in codes(analyse(fleet(1, share=0.8, claim=550)))
    assert "looks-disagree" not in codes(analyse(fleet(1, share=0.8, longest=1501)))


def test_claim_writes_its_look_down_unless_told_not_to(fleet: Callable[..., Study]) -> None:
    folder = fleet().folder
    run = CliRunner()
    for args, n in (
        (["--no-history"], 0), ([], 1), ([], 1), (["--hours", "700"], 2), (["--hours", "600"], 2)
    ):  # fmt: skip
        got = run.invoke(main, ["claim", str(folder), *args], env={"FLEETSTATS_NO_HISTORY": ""})
        assert got.exit_code in (0, 3), got.output
        assert len(read_history(folder).looks) == n, args
    one, second = read_history(folder).looks
    assert (one.verb, one.asked) == ("claim", {"hours": 600.0, "reliability": 0.8})
    assert second.asked["hours"] == 700.0
    assert one.answers["failed"] == 1.0
    assert one.verdict == "supported"
    run.invoke(main, ["claim", str(folder), "--hours", "800"])  # the tests' own environment
    assert len(read_history(folder).looks) == 2


def test_a_claim_and_a_study_of_the_same_are_one_look(fleet: Callable[..., Study]) -> None:
    study = fleet()
    CliRunner().invoke(main, ["claim", str(study.folder)], env={"FLEETSTATS_NO_HISTORY": ""})
    results = look(fleet())
    assert "looks-made" not in results.chapters
    ledger = read_history(study.folder)
    assert ([x.verb for x in ledger.looks], ledger.n_looks) == (["claim", "study"], 1)


def test_the_study_verb_writes_once_and_a_folder_that_refuses_is_said(
    fleet: Callable[..., Study], monkeypatch: pytest.MonkeyPatch
) -> None:
    from fleetstats.cli import study as verb
    from fleetstats.report import write
    from fleetstats.study.history import append as append_module

    folder = fleet().folder
    monkeypatch.setattr(write, "write_report", lambda _d, _r, out, **_: out / "report.html")
    monkeypatch.delenv("FLEETSTATS_NO_HISTORY")
    assert "--no-history" in CliRunner().invoke(main, ["study", "--help"]).stdout
    got = CliRunner().invoke(main, ["study", str(folder), "--out", str(folder / "out")])
    assert got.exit_code == 0, got.output
    (told,) = read_history(folder).looks
    assert told.report.startswith("FS-")
    assert told.answers["stop_rule"]["failures"] == 1
    assert told.answers["lives_h"]
    assert verb.run

    def refuse(path: Path, _data: object) -> None:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(append_module, "write_whole", refuse)
    fleet(2)
    got = CliRunner().invoke(main, ["study", str(folder), "--out", str(folder / "out")])
    assert got.exit_code == 0
    assert "was not written down in history.jsonl (permission denied)" in got.stderr


def test_a_line_with_odd_contents_breaks_no_report(fleet: Callable[..., Study]) -> None:
    study = fleet()
    odd: dict[str, Any] = {
        "answers": {
            "failed": "many",
            "exposure_h": [1],
            "failure_high": 10**299,
            "plan_from_h": {},
        },
        "asked": {"hours": "<b>1</b>", "reliability": None},
        "chosen": {"targets.reliability": [[1], {"a": None}], "<script>": "\x00\u202e"},
        "verdict": "sure",
        "report": "\x1b[31m",
    }
    append_look(study.folder, LedgerLook(verb="study", date="x", data="y", **odd), today=DAY)
    results = analyse(study)
    check_document(compose_report(results))
    text = face(results)
    assert "\\u001b" not in text
    json.loads(text)
    made = results.chapters["looks-made"]
    assert isinstance(made, LooksMade)
    assert (made.earlier[0].failed, made.earlier[0].verdict) == (None, "")


def test_what_was_changed_is_said_word_by_word() -> None:
    a = LedgerLook(
        verb="study", date="2025-12-31", data="a", version="0.1.0",
        chosen={"targets.reliability": 0.9, "treat.date-future": "set-aside"},
        asked={"hours": 1200.0, "reliability": 0.9}, answers={"failed": 3.0, "exposure_h": 9000.0},
    )  # fmt: skip
    assert say_changed(a, a) == "nothing: the same was asked of the same records"
    b = dataclasses.replace(
        a,
        data="b",
        version="0.2.0",
        chosen={"targets.reliability": 0.95},
        asked={"hours": 1000.0, "reliability": 0.9},
        answers={"failed": 2.0, "exposure_h": 9500.0},
    )
    assert say_changed(a, b) == (
        "other records (-1 failures, +500 h); asked 90 % at 1,000 h, not 90 % at 1,200 h; "
        "targets.reliability 0.9 → 0.95; treat.date-future set-aside → not set; fleetstats 0.2.0, "
        "not 0.1.0"
    )
    many = dataclasses.replace(a, chosen={f"k{i}": i for i in range(9)})
    assert "7 settings more" in say_changed(a, many)
