"""Nobody but the one browser that was let in gets an answer, and no page can reach out.

What is tried: a stranger's page in the same browser (cross-site forms and scripts), a name that a
stranger's server points at this machine (rebinding), another user of the machine who guesses or
reads the address later, a page made of the records' own text, names of files that lead out, bodies
without end. The list is common practice for local servers; no source.
"""

from __future__ import annotations

import os
import socket
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from desk_client import Served, served

from fleetstats.desk import guards

ROWS = b"engine,exit_hours,ending,cause\nE-1,100,running,\nE-2,300,running,\nE-3,250,failed,valve\n"
EVIL = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>"


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("desk") / "our club"
    folder.mkdir()
    with served(folder) as client:
        assert client.drop({"lives.csv": ROWS}).tone == "done"
        yield client


@pytest.mark.parametrize(
    "path", ["/", "/records", "/static/desk.js", "/take/report.pdf", "/job", "/x"]
)
def test_nothing_is_answered_without_the_cookie(desk: Served, path: str) -> None:
    for cookie in ("", f"{desk.keys.cookie}=x", desk.cookie[:-1], desk.keys.session):
        reply = desk.ask("GET", path, heads={"Cookie": cookie}, bare=True)
        assert reply.status == 403
        assert desk.keys.session not in reply.text
        assert desk.keys.form not in reply.text


def test_the_first_address_lets_one_browser_in_once(desk: Served) -> None:
    again = desk.ask("GET", f"/enter?key={desk.keys.first}", bare=True)
    assert (again.status, again.heads.get("set-cookie")) == (403, None)
    mine = desk.ask("GET", "/enter?key=whatever")
    assert (mine.status, mine.heads["location"]) == (303, "/")


@pytest.mark.parametrize("told", ["", "key=", "key=x", "key=" + "é" * 10, "other=1"])
def test_a_wrong_key_lets_nobody_in_and_uses_nothing_up(tmp_path: Path, told: str) -> None:
    with served(tmp_path, let_in=False) as client:
        path = f"/enter?{told}".encode().decode("ascii", "replace").replace("\ufffd", "%C3")
        assert client.ask("GET", path, bare=True).status == 403
        client.enter()
        assert "HttpOnly" not in client.cookie


def test_the_cookie_is_for_this_site_and_no_script(tmp_path: Path) -> None:
    with served(tmp_path, let_in=False) as client:
        reply = client.ask("GET", f"/enter?key={client.keys.first}", bare=True)
        flags = {x.strip() for x in reply.heads["set-cookie"].split(";")[1:]}
        assert flags == {"HttpOnly", "SameSite=Strict", "Path=/"}
        assert client.keys.first not in reply.heads["location"]


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost", "0.0.0.0:{port}",
             "127.0.0.1.evil.example:{port}", "evil.example:{port}", "[::1]:{port}"],
)  # fmt: skip
def test_another_name_for_this_machine_is_not_answered(desk: Served, host: str) -> None:
    heads = {"Host": host.format(port=desk.keys.port)}
    assert desk.ask("GET", "/records", heads=heads).status == 421


def test_two_hosts_in_one_request_are_not_answered(desk: Served) -> None:
    with socket.create_connection(("127.0.0.1", desk.keys.port)) as s:
        own = f"127.0.0.1:{desk.keys.port}"
        s.sendall(f"GET /records HTTP/1.1\r\nHost: {own}\r\nHost: evil.example\r\n"
                  f"Cookie: {desk.cookie}\r\n\r\n".encode())  # fmt: skip
        assert s.recv(100).split()[1] in (b"400", b"421")


