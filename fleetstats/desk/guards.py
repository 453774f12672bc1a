"""What stands between the network and the rooms: who may ask, how much, and what a page may do.

Written against the interface of ASGI servers (ASGI 3.0), so that nothing is answered, not even a
missing page, before these checks. Common practice for servers on a loopback address; the list of
what each answers is in the docstrings below.
"""

from __future__ import annotations

import contextlib
import hmac
import secrets
import time
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

MOST_FORM_BYTES = 256 * 2**10
"""Largest form without files."""
MOST_FILE_BYTES = 64 * 2**20
"""Largest form with files: a workbook of a fleet has a few megabytes."""
SECONDS_TO_SEND = 60.0
"""How long a form may take to arrive; on one machine it takes moments."""
SECONDS_TO_ANSWER = 60.0
"""How long a request may be worked on: the largest fleet that was tried needs a tenth of it."""

PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
REPORT_POLICY = (
    "sandbox allow-scripts; default-src 'none'; script-src 'unsafe-inline'; "
    "style-src 'unsafe-inline'; img-src data:; font-src data:"
)
"""A report is one page with its own script: it is shown in an origin of its own, from which it can
reach neither the desk nor any other place."""

HEADERS = (
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    # not "no-referrer": a browser then tells a form's origin as "null", unless a script sends it
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
    (b"cache-control", b"no-store"),
)
LOCAL_NAMES = ("127.0.0.1", "localhost")


class TooLarge(Exception):
    """A form has more bytes than it may have, or takes too long to arrive."""


@dataclass(slots=True)
class Keys:
    """The secrets of one run: of its first address, of its cookie, of its forms."""

    port: int
    first: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    session: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    form: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    used: bool = False

    @property
    def cookie(self) -> str:
        """Return the cookie's name; ports share cookies, so it names its own."""
        return f"fleetstats-desk-{self.port}"

    @property
    def address(self) -> str:
        """Return the first address, which lets one browser in, once."""
        return f"http://127.0.0.1:{self.port}/enter?key={self.first}"

    def knows(self, cookies: str) -> bool:
        """Return whether a header of cookies holds this run's."""
        try:
            held = SimpleCookie(cookies).get(self.cookie)
        except CookieError:
            return False
        return held is not None and same(held.value, self.session)


def same(told: str, secret: str) -> bool:
    """Compare without telling by the time taken how much was right."""
    return hmac.compare_digest(told.encode("utf-8", "replace"), secret.encode())


class Guard:
    """Lets through what comes from the one browser that was let in, and from the desk's own pages.

    - `Host` must be a local name with the desk's port: else 421, against names that a stranger's
      server points at this machine.
    - `Origin` and `Sec-Fetch-Site`, where told, must be the desk's own: else 403. A form must tell
      its origin.
    - Only GET, HEAD and POST are answered: else 405.
    - The first address sets the cookie, once: afterwards 403 without the cookie.
    - A body with more bytes than its kind may have: 413; one that is slow to come: 413 too.
    """

    def __init__(self, app: App, keys: Keys, refuse: Callable[[int], bytes]) -> None:
        self.app, self.keys, self.refuse = app, keys, refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request, or refuse it."""
        if scope["type"] != "http":
            if scope["type"] == "websocket":
                await send({"type": "websocket.close", "code": 1008})
                return
            await self.app(scope, receive, send)
            return
        heads = _heads(scope)
        status = self._first_word(scope, heads)
        if status:
            await self._say(send, status)
        elif scope["path"] == "/enter":
            await self._enter(scope, heads, send)
        elif not self.keys.knows(heads.get("cookie", "")):
            await self._say(send, 403)
        else:
            await self._pass_on(scope, heads, receive, send)

    def _first_word(self, scope: Scope, heads: dict[str, str]) -> int:
        """Return the status of what may not even ask; 0 where it may."""
        own = {f"{name}:{self.keys.port}" for name in LOCAL_NAMES}
        if heads.get("host", "") not in own:
            return 421
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return 405
        origin, posting = heads.get("origin"), scope["method"] == "POST"
        if (origin is not None or posting) and origin != f"http://{heads['host']}":
            return 403
        if heads.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return 403
        return 0

    async def _enter(self, scope: Scope, heads: dict[str, str], send: Send) -> None:
        told = parse_qs(scope["query_string"].decode("latin-1")).get("key", [""])[0]
        if self.keys.knows(heads.get("cookie", "")):
            await _start(send, 303, [(b"location", b"/")])
            return
        if scope["method"] != "GET" or self.keys.used or not same(told, self.keys.first):
            await self._say(send, 403)
            return
        self.keys.used = True
        cookie = f"{self.keys.cookie}={self.keys.session}; HttpOnly; SameSite=Strict; Path=/"
        await _start(send, 303, [(b"location", b"/"), (b"set-cookie", cookie.encode())])

    async def _pass_on(
        self, scope: Scope, heads: dict[str, str], receive: Receive, send: Send
    ) -> None:
        files = heads.get("content-type", "").startswith("multipart/form-data")
        most = MOST_FILE_BYTES if files else MOST_FORM_BYTES
        length = heads.get("content-length", "0")
        if not (length.isascii() and length.isdecimal()) or int(length) > most:
            await self._say(send, 413)
            return
        begun, body = False, _Body(receive, most)

        async def safe(message: Message) -> None:
            nonlocal begun
            if body.refused and not begun:
                return  # the frame's own page for errors; ours comes below
            if message["type"] == "http.response.start":
                begun = True
                told = {name for name, _ in message["headers"]}
                more = [h for h in _headers() if h[0] not in told]
                message = {**message, "headers": [*message["headers"], *more]}
            await send(message)

        with contextlib.suppress(TooLarge):
            await self.app(scope, body.receive, safe)
        if body.refused and not begun:
            await self._say(send, 413)

    async def _say(self, send: Send, status: int) -> None:
        heads = [(b"content-type", b"text/html; charset=utf-8"), (b"connection", b"close")]
        await _start(send, status, heads, self.refuse(status))


class _Body:
    """A request's body as it comes: it stops at too many bytes, or when they take too long."""

    def __init__(self, receive: Receive, most: int) -> None:
        self.source, self.left, self.more, self.refused = receive, most, True, False
        self.end = time.monotonic() + SECONDS_TO_SEND

    async def receive(self) -> Message:
        """Return the next part; raises TooLarge."""
        import anyio

        if not self.more:
            return await self.source()
        try:
            with anyio.fail_after(max(self.end - time.monotonic(), 0.0)):
                message = await self.source()
        except TimeoutError:
            self.refused = True
            raise TooLarge from None
        self.left -= len(message.get("body", b""))
        self.more = bool(message.get("more_body", False))
        if self.left < 0:
            self.refused = True
            raise TooLarge
        return message


async def _start(
    send: Send, status: int, heads: list[tuple[bytes, bytes]], body: bytes = b""
) -> None:
    heads = [*heads, *_headers(), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": heads})
    await send({"type": "http.response.body", "body": body})


def _headers() -> list[tuple[bytes, bytes]]:
    return [*HEADERS, (b"content-security-policy", PAGE_POLICY.encode())]


def _heads(scope: Scope) -> dict[str, str]:
    """Return a request's headers; of one told twice both, which is no value that is let through."""
    out: dict[str, str] = {}
    for name, told in scope["headers"]:
        key, text = name.decode("latin-1"), told.decode("latin-1")
        out[key] = f"{out[key]}, {text}" if key in out and key != "cookie" else text
    return out
