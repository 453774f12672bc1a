"""Odd cells decided on the page are the mends that `check --take` writes, and one answer follows.

No outside source: page and prompt are two roads to one file.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from desk_client import Served, served

from fleetstats.records.audit.audit import audit_records
from fleetstats.records.mending.propose import propose_mends
from fleetstats.records.mending.take import SET_ASIDE, TAKE, Decision, take_mends
from fleetstats.records.readers import read_records
from fleetstats.study.study import read_study

STUDY = """\
[study]
title = "Club"
analysis_date = 2025-12-31
[[records]]
file = "club.csv"
"""
CLUB = """\
engine;hours;status;cause;last reading
A1;812;running;;2025-11-02
A2;1.204,5 or so hours?;failed;valve;2025-11-03
A3;about a lot;running;;2025-11-04
A4;990;runing;;2025-11-05
A5;700;running;crankshaft broke;2025-11-06
A6;640;running;;2025-13-07
Total;4000;;;
"""
CONFIRM = CLUB.replace("last reading", "last reading;confirmed", 1)


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Served]:
    (tmp_path / "study.toml").write_text(STUDY, encoding="utf-8")
    (tmp_path / "club.csv").write_text(CLUB, encoding="utf-8")
    with served(tmp_path) as told:
        yield told


def cell(folder: Path, code: str) -> dict[str, str]:
    """Return what the page's form says of the first odd cell of a kind."""
    p = next(p for p in propose_mends(read_study(folder)) if p.code == code)
    return {"file": p.file, "sheet": p.sheet, "row": str(p.row), "column": p.column,
            "digest": p.digest, "proposed": p.proposed}  # fmt: skip


def mends(folder: Path) -> list[dict[str, str]]:
    path = folder / "mends.csv"
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as f:
        return list(csv.DictReader(f))


def stops(folder: Path) -> list[str]:
    study = read_study(folder)
    return sorted(f.code for f in audit_records(study, read_records(study)).stops)


def test_each_odd_cell_stands_in_its_row_with_what_may_be_done(desk: Served) -> None:
    page = unescape(desk.see("/odd"))
    assert 'class="here"><span class="muted">hours</span> about a lot' in page
    assert "Read it as running" in page  # the word that 'runing' is near to
    assert "Set the row aside" in page
    assert "It was a failure" in page  # a running engine with a broken crankshaft


def test_a_value_taken_given_or_a_row_set_aside_is_a_line_that_can_be_undone(
    desk: Served,
) -> None:
    before, supplied = stops(desk.folder), (desk.folder / "club.csv").read_bytes()
    taken = desk.act("/odd/mend", **cell(desk.folder, "ending-unknown"), answer="take")
    assert taken.tone == "done"
    assert "status → 'running'" in taken.said
    assert "ending-unknown" not in desk.see("/odd")
    given = cell(desk.folder, "hours-unreadable")
    assert desk.act("/odd/mend", **given, answer="give", new="1300", why="rang up").tone == "done"
    at = cell(desk.folder, "hours-unreadable")
    aside = desk.act("/odd/mend", **at, answer="aside", reason="nobody knows")
    assert aside.tone == "done"
    lines = mends(desk.folder)
    assert [(m["act"], m["new"], m["why"]) for m in lines] == [
        ("value", "running", "the plain value of what is written"),
        ("value", "1300", "rang up"), ("set-aside", "", "nobody knows"),
    ]  # fmt: skip
    assert {m["by"] for m in lines} == {"records keeper"}
    assert len(stops(desk.folder)) == len(before) - 3
    assert desk.act("/undo").tone == "done"
    assert [m["act"] for m in mends(desk.folder)] == ["value", "value"]
    assert desk.act("/odd/untake", number="1").tone == "done"
    assert [m["new"] for m in mends(desk.folder)] == ["1300"]
    for _ in range(3):
        assert desk.act("/undo").tone == "done"
    assert mends(desk.folder) == []
    assert stops(desk.folder) == before
    assert (desk.folder / "club.csv").read_bytes() == supplied


def test_nothing_is_written_that_lacks_a_value_or_a_reason(desk: Served) -> None:
    at = cell(desk.folder, "hours-unreadable")
    for more in ({"answer": "give", "new": ""}, {"answer": "aside"}, {"answer": "take"},
                 {"answer": "burn"}):  # fmt: skip
        reply = desk.act("/odd/mend", **(at | {"proposed": ""}), **more)
        assert reply.tone == "wrong"
        assert reply.said
    assert desk.act("/odd/take", code="hours-unreadable").tone == "wrong"
    assert mends(desk.folder) == []


def test_the_role_is_the_one_that_was_said(desk: Served) -> None:
    assert desk.act("/odd/role", role="club secretary").tone == "done"
    desk.act("/odd/mend", **cell(desk.folder, "ending-unknown"), answer="take")
    assert mends(desk.folder)[0]["by"] == "club secretary"


@pytest.mark.parametrize(("answer", "column", "new"), [
    ("failed", "status", "failed"), ("not_failed", "confirmed", "no"),
])  # fmt: skip
def test_what_may_be_a_failure_is_answered_where_it_stands(
    tmp_path: Path, answer: str, column: str, new: str
) -> None:
    (tmp_path / "study.toml").write_text(STUDY, encoding="utf-8")
    text = re.sub(r"^(A\d.*)$", r"\1;", CONFIRM, flags=re.M).replace("Total;4000;;;\n", "")
    (tmp_path / "club.csv").write_text(text, encoding="utf-8")
    with served(tmp_path) as desk:
        at = cell(tmp_path, "failure-or-not")
        form = {"failed_in": "status", "confirmed_in": "confirmed"}
        assert 'name="failed_in" value="status"' in desk.see("/odd")
        assert desk.act("/odd/mend", **at, **form, answer=answer).tone == "done"
    assert [(m["column"], m["new"]) for m in mends(tmp_path)] == [(column, new)]
    assert ("failure-or-not" in stops(tmp_path)) is False


