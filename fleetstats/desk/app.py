"""The desk's addresses: rooms to see, acts to do, files to take. Everything passes the guard."""

from __future__ import annotations

from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode

from fleetstats.core.errors import FleetstatsError
from fleetstats.desk.files import inside
from fleetstats.desk.guards import REPORT_POLICY, App, Guard, Keys, Receive, Scope, Send, same
from fleetstats.desk.in_time import DeskClosed, TookTooLong, in_time
from fleetstats.desk.pages import render_page, render_refusal
from fleetstats.desk.place import DeskPlace, Sent
from fleetstats.desk.rooms import ROOMS
from fleetstats.desk.rooms.report import GIVEN
from fleetstats.desk.state import ChangedMeanwhile
from fleetstats.desk.words import words
from fleetstats.report.template_text import read_template

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

    from fleetstats.desk.life import Life

MOST_FIELDS, MOST_FILES = 40, 20
LONGEST_FIELD = 64 * 2**10
MOST_MESSAGE = 2_000
KINDS = {
    ".pdf": "application/pdf",
    ".html": "text/html; charset=utf-8",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".json": "application/json",
    ".zip": "application/zip",
}
STATIC = {"desk.css": "text/css", "desk.js": "text/javascript"}


class DeskApp:
    """The desk as an ASGI application: the guard before everything, and what ends with it."""

    def __init__(self, inner: App, keys: Keys, place: DeskPlace) -> None:
        self.guard, self.place = Guard(inner, keys, render_refusal), place

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        await self.guard(scope, receive, send)

    def stop(self) -> None:
        """Stop what runs beside, and take its leavings away."""
        self.place.jobs.close()


def make_app(folder: Path, keys: Keys, life: Life) -> DeskApp:
    """Return the desk of a folder.

    Parameters
    ----------
    folder : Path
        The study's folder.
    keys : Keys
        The secrets of this run.
    life : Life
        Sent of every sign of a page, and of its close.
    """
    from starlette.applications import Starlette
    from starlette.routing import Route

    place = DeskPlace.of(folder.resolve())
    desk = _Handlers(place, keys, life)
    inner = Starlette(
        routes=[
            Route("/", desk.first, methods=["GET"]),
            Route("/static/{name}", desk.static, methods=["GET"]),
            Route("/take/{name}", desk.take, methods=["GET"]),
            Route("/read/report", desk.read, methods=["GET"]),
            Route("/job", desk.job, methods=["GET"]),
            Route("/sign/{what}", desk.sign, methods=["POST"]),
            Route("/undo", desk.undo, methods=["POST"]),
            Route("/close", desk.close, methods=["POST"]),
            Route("/{room}", desk.show, methods=["GET"]),
            Route("/{room}/{act}", desk.act, methods=["POST"]),
        ],
        exception_handlers={
            404: _not_there,
            500: _broken,
            TookTooLong: _too_long,
            DeskClosed: _closed,
        },
    )
    return DeskApp(inner, keys, place)