@pytest.mark.parametrize(
    "heads",
    [{"Origin": "https://evil.example"}, {"Origin": "null"}, {"Origin": "http://127.0.0.1:1"},
     {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}],
)  # fmt: skip
def test_a_strangers_page_gets_nothing_even_with_the_cookie(
    desk: Served, heads: dict[str, str]
) -> None:
    assert desk.ask("GET", "/records", heads=heads).status == 403
    before = desk.study()
    hidden = desk.hidden()
    body = "&".join(f"{k}={v}" for k, v in hidden.items()) + "&table=study&key=seed&answer=5"
    form = {"Content-Type": "application/x-www-form-urlencoded"}
    assert desk.ask("POST", "/question/choose", body.encode(), form | heads).status == 403
    assert desk.study() == before


def test_a_form_without_an_origin_is_not_taken(desk: Served) -> None:
    reply = desk.ask("POST", "/question/choose", b"x=1", {"Cookie": desk.cookie}, bare=True)
    assert reply.status == 403


@pytest.mark.parametrize("key", ["", "x", "{first}", "{session}"])
def test_a_form_without_its_key_is_not_taken(desk: Served, key: str) -> None:
    told = key.format(first=desk.keys.first, session=desk.keys.session)
    before = desk.study()
    hidden = desk.hidden() | {"form_key": told}
    for path in ("/question/choose", "/undo", "/close", "/report/write"):
        reply = desk.act(path, hidden, table="study", key="commercial", answer="yes")
        assert reply.status == 403
    assert desk.study() == before
    assert not desk.life.closed.is_set()


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"])
def test_other_methods_are_not_answered(desk: Served, method: str) -> None:
    assert desk.ask(method, "/records").status == 405


def test_no_act_is_done_by_an_address(desk: Served) -> None:
    for path in ("/question/choose", "/undo", "/close", "/records/drop", "/report/write"):
        assert desk.ask("GET", path).status in (404, 405)


def test_every_answer_carries_the_policy(desk: Served) -> None:
    for path in ("/records", "/static/desk.js", "/nothing", "/take/report.pdf", "/job"):
        reply = desk.ask("GET", path)
        assert "script-src 'self'" in reply.heads["content-security-policy"]
        assert "unsafe" not in reply.heads["content-security-policy"]
        assert reply.heads["x-content-type-options"] == "nosniff"
        assert reply.heads["x-frame-options"] == "DENY"
        assert reply.heads["cache-control"] == "no-store"
        assert reply.heads["referrer-policy"] == "same-origin"
        assert "access-control-allow-origin" not in reply.heads


def test_the_report_is_shown_in_an_origin_of_its_own(desk: Served) -> None:
    (desk.folder / "report").mkdir()
    (desk.folder / "report" / "report.html").write_text("<script>1</script>")
    heads = desk.ask("GET", "/read/report").heads
    policy = heads["content-security-policy"]
    assert policy.startswith("sandbox allow-scripts;")
    assert "allow-same-origin" not in policy
    assert "default-src 'none'" in policy
    assert "connect-src" not in policy
    assert (
        desk.ask("GET", "/take/report.html").heads["content-disposition"].startswith("attachment")
    )


@pytest.mark.parametrize(
    ("kind", "most"),
    [("application/x-www-form-urlencoded", guards.MOST_FORM_BYTES),
     ("multipart/form-data; boundary=x", guards.MOST_FILE_BYTES), ("text/plain", 2**18)],
)  # fmt: skip
def test_a_form_too_large_is_refused_before_it_is_read(desk: Served, kind: str, most: int) -> None:
    with socket.create_connection(("127.0.0.1", desk.keys.port)) as s:
        s.sendall(f"POST /records/drop HTTP/1.1\r\nHost: 127.0.0.1:{desk.keys.port}\r\n"
                  f"Origin: {desk.origin}\r\nCookie: {desk.cookie}\r\nContent-Type: {kind}\r\n"
                  f"Content-Length: {most + 1}\r\n\r\n".encode())  # fmt: skip
        assert s.recv(100).split()[1] == b"413"


