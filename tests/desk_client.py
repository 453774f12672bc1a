"""A served desk, and a client that talks to it as a browser does: cookies, origin, forms."""

from __future__ import annotations

import http.client
import re
import socket
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path
from urllib.parse import parse_qs, urlencode, urlsplit

from fleetstats.desk.app import DeskApp, make_app
from fleetstats.desk.guards import Keys
from fleetstats.desk.life import Life
from fleetstats.desk.serve import make_server


@dataclass(frozen=True)
class Reply:
    status: int
    heads: dict[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode()

    @property
    def said(self) -> str:
        """The line that an act's reply leads back with."""
        return parse_qs(urlsplit(self.heads.get("location", "")).query).get("said", [""])[0]

    @property
    def tone(self) -> str:
        return parse_qs(urlsplit(self.heads.get("location", "")).query).get("tone", [""])[0]


@dataclass
class Served:
    """A desk that is served, and the one browser that was let in."""

    folder: Path
    keys: Keys
    life: Life
    app: DeskApp
    cookie: str = ""
    heads: dict[str, str] = field(default_factory=dict)

    @property
    def origin(self) -> str:
        return f"http://127.0.0.1:{self.keys.port}"

    def ask(
        self, method: str, path: str, body: bytes = b"", heads: dict[str, str] | None = None,
        *, bare: bool = False,
    ) -> Reply:  # fmt: skip
        """Send one request; `bare` adds neither cookie nor origin."""
        own = {} if bare else {"Cookie": self.cookie}
        if method == "POST" and not bare:
            own["Origin"] = self.origin
        connection = http.client.HTTPConnection("127.0.0.1", self.keys.port, timeout=60)
        try:
            connection.request(method, path, body or None, own | (heads or {}))
            reply = connection.getresponse()
            told = {k.lower(): v for k, v in reply.getheaders()}
            return Reply(reply.status, told, reply.read())
        finally:
            connection.close()

    def enter(self) -> None:
        reply = self.ask("GET", f"/enter?key={self.keys.first}", bare=True)
        assert reply.status == 303
        self.cookie = reply.heads["set-cookie"].partition(";")[0]

    def see(self, path: str) -> str:
        reply = self.ask("GET", path)
        assert reply.status == 200, (path, reply.status)
        return reply.text

    def hidden(self, path: str = "/records") -> dict[str, str]:
        """The key and the version that the forms of a page carry."""
        page = self.see(path)
        return {
            n: unescape(re.findall(rf'name="{n}" value="([^"]*)"', page)[0])
            for n in ("form_key", "version")
        }

    def act(self, path: str, hidden: dict[str, str] | None = None, **told: str) -> Reply:
        held = self.hidden() if hidden is None else hidden
        body = urlencode(held | told).encode()
        return self.ask("POST", path, body, {"Content-Type": "application/x-www-form-urlencoded"})

    def drop(
        self, files: dict[str, bytes], path: str = "/records/drop", *, day: str = "2025-12-31"
    ) -> Reply:
        """Drop files; where the records tell no day, that is answered with `day` unless blank."""
        mark = uuid.uuid4().hex
        parts = [
            f'--{mark}\r\nContent-Disposition: form-data; name="{k}"\r\n\r\n{v}\r\n'.encode()
            for k, v in self.hidden().items()
        ]
        parts += [
            f'--{mark}\r\nContent-Disposition: form-data; name="files"; filename="{name}"\r\n'
            "Content-Type: application/octet-stream\r\n\r\n".encode()
            + data
            + b"\r\n"
            for name, data in files.items()
        ]
        body = b"".join([*parts, f"--{mark}--\r\n".encode()])
        reply = self.ask(
            "POST", path, body, {"Content-Type": f"multipart/form-data; boundary={mark}"}
        )
        file = self.folder / "study.toml"
        if day and file.exists() and '# analysis_date = "…"' in file.read_text("utf-8"):
            asked = {"number": "0", "table": "study", "key": "analysis_date", "value": day}
            assert self.act("/records/answer", **asked).tone == "done"
        return reply

    def study(self) -> str:
        return (self.folder / "study.toml").read_text("utf-8")


@contextmanager
def served(folder: Path, *, let_in: bool = True) -> Iterator[Served]:
    """Serve a folder from a thread; the client has entered unless `let_in` is false."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        keys, life = Keys(port=listening.getsockname()[1]), Life()
        app = make_app(folder, keys, life)
        server = make_server(app)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started and thread.is_alive():
            time.sleep(0.01)
        try:
            client = Served(folder=folder, keys=keys, life=life, app=app)
            if let_in:
                client.enter()
            yield client
        finally:
            app.stop()
            server.should_exit = True
            thread.join(20)