class _Handlers:
    """What each address answers."""

    def __init__(self, place: DeskPlace, keys: Keys, life: Life) -> None:
        self.place, self.keys, self.life = place, keys, life

    async def first(self, request: Request) -> Response:
        """Lead to the room where there is something to do."""
        from starlette.responses import RedirectResponse

        del request
        now = await in_time(self.place.reader.stand)
        room = "records" if now.audit is None else "answer" if now.audit.ok else "odd"
        return RedirectResponse(f"/{room}", status_code=303)

    async def show(self, request: Request) -> Response:
        """Show a room."""
        from starlette.exceptions import HTTPException
        from starlette.responses import HTMLResponse

        name = request.path_params["room"]
        if name not in ROOMS:
            raise HTTPException(404)
        self.life.sign()
        form = Sent(texts=dict(request.query_params))
        page = await in_time(render_page, self.place, self.keys, name, form)
        return HTMLResponse(page)

    async def act(self, request: Request) -> Response:
        """Do an act, and lead back to its room with a line that says what was done."""
        from starlette.exceptions import HTTPException

        name, act = request.path_params["room"], request.path_params["act"]
        if name not in ROOMS or act not in ROOMS[name].acts:
            raise HTTPException(404)
        return await self._do(request, name, ROOMS[name].acts[act])

    async def undo(self, request: Request) -> Response:
        """Take the last act back."""

        def back(place: DeskPlace, form: Sent) -> str:
            return words("frame", "undone", said=place.desk.undo(form.version))

        return await self._do(request, "", back)

    async def _do(
        self, request: Request, room: str, act: Callable[[DeskPlace, Sent], str]
    ) -> Response:
        from starlette.responses import RedirectResponse

        form = await _read_form(request)
        if not same(form.text("form_key"), self.keys.form):
            return _refused(403)
        room = room or (form.text("room") if form.text("room") in ROOMS else "records")
        tone = "done"
        try:
            said = await in_time(act, self.place, form)
        except ChangedMeanwhile as error:
            said, tone = str(error), "conflict"
        except (FleetstatsError, OSError) as error:
            said, tone = str(error), "wrong"
        kept = {k: v for k, v in form.texts.items() if k.startswith("back_") and v}
        query = urlencode({"said": said[:MOST_MESSAGE], "tone": tone}
                          | {k.removeprefix("back_"): v for k, v in kept.items()})  # fmt: skip
        return RedirectResponse(f"/{room}?{query}", status_code=303)

    async def sign(self, request: Request) -> Response:
        """Note that a page is there, or was left."""
        from starlette.responses import Response

        if request.path_params["what"] == "leave":
            self.life.leave()
        else:
            self.life.sign()
        return Response(status_code=204)

    async def close(self, request: Request) -> Response:
        """End the desk."""
        from starlette.responses import HTMLResponse

        form = await _read_form(request)
        if not same(form.text("form_key"), self.keys.form):
            return _refused(403)
        self.life.closed.set()
        return HTMLResponse(render_refusal(0))

    async def job(self, request: Request) -> Response:
        """Tell how far the job is."""
        from starlette.responses import JSONResponse

        del request
        self.life.sign()
        job = self.place.jobs.current
        return JSONResponse({} if job is None else job.to_dict())

    async def static(self, request: Request) -> Response:
        """Give the page's own style and script; the report's style is the page's too."""
        from starlette.exceptions import HTTPException
        from starlette.responses import Response

        name = request.path_params["name"]
        if name == "page.css":
            return Response(read_template(name), media_type="text/css")
        if name not in STATIC:
            raise HTTPException(404)
        text = (resources.files("fleetstats.desk") / "static" / name).read_text("utf-8")
        return Response(text, media_type=STATIC[name])

    async def take(self, request: Request) -> Response:
        """Give one of the files that a study writes, to keep."""
        name = request.path_params["name"]
        return self._file(name, {"content-disposition": f'attachment; filename="{name}"'})

    async def read(self, request: Request) -> Response:
        """Show the report, in an origin of its own."""
        del request
        return self._file("report.html", {"content-security-policy": REPORT_POLICY})

    def _file(self, name: str, headers: dict[str, str]) -> Response:
        from starlette.exceptions import HTTPException
        from starlette.responses import FileResponse

        path = inside(self.place.desk.folder, *GIVEN[name]) if name in GIVEN else None
        if path is None:
            raise HTTPException(404)
        kind = next(k for end, k in KINDS.items() if name.endswith(end))
        return FileResponse(path, headers=headers, media_type=kind)


async def _read_form(request: Request) -> Sent:
    """Return a form with its files, within its limits.

    Raises
    ------
    HTTPException
        400 where it has more fields or longer ones than a form of ours.
    """
    from starlette.datastructures import UploadFile

    texts, files = {}, []
    async with request.form(
        max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=LONGEST_FIELD
    ) as form:
        for name, told in form.multi_items():
            if isinstance(told, UploadFile):
                if told.filename:
                    files.append((told.filename, await told.read()))
            else:
                texts[name] = told[:LONGEST_FIELD]
    return Sent(texts=texts, files=tuple(files))


def _refused(status: int) -> Response:
    from starlette.responses import HTMLResponse

    return HTMLResponse(render_refusal(status), status_code=status)


async def _not_there(request: Request, error: Any) -> Response:
    del request, error
    return _refused(404)


async def _broken(request: Request, error: Any) -> Response:
    del request, error
    return _refused(500)


async def _too_long(request: Request, error: Any) -> Response:
    del request, error
    return _refused(503)


async def _closed(request: Request, error: Any) -> Response:
    from starlette.responses import HTMLResponse

    del request, error
    return HTMLResponse(render_refusal(0), status_code=503)