def test_two_windows_lose_no_mend(desk: Served) -> None:
    first = desk.hidden()
    at = cell(desk.folder, "hours-unreadable")
    desk.act("/odd/mend", **at, answer="give", new="1300")
    late = desk.act("/odd/mend", first, **at, answer="give", new="1400")
    assert late.tone == "conflict"
    assert [m["new"] for m in mends(desk.folder)] == ["1300"]


def test_a_mend_of_the_prompt_shows_at_the_next_look_and_is_not_undone_from_here(
    desk: Served,
) -> None:
    desk.act("/odd/mend", **cell(desk.folder, "ending-unknown"), answer="take")
    page = desk.hidden()
    at = cell(desk.folder, "hours-unreadable")
    take_mends(read_study(desk.folder), [
        Decision(file=at["file"], row=int(at["row"]), act=SET_ASIDE, why="unknown", by="keeper")
    ])  # fmt: skip
    assert "unknown; keeper" in desk.see("/odd")
    assert desk.act("/undo", page).tone == "conflict"
    assert len(mends(desk.folder)) == 2


def test_undo_waits_for_the_prompt_and_takes_back_no_line_of_its(
    desk: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between the look at the folder and the writing no other run can come in."""
    import threading

    from fleetstats.desk.rooms import odd

    begun, ended = threading.Event(), threading.Event()
    other = Decision(file="club.csv", row=2, act=SET_ASIDE, why="sold", by="keeper")

    def prompt() -> None:
        begun.wait(20)
        take_mends(read_study(desk.folder), [other])
        ended.set()

    inner = odd.take_held

    def slow(*args: object, **how: object) -> object:
        begun.set()
        assert not ended.wait(0.3)  # the prompt is kept out until the page has written
        return inner(*args, **how)

    thread = threading.Thread(target=prompt)
    thread.start()
    monkeypatch.setattr(odd, "take_held", slow)
    assert (
        desk.act("/odd/mend", **cell(desk.folder, "ending-unknown"), answer="take").tone == "done"
    )
    thread.join(20)
    assert len(mends(desk.folder)) == 2
    assert desk.act("/undo").tone == "conflict"
    assert len(mends(desk.folder)) == 2


def test_a_row_that_counts_as_none_is_answered_in_the_ledger(tmp_path: Path) -> None:
    (tmp_path / "study.toml").write_text(STUDY, encoding="utf-8")
    (tmp_path / "club.csv").write_text(
        "engine;hours;status;cause;last reading;remark\n"
        + "".join(f"A{i};{600 + i};running;;2025-11-02;\n" for i in range(9))
        + "B1;812;running;;2025-11-02;crankshaft broke, engine seized\n",
        encoding="utf-8",
    )
    with served(tmp_path) as desk:
        page = desk.see("/odd")
        assert "1 not counted" in page
        part = page[page.index('id="open-failures"') :]
        form = {n: re.search(rf'name="{n}" value="([^"]*)"', part).group(1)  # type: ignore[union-attr]
                for n in ("file", "sheet", "row", "column", "digest", "failed_in")}  # fmt: skip
        assert form["failed_in"] == "status"
        assert desk.act("/odd/mend", **form, answer="failed").tone == "done"
        assert 'id="open-failures"' not in desk.see("/odd")
    study = read_study(tmp_path)
    assert [x.engine for x in read_records(study).rows if x.ending == "failed"] == ["B1"]


def test_page_and_prompt_write_the_same_mends(
    desk: Served, tmp_path_factory: pytest.TempPathFactory
) -> None:
    other = tmp_path_factory.mktemp("prompt")
    for name in ("study.toml", "club.csv"):
        (other / name).write_bytes((desk.folder / name).read_bytes())
    words = cell(desk.folder, "ending-unknown")
    desk.act("/odd/mend", **words, answer="take", why="meant")
    hours = cell(desk.folder, "hours-unreadable")
    desk.act("/odd/mend", **hours, answer="aside", why="unread")
    by = "records keeper"
    take_mends(read_study(other), [
        Decision(file="club.csv", row=int(words["row"]), column=words["column"], act=TAKE,
                 new=words["proposed"], why="meant", by=by),
        Decision(file="club.csv", row=int(hours["row"]), act=SET_ASIDE, why="unread", by=by),
    ])  # fmt: skip
    own = mends(desk.folder)
    theirs = mends(other)
    assert [m | {"column": ""} if m["act"] == "set-aside" else m for m in own] == theirs


def test_many_cells_are_shown_some_at_a_time(tmp_path: Path) -> None:
    rows = "".join(f"E{i};lots {i};running;;2025-11-02\n" for i in range(1000))
    (tmp_path / "study.toml").write_text(STUDY, encoding="utf-8")
    (tmp_path / "club.csv").write_text(CLUB.splitlines()[0] + "\n" + rows, encoding="utf-8")
    with served(tmp_path) as desk:
        page = desk.see("/odd")
        assert len(page) < 600_000
        assert "1 to 40 of 1000" in page
        assert "lots 39" in page
        assert "lots 40<" not in page
        later = desk.see("/odd?of=hours-unreadable&from=960")
        assert "961 to 1000 of 1000" in later
        assert "lots 999" in later
