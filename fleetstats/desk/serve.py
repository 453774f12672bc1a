"""The server: one port of the loopback address, from opening until somebody closes it."""

from __future__ import annotations

import socket
import threading
import time
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from fleetstats.core.errors import SettingError
from fleetstats.desk.life import Life
from fleetstats.desk.words import words

if TYPE_CHECKING:
    import uvicorn

    from fleetstats.desk.guards import App


def serve(folder: Path, *, browser: bool, say: Callable[[str], None]) -> None:
    """Serve a study's folder until Ctrl-C, the page's own button, or the last page is closed.

    Parameters
    ----------
    folder : Path
        Made where it is not there.
    browser : bool
        Whether to open the browser; the address is told either way.
    say : callable
        Sent the address and how to end.

    Raises
    ------
    SettingError
        If the folder is a file or cannot be made.
    """
    from fleetstats.desk.app import make_app
    from fleetstats.desk.guards import Keys

    folder = folder.absolute()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SettingError(
            words("frame", "no_folder", name=folder.name, why=error.strerror)
        ) from None
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listening:
        listening.bind(("127.0.0.1", 0))
        keys, life = Keys(port=listening.getsockname()[1]), Life()
        app = make_app(folder, keys, life)
        server = make_server(app)
        say(words("frame", "address", address=keys.address))
        say(words("frame", "how_to_end"))
        threading.Thread(target=_watch, args=(server, life), daemon=True).start()
        threading.Thread(target=_warm, daemon=True).start()
        if browser:
            threading.Thread(target=_open, args=(server, keys.address), daemon=True).start()
        try:
            server.run(sockets=[listening])
        except KeyboardInterrupt:
            return
        finally:
            app.stop()


def make_server(app: App) -> uvicorn.Server:
    """Return the server of a desk, which a run gives its listening socket."""
    import uvicorn

    return uvicorn.Server(
        uvicorn.Config(
            app, log_config=None, access_log=False, lifespan="off", server_header=False,
            ws="none", http="h11", limit_concurrency=64, timeout_keep_alive=5,
            timeout_graceful_shutdown=2, h11_max_incomplete_event_size=32_768,
            proxy_headers=False,
        )
    )  # fmt: skip


def _open(server: uvicorn.Server, address: str) -> None:
    while not server.started:
        time.sleep(0.02)
    webbrowser.open(address)


def _watch(server: uvicorn.Server, life: Life) -> None:
    while not life.over(time.monotonic()):
        life.closed.wait(0.5)
    server.should_exit = True


def _warm() -> None:
    """Load what the first answer needs while somebody is still looking at the first page."""
    from fleetstats.chapters import claim
    from fleetstats.studies import single

    del claim, single
