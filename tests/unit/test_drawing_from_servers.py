"""Records drawn from servers: PostgreSQL, a web server, an object store; no secret is told.

No outside source. The servers run on this machine, for these tests alone: PostgreSQL where Debian's
package is installed, the standard library's web server, and a store of objects where the libraries
for it are installed.
"""

from __future__ import annotations

import functools
import re
import sys
import threading
import zipfile
import zlib
from collections.abc import Iterator
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from click.testing import CliRunner
from postgres import Server, server
from test_drawing import ROWS, SECRET, TEXT, database, lives, make

from fleetstats.cli import main
from fleetstats.core.errors import ReadError, SettingError
from fleetstats.records.drawing.draw import draw_records
from fleetstats.report.bundle.pack import study_members
from fleetstats.study.files.drawn import drawn_folder
from fleetstats.study.study import read_record_keys, read_study

DRIVERS = ("+psycopg", "+adbc")
QUERY = 'file = "r.csv"\nsql = "{}"\ndatabase = "{}"'
ALL = "select engine, exit_hours, ending from lives order by engine"
BY_NAME = sorted(ROWS)


@pytest.fixture(scope="module")
def postgres() -> Iterator[Server]:
    psycopg = pytest.importorskip("psycopg", reason="no driver of PostgreSQL is installed")
    with server(SECRET) as running:
        with psycopg.connect(running.address(password=SECRET)) as db:
            db.execute(
                "create table lives (engine text, exit_hours numeric(8, 1), ending text,"
                " seen date, told timestamp, checked boolean, note text)"
            )
            with db.cursor() as cursor:
                cursor.executemany(
                    "insert into lives values (%s, %s, %s, '2026-01-05', '2026-01-05 10:30', true,"
                    " 'Öl, \"dark\"\nand late')",
                    ROWS,
                )
            db.execute("create sequence turns")
        yield running


def needs(driver: str) -> None:
    library = {"+psycopg": "sqlalchemy", "+adbc": "adbc_driver_postgresql"}[driver]
    pytest.importorskip(library, reason=f"{library} is not installed")


def spread(data: bytes) -> bytes:
    """Return the bytes of a file with what is compressed in it spread out."""
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", data, re.DOTALL):
        try:
            data += zlib.decompress(stream)
        except zlib.error:
            continue
    return data


def everything(folder: Path) -> dict[str, bytes]:
    """Return all bytes below a folder, archives unpacked."""
    held = {str(p): spread(p.read_bytes()) for p in folder.rglob("*") if p.is_file()}
    for name in list(held):
        if zipfile.is_zipfile(name):
            with zipfile.ZipFile(name) as z:
                held |= {f"{name}/{n}": spread(z.read(n)) for n in z.namelist()}
    return held


