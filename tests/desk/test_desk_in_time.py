"""A long answer ends in a sentence within the limit, and holds up nothing that needs none of it."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from desk_client import Served, served

from fleetstats.desk import guards
from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.rooms import ROOMS, Room
from fleetstats.desk.words import words

LIMIT_S = 1.0
ROWS = b"engine,exit_hours,ending,cause\nE-1,100,running,\nE-2,300,running,\nE-3,250,failed,valve\n"


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Served]:
    with served(tmp_path / "club") as client:
        client.folder.mkdir()
        assert client.drop({"lives.csv": ROWS}).tone == "done"
        monkeypatch.setattr(guards, "SECONDS_TO_ANSWER", LIMIT_S)
        yield client


class Slow:
    """A room whose work goes on until it is let go, with the reader's locks held as by a fit."""

    def __init__(self, *locks: str) -> None:
        self.locks, self.begun, self.go = locks, threading.Event(), threading.Event()

    def __call__(self, place: DeskPlace, form: Sent) -> dict[str, Any]:
        del form
        held = [getattr(place.reader, n) for n in self.locks]
        for lock in held:
            lock.acquire()
        self.begun.set()
        self.go.wait(30)
        for lock in held:
            lock.release()
        return {}


def in_background(desk: Served, path: str, out: list[Any]) -> threading.Thread:
    def ask() -> None:
        begun = time.monotonic()
        out.append((desk.ask("GET", path), time.monotonic() - begun))

    thread = threading.Thread(target=ask)
    thread.start()
    return thread


def test_a_long_answer_ends_in_a_sentence_and_the_rest_is_served_meanwhile(
    desk: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Everything that reads is held here, the worst case: files, job and closing need none."""
    slow = Slow("lock", "base_lock", "proposals_lock")
    monkeypatch.setitem(ROOMS, "answer", Room(slow, {}))
    hidden, out = desk.hidden(), []
    asking = in_background(desk, "/answer", out)
    assert slow.begun.wait(5)
    begun = time.monotonic()
    for path in ("/static/desk.css", "/static/page.css", "/job"):
        assert desk.ask("GET", path).status == 200
    assert desk.ask("GET", "/take/brief.pdf").status == 404
    assert desk.ask("POST", "/sign/here").status == 204
    assert desk.act("/report/stop", hidden).said == words("report", "stopped_none")
    assert not out  # all that came while the answer was still worked on
    assert time.monotonic() - begun < LIMIT_S
    waiting = desk.ask("GET", "/question")  # needs what is held: it is not left to hang either
    assert waiting.status == 503
    asking.join(10)
    reply, took = out[0]
    assert reply.status == 503
    assert words("refusals", "text_503", seconds="1") in reply.text.replace("&#39;", "'")
    assert LIMIT_S <= took < 3 * LIMIT_S
    assert reply.heads["content-security-policy"] == guards.PAGE_POLICY
    assert desk.act("/close", hidden).status == 200
    assert desk.life.over(0.0)
    slow.go.set()


def test_a_long_fit_holds_up_no_room_that_needs_none(
    desk: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The fit itself is slow here, wherever the page asks for it."""
    from fleetstats.studies import single

    begun, go, fit = threading.Event(), threading.Event(), single.base_of

    def slow(*args: Any) -> Any:
        begun.set()
        go.wait(30)
        return fit(*args)

    monkeypatch.setattr(single, "base_of", slow)
    monkeypatch.setattr(guards, "SECONDS_TO_ANSWER", 5.0)
    out: list[Any] = []
    asking = in_background(desk, "/answer", out)
    assert begun.wait(10)
    for room in ("records", "odd", "question", "report", "years"):
        assert desk.ask("GET", f"/{room}").status == 200
    assert not out
    go.set()
    asking.join(10)
    assert out[0][0].status == 200


def test_a_desk_that_is_closed_does_not_wait_for_a_long_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    slow, out = Slow("lock"), []  # type: ignore[var-annotated]
    monkeypatch.setitem(ROOMS, "answer", Room(slow, {}))
    with served(tmp_path) as client:
        asking = in_background(client, "/answer", out)
        assert slow.begun.wait(5)
        begun = time.monotonic()
    assert time.monotonic() - begun < 10.0  # the server gives requests two seconds to end
    asking.join(5)
    slow.go.set()
    assert out[0][0].status == 503
    assert words("refusals", "title_0") in out[0][0].text
    assert "Traceback" not in caplog.text


def test_who_waits_for_the_records_is_sent_away_and_not_heaped_up(
    desk: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    slow = Slow("lock")
    monkeypatch.setitem(ROOMS, "answer", Room(slow, {}))
    threads = threading.active_count()
    asking = in_background(desk, "/answer", [])
    assert slow.begun.wait(5)
    for _ in range(2):
        assert desk.ask("GET", "/question").status == 503
    asking.join(10)
    time.sleep(LIMIT_S)
    assert threading.active_count() <= threads + 1  # the slow one alone
    slow.go.set()
    assert desk.ask("GET", "/question").status == 200


def test_an_act_that_takes_long_is_told_so_and_a_fault_is_still_a_fault(
    desk: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    go = threading.Event()

    def long_act(place: DeskPlace, form: Sent) -> str:
        del place, form
        go.wait(30)
        return "x"

    def fault(place: DeskPlace, form: Sent) -> str:
        raise RuntimeError

    acts = {"long": long_act, "fault": fault}
    hidden = desk.hidden()
    monkeypatch.setitem(ROOMS, "answer", Room(ROOMS["answer"].show, acts))
    assert desk.act("/answer/long", hidden).status == 503
    assert desk.act("/answer/fault", hidden).status == 500
    go.set()


def test_the_limit_that_is_promised_is_the_one_that_holds() -> None:
    assert guards.SECONDS_TO_ANSWER == 60.0
    assert "for {seconds} seconds" in words("refusals", "text_503", seconds="{seconds}")
