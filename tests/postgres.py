"""A PostgreSQL server of a test's own: a temporary cluster on this machine, gone afterwards."""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

USER = "postgres"
"""Who runs the server where the tests run as root, which it refuses; Debian's package adds it."""


@dataclass(frozen=True)
class Server:
    """Where a server listens; its owner and database are `fleet`."""

    port: int

    def address(self, driver: str = "", password: str = "") -> str:
        """Return its address for a driver, such as ``+adbc``."""
        word = f":{password}" if password else ""
        return f"postgresql{driver}://fleet{word}@127.0.0.1:{self.port}/fleet"


def programs() -> Path:
    """Return the folder of the server's programs; skip the test where there is none."""
    found = shutil.which("initdb")
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if not found and not folders:
        pytest.skip("no PostgreSQL server is installed")
    return Path(found).resolve().parent if found else folders[-1].parent


def run_as() -> str | None:
    """Return who runs the server, None for whoever runs the tests."""
    if os.geteuid():
        return None
    import pwd

    try:
        pwd.getpwnam(USER)
    except KeyError:
        pytest.skip(f"a server is not run by root, and there is no user {USER}")
    return USER


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


@contextlib.contextmanager
def server(password: str) -> Iterator[Server]:
    """Run a server with an empty database, its owner's password asked for on every connection."""
    binaries, who, port = programs(), run_as(), free_port()
    root = Path(tempfile.mkdtemp(prefix="pg-"))
    try:
        (root / "word").write_text(password, encoding="utf-8")
        if who:
            shutil.chown(root, who)
            shutil.chown(root / "word", who)
        data = root / "data"
        subprocess.run(
            [binaries / "initdb", "-D", data, "-U", "fleet", "--pwfile", root / "word", "-N",
             "--auth=scram-sha-256", "-E", "UTF8", "--locale=C"],
            check=True, stdout=subprocess.DEVNULL, user=who, cwd=root,
        )  # fmt: skip
        running = subprocess.Popen(
            [binaries / "postgres", "-D", data, "-p", str(port), "-k", root, "-h", "127.0.0.1",
             "-F", "-c", "shared_buffers=8MB"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, user=who, cwd=root,
        )  # fmt: skip
        try:
            _until_it_answers(port, running)
            environment = {"PGPASSWORD": password, "PATH": os.environ["PATH"]}
            at = ["-h", "127.0.0.1", "-p", str(port), "-U", "fleet"]
            subprocess.run([binaries / "createdb", *at, "fleet"], check=True, env=environment)
            yield Server(port)
        finally:
            running.terminate()
            running.wait(20)
    finally:
        shutil.rmtree(root, ignore_errors=True)


def _until_it_answers(port: int, running: subprocess.Popen[bytes]) -> None:
    for _ in range(200):
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
            return
        assert running.poll() is None, "the server ended"
        time.sleep(0.05)
    raise AssertionError("the server does not answer")