@pytest.mark.parametrize("driver", DRIVERS)
def test_rows_of_a_server_are_drawn_with_all_their_digits(
    postgres: Server, driver: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    needs(driver)
    monkeypatch.setenv("PGPASSWORD", SECRET)
    address = postgres.address(driver)
    folder = make(tmp_path / "study", QUERY.format(ALL, address))
    (name,) = draw_records(folder)
    assert lives(folder) == BY_NAME
    one = "select *, null as empty, 0.1::float8 as tenth from lives where engine = 'E0'"
    folder = make(tmp_path / "all", QUERY.format(one, address))
    (name,) = draw_records(folder)
    head, row = (folder / name).read_text("utf-8").split("\n", 1)
    assert head == "engine,exit_hours,ending,seen,told,checked,note,empty,tenth"
    assert row == (
        'E0,300.5,failed,2026-01-05,2026-01-05 10:30:00,yes,"Öl, ""dark""\nand late",,0.1\n'
    )


@pytest.mark.parametrize("driver", DRIVERS)
@pytest.mark.parametrize(
    "sql",
    [
        "with x as (delete from lives returning *) select engine, exit_hours, ending from x",
        # what is rolled back does not take back a number that was handed out
        "select nextval('turns') as exit_hours, 'E1' as engine, 'failed' as ending",
    ],
)
def test_a_query_that_writes_is_refused_by_the_server(
    postgres: Server, driver: str, sql: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    needs(driver)
    monkeypatch.setenv("PGPASSWORD", SECRET)
    folder = make(tmp_path / "study", QUERY.format(sql, postgres.address(driver)))
    with pytest.raises(ReadError, match="cannot be drawn"):
        draw_records(folder)
    asked = QUERY.format("select count(*) as n from lives", postgres.address(driver))
    folder = make(tmp_path / "count", asked)
    (name,) = draw_records(folder)
    assert (folder / name).read_text("utf-8") == "n\n20\n"


@pytest.mark.parametrize("driver", DRIVERS)
def test_no_message_repeats_what_a_driver_says(
    postgres: Server, driver: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    needs(driver)
    folder = make(tmp_path / "study", QUERY.format(ALL, "env:SHOP_DB"))
    nobody = f"postgresql{driver}://fleet:{SECRET}@127.0.0.1:1/fleet"
    for address in (postgres.address(driver, f"{SECRET}x"), nobody):
        monkeypatch.setenv("SHOP_DB", address)
        got = CliRunner().invoke(main, ["study", str(folder), "--draw"])
        assert got.exit_code == 1
        assert "a query of env:SHOP_DB cannot be drawn" in got.output
        assert SECRET not in got.output
    assert not list((folder / "drawn").iterdir())


@pytest.mark.parametrize("more", [["--quick"], pytest.param([], marks=pytest.mark.slow)])
def test_a_servers_secret_is_in_no_file_report_or_bundle(
    postgres: Server, more: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    needs("+psycopg")
    folder = make(tmp_path / "study", QUERY.format(ALL, "env:SHOP_DB"))
    monkeypatch.setenv("SHOP_DB", postgres.address("+psycopg", SECRET))
    call = ["study", str(folder), "--draw", "--out", str(tmp_path / "out"), *more]
    got = CliRunner().invoke(main, call)
    assert got.exit_code == 0, got.output
    held = everything(tmp_path) | study_members(read_study(folder))
    assert {Path(n).suffix for n in held} >= {".html", ".json", ".toml", ".csv"}
    assert any("drawn/" in n and b"E19" in x for n, x in held.items())
    held["screen"] = got.output.encode()
    assert [n for n, x in held.items() if SECRET.encode() in x] == []


def test_a_database_file_is_drawn_through_either_library(tmp_path: Path) -> None:
    """Its folder's name has marks that mean something in an address."""
    pytest.importorskip("adbc_driver_sqlite", reason="no driver of ADBC is installed")
    pytest.importorskip("sqlalchemy", reason="the extra 'remote' is not installed")
    told = []
    for kind in ("sqlite", "sqlite+adbc"):
        folder = make(tmp_path / "a %41 #b?c", QUERY.format(ALL, f"{kind}:///fleet.db"))
        if kind == "sqlite":
            database(folder)
        (name,) = draw_records(folder)
        told.append((folder / name).read_bytes())
        assert lives(folder) == BY_NAME
        wrong = "with x as (select 1) delete from lives"
        make(folder, QUERY.format(wrong, f"{kind}:///fleet.db"))
        with pytest.raises(ReadError, match="cannot be drawn"):
            draw_records(folder)
    assert told[0] == told[1]


def test_a_driver_that_is_missing_or_unknown_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("adbc_driver_sqlite", "adbc_driver_sqlite.dbapi"):
        monkeypatch.setitem(sys.modules, name, None)
    monkeypatch.setenv("SHOP_DB", f"oracle+adbc://me:{SECRET}@db/fleet")
    for address, said in (
        ("sqlite+adbc:///fleet.db", r"not installed \(adbc_driver_sqlite\)"),
        ("env:SHOP_DB", "address is of no kind that is known"),
    ):
        folder = make(tmp_path / "study", QUERY.format(ALL, address))
        with pytest.raises(SettingError, match=said) as told:
            draw_records(folder)
        assert SECRET not in str(told.value)


class Shop(SimpleHTTPRequestHandler):
    """A web server that gives files whole, as the standard library's does, and some badly."""

    def log_message(self, *_: object) -> None:
        """Keep the screen clear."""

    def do_GET(self) -> None:
        """Break off in the midst of one file, and refuse another."""
        if self.path == "/secret.csv":
            self.send_error(401)
        elif self.path == "/broken.csv":
            self.send_response(200)
            self.send_header("Content-Length", "100000")
            self.end_headers()
            self.wfile.write(TEXT.encode())
        else:
            super().do_GET()


@pytest.fixture
def web(tmp_path: Path) -> Iterator[tuple[str, Path]]:
    pytest.importorskip("aiohttp", reason="no library for web addresses is installed")
    root = tmp_path / "web"
    root.mkdir()
    with ThreadingHTTPServer(
        ("127.0.0.1", 0), functools.partial(Shop, directory=str(root))
    ) as there:
        threading.Thread(target=there.serve_forever, args=(0.02,), daemon=True).start()
        yield f"http://127.0.0.1:{there.server_address[1]}", root
        there.shutdown()


def test_a_web_server_that_gives_files_only_whole(web: tuple[str, Path], tmp_path: Path) -> None:
    """A file longer than what the library asks for at a time, which such a server cannot give."""
    url, root = web
    head, *rows = TEXT.splitlines(keepends=True)
    for i, part in enumerate((rows[:7], rows[7:])):
        (root / f"r-{i}.csv").write_text("".join([head, *part]), encoding="utf-8")
    folder = make(tmp_path / "several", f'file = "{url}/r-*.csv"')
    draw_records(folder)
    assert lives(folder) == ROWS
    long = TEXT + "".join(f"L{i:06d},{300 + i % 900}.5,running\n" for i in range(300_000))
    (root / "long.csv").write_text(long, encoding="utf-8")
    folder = make(tmp_path / "one", f'file = "{url}/long.csv"')
    (name,) = draw_records(folder)
    assert (folder / name).read_bytes() == long.encode()


def test_a_file_that_breaks_off_or_is_refused_leaves_the_earlier_copy(
    web: tuple[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    url, root = web
    (root / "gone.csv").write_text(TEXT, encoding="utf-8")
    for name, said in (
        ("broken", r"cannot be drawn \(ClientPayloadError\)"),
        ("secret", r"'secret.csv' is not at .*, or is not to be seen from here"),
        ("gone", r"'gone.csv' is not at"),
    ):
        folder = make(tmp_path / name, f'file = "{url}/{name}.csv"')
        kept = folder / drawn_folder(read_record_keys(folder)[0]) / f"{name}.csv"
        kept.parent.mkdir(parents=True)
        kept.write_text(TEXT, encoding="utf-8")
        (root / "gone.csv").unlink(missing_ok=True)
        with pytest.raises(ReadError, match=said):
            draw_records(folder)
        assert lives(folder) == ROWS
        assert [p.name for p in (folder / "drawn").rglob("*.csv")] == [f"{name}.csv"]


def test_a_store_of_objects_with_its_keys_in_the_environment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    reason = "no library for stores of objects, or none that stands in for one, is installed"
    s3fs = pytest.importorskip("s3fs", reason=reason)
    moto = pytest.importorskip("moto.server", reason=reason)
    monkeypatch.setenv("AWS_ACCESS_KEY_ID", "someone")
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", SECRET)
    monkeypatch.setenv("AWS_DEFAULT_REGION", "us-east-1")
    store = moto.ThreadedMotoServer(ip_address="127.0.0.1", port=0, verbose=False)
    store.start()
    try:
        address = "http://{}:{}".format(*store.get_host_and_port())
        monkeypatch.setenv("AWS_ENDPOINT_URL", address)
        system = s3fs.S3FileSystem(skip_instance_cache=True)
        system.mkdir("fleet")
        head, *rows = TEXT.splitlines(keepends=True)
        for i, part in enumerate((rows[:7], rows[7:])):
            system.pipe_file(f"fleet/r-{i}.csv", "".join([head, *part]).encode())
        folder = make(tmp_path / "study", 'file = "s3://fleet/r-*.csv"')
        draw_records(folder)
        assert lives(folder) == ROWS
    finally:
        store.stop()
    with pytest.raises(ReadError) as gone:
        draw_records(folder)
    assert lives(folder) == ROWS
    held = [str(gone.value).encode(), *everything(tmp_path).values()]
    assert not [x for x in held if SECRET.encode() in x]