def test_a_form_that_does_not_say_its_length_is_counted(desk: Served) -> None:
    with socket.create_connection(("127.0.0.1", desk.keys.port)) as s:
        s.sendall(f"POST /question/choose HTTP/1.1\r\nHost: 127.0.0.1:{desk.keys.port}\r\n"
                  f"Origin: {desk.origin}\r\nCookie: {desk.cookie}\r\n"
                  "Content-Type: application/x-www-form-urlencoded\r\n"
                  "Transfer-Encoding: chunked\r\n\r\n".encode())  # fmt: skip
        chunk = b"10000\r\n" + b"x" * 0x10000 + b"\r\n"
        try:
            for _ in range(8):
                s.sendall(chunk)
        except OSError:
            pass  # the desk has hung up, as it should
        try:
            told = s.recv(100)
        except ConnectionResetError:
            told = b""
        assert told == b"" or told.split()[1] in (b"413", b"400")


def test_a_form_that_does_not_come_is_not_waited_for(
    desk: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(guards, "SECONDS_TO_SEND", 0.3)
    with socket.create_connection(("127.0.0.1", desk.keys.port), timeout=10) as s:
        s.sendall(f"POST /question/choose HTTP/1.1\r\nHost: 127.0.0.1:{desk.keys.port}\r\n"
                  f"Origin: {desk.origin}\r\nCookie: {desk.cookie}\r\n"
                  "Content-Type: application/x-www-form-urlencoded\r\n"
                  "Content-Length: 100\r\n\r\nx".encode())  # fmt: skip
        assert s.recv(100).split()[1] == b"413"


@pytest.mark.parametrize(
    "name",
    ["../out.csv", "..\\out.csv", "/tmp/out.csv", "C:\\out.csv", ".hidden.csv", "study.toml",
     "con.csv", "a\x00b.csv", "a:b.csv", "x.exe", "history.jsonl", "numpy.py", "~x.csv", "a.csv.",
     "-rf.csv", "a" * 200 + ".csv"],
)  # fmt: skip
def test_a_dropped_file_stays_in_the_folder_under_a_plain_name(desk: Served, name: str) -> None:
    around = set(desk.folder.parent.iterdir())
    there = {p.name for p in desk.folder.iterdir()}
    before = desk.study()
    reply = desk.drop({name: b"engine,exit_hours,ending\nE-9,1,running\n"})
    assert set(desk.folder.parent.iterdir()) == around
    new = {p.name for p in desk.folder.iterdir()} - there
    if new:  # browsers send names alone; of a path only the name is kept, of odd signs a hyphen
        assert new <= {"out.csv", "x.csv", "a-b.csv"}
        assert len(new) == 1
        assert desk.act("/undo", desk.hidden()).tone == "done"
        (desk.folder / new.pop()).unlink()
    else:
        assert reply.tone in ("wrong", "") or "there already" in reply.said or reply.status == 400
    assert desk.study() == before
    assert not Path("/tmp/out.csv").exists()


def test_a_file_that_is_there_is_never_changed(desk: Served) -> None:
    reply = desk.drop({"lives.csv": ROWS + b"E-4,5,running,\n"})
    assert reply.tone == "done"
    assert (desk.folder / "lives.csv").read_bytes() == ROWS
    assert (desk.folder / "lives (2).csv").read_bytes() == ROWS + b"E-4,5,running,\n"
    assert desk.act("/undo").tone == "done"
    (desk.folder / "lives (2).csv").unlink()


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_no_link_leads_out(desk: Served, tmp_path: Path) -> None:
    secret = tmp_path / "secret.csv"
    secret.write_bytes(b"engine,exit_hours,ending\nSECRET,1,running\n")
    (desk.folder / "linked.csv").symlink_to(secret)
    (desk.folder / "report").mkdir(exist_ok=True)
    (desk.folder / "report" / "report.pdf").symlink_to(secret)
    try:
        assert desk.ask("GET", "/take/report.pdf").status == 404
        desk.drop({"linked.csv": b"engine,exit_hours,ending\nE-8,1,running\n"})
        assert b"SECRET" in secret.read_bytes()
        assert "SECRET" not in desk.see("/records")
        desk.act("/undo")
        version = desk.hidden()["version"]
        text = desk.study() + '\n[[records]]\nfile = "linked.csv"\n'
        (desk.folder / "study.toml").write_text(text)
        page = desk.see("/records")
        assert "SECRET" not in page
        assert "leads out of the study" in page
        assert version not in page
    finally:
        (desk.folder / "study.toml").write_text(
            text.replace('\n[[records]]\nfile = "linked.csv"\n', "")
        )
        (desk.folder / "linked.csv").unlink()
        (desk.folder / "report" / "report.pdf").unlink()


@pytest.mark.parametrize(
    "path", ["/take/study.toml", "/take/..%2Fstudy.toml", "/take/%2Fetc%2Fpasswd", "/take/report",
             "/static/..%2Fapp.py", "/static/desk.py", "/static/page.css%00", "/take/lives.csv"],
)  # fmt: skip
def test_only_named_files_are_given(desk: Served, path: str) -> None:
    assert desk.ask("GET", path).status == 404


def test_all_text_of_the_records_is_text(desk: Served, tmp_path: Path) -> None:
    cell = EVIL.replace('"', '""')
    rows = f'engine,exit_hours,"{cell}",ending,cause\n"{cell}",100,"{cell}","{cell}","{cell}"\n'
    folder = tmp_path / "<b>club"
    folder.mkdir()
    with served(folder) as client:
        client.drop({"b.csv": rows.encode()})
        client.act("/records/source", client.hidden(), number="1", source=EVIL)
        client.act("/question/choose", client.hidden(), table="study", key="title", answer=EVIL)
        for room in ("records", "odd", "question", "answer", "report", "years"):
            page = client.see(
                f"/{room}?said={EVIL.replace(' ', '+')}&tone={EVIL.replace(' ', '+')}"
            )
            assert "<script>alert" not in page
            assert "<img src=x" not in page
            assert "<b>club" not in page


def test_a_value_of_a_form_is_data_and_no_toml(desk: Served) -> None:
    evil = 'x" # ] [study] seed = 1 \\'
    reply = desk.act("/question/choose", table="study", key="asked_by", answer=evil)
    assert reply.tone == "done", reply.said
    assert tomllib.loads(desk.study())["study"]["asked_by"] == evil
    assert desk.act("/undo").tone == "done"
    before = desk.study()
    reply = desk.act("/question/choose", table="study", key="asked_by", answer=f"x\n{evil}")
    assert reply.tone == "wrong"
    assert desk.study() == before


@pytest.mark.parametrize(
    ("path", "told"),
    [("/records/column", {"number": "1", "column": "99", "ours": "engine"}),
     ("/records/column", {"number": "9", "column": "0", "ours": "engine"}),
     ("/records/column", {"number": "-1", "column": "0", "ours": "engine"}),
     ("/records/column", {"number": "1", "column": "0", "ours": "__class__"}),
     ("/records/shape", {"number": "1", "shape": "x"}),
     ("/records/word", {"number": "1", "map": "columns", "word": "a", "meaning": "failed"}),
     ("/records/word", {"number": "1", "map": "__init__", "word": "a", "meaning": "failed"}),
     ("/records/header", {"number": "1", "row": "one"}),
     ("/records/sheet", {"file": "../x.xlsx", "sheet": "a"}),
     ("/odd/treat", {"code": "no-such", "action": "accept"}),
     ("/odd/treat", {"code": "duplicate-row", "action": "__class__"}),
     ("/question/choose", {"table": "fleet", "key": "__class__", "answer": "x"}),
     ("/question/choose", {"table": "records", "key": "file", "answer": "x"}),
     ("/answer/keep", {"hours": "nan"}), ("/answer/keep", {"accepted": "200"})],
)  # fmt: skip
def test_a_form_of_nobodys_making_changes_nothing(
    desk: Served, path: str, told: dict[str, str]
) -> None:
    before = desk.study()
    reply = desk.act(path, **told)
    assert (reply.status, reply.tone) == (303, "wrong")
    assert desk.study() == before
