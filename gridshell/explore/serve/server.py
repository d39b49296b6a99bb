"""The local server: a handful of addresses that answer with JSON or a packed mesh."""

from __future__ import annotations

import asyncio
import dataclasses
import functools
import html
import json
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from aiohttp import web

from gridshell import __version__
from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.files.writing import write_definition
from gridshell.define.tables.design import Design
from gridshell.explore.answer import answer, chart, details, mold_advice, moves
from gridshell.explore.controls import Controls, controls_of, positions, stated
from gridshell.explore.scene.scene import scene
from gridshell.explore.serve.guard import HEADERS, LARGEST_REQUEST, Guard, Handler
from gridshell.explore.serve.helper import Helper
from gridshell.explore.serve.jobs import DONE, CadJob, CadQueue, TooMany
from gridshell.explore.serve.packing import MEDIA_TYPE

PAGE = Path(__file__).parent.parent / "page"
_FILES = {
    "page.html": "text/html", "page.css": "text/css", "page.js": "text/javascript",
    **{f"{name}.js": "text/javascript" for name in (
        "controls", "drawings", "jobs", "server", "solid", "state", "tables")},
}
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,79}")
_COUNTS = (2, 40)  # designs along each axis of the map


class Explorer:
    """One definition file and the page on it.

    Args:
        path: the definition file. Files are written beside it, nowhere else.
        design: what it states.
    """

    def __init__(self, path: Path, design: Design) -> None:
        self.path = path.resolve()
        self.folder = self.path.parent
        self.design = design
        self.controls: Controls = controls_of(design)
        self.jobs = CadQueue()
        self.helper = Helper(self.jobs.folder)
        # Two threads: a mesh may be worked out while the numbers already follow the next move.
        self._threads = ThreadPoolExecutor(2, thread_name_prefix="explore")

    def app(self, guard: Guard) -> web.Application:
        """The application; needs a running loop when started."""
        app = web.Application(
            client_max_size=LARGEST_REQUEST, middlewares=[_answered, _guarded(guard)]
        )
        app.add_routes([
            web.get("/", self.page),
            web.get("/page/{name}", self.page_file),
            web.get("/start", self.start),
            web.post("/answer", functools.partial(self.compute, self.answer)),
            web.post("/details", functools.partial(self.compute, details)),
            web.post("/mold-advice", self.advice),
            web.post("/map", self.map),
            web.post("/moves", self.moves),
            web.get("/alive", self.alive),
            web.post("/scene", self.scene),
            web.post("/save", self.save),
            web.get("/jobs", self.job_list),
            web.post("/jobs", self.job_add),
            web.get("/jobs/{number}/mesh", self.job_mesh),
            web.post("/jobs/{number}/stop", self.job_stop),
        ])
        app.cleanup_ctx.append(self._working)
        return app

    async def _working(self, app: web.Application) -> Any:
        task = asyncio.create_task(self.jobs.run())
        self.helper.warm()
        yield
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
        self.helper.close()
        self._threads.shutdown(wait=False, cancel_futures=True)

    async def page(self, request: web.Request) -> web.StreamResponse:
        """The page itself."""
        return _file("page.html")

    async def page_file(self, request: web.Request) -> web.StreamResponse:
        """Script and style, by name from a fixed list."""
        return _file(request.match_info["name"])

    async def start(self, request: web.Request) -> web.StreamResponse:
        """What the page needs once: controls, ranges, values of the file."""
        controls = self.controls
        return web.json_response({
            "title": self.design.title, "file": self.path.name, "version": __version__,
            "units": self.design.units, "values": controls.start,
            "sliders": [dataclasses.asdict(slider) for slider in controls.sliders],
            "choices": [dataclasses.asdict(choice) for choice in controls.choices],
            "jobs": [job.as_dict() for job in self.jobs.jobs.values()],
        })

    def _stated(self, content: dict[str, Any]) -> Design:
        return stated(self.design, self.controls, content.get("values"))

    async def _in_thread(self, work: Callable[..., Any], *arguments: Any) -> Any:
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(self._threads, functools.partial(work, *arguments))

    async def compute(
        self, work: Callable[[Design], Any], request: web.Request
    ) -> web.StreamResponse:
        """Anything that is a function of the design alone."""
        content = await _content(request)
        return web.json_response(
            await self._in_thread(lambda: work(self._stated(content)))
        )

    def answer(self, design: Design) -> dict[str, Any]:
        """Numbers, and where each slider stands for them."""
        return {**answer(design), "set": positions(self.controls, design)}

    async def alive(self, request: web.Request) -> web.StreamResponse:
        """That this server, with this key, is still there."""
        return web.json_response({"file": self.path.name})

    async def moves(self, request: web.Request) -> web.StreamResponse:
        """What a step of each slider does."""
        content = await _content(request)
        return web.json_response(await self.helper.ask(
            moves, self._stated(content), self.controls))

    async def map(self, request: web.Request) -> web.StreamResponse:
        """Map over height and spacing."""
        content = await _content(request)
        count = content.get("count", 24)
        if type(count) is not int or not _COUNTS[0] <= count <= _COUNTS[1]:
            raise InputError(f"count: must be a whole number {_COUNTS[0]} to {_COUNTS[1]}")
        return web.json_response(await self.helper.ask(
            chart, self._stated(content), self.controls, count
        ))

    async def advice(self, request: web.Request) -> web.StreamResponse:
        """Checks of the mold."""
        content = await _content(request)
        return web.json_response(await self.helper.ask(mold_advice, self._stated(content)))

    async def scene(self, request: web.Request) -> web.StreamResponse:
        """Light mesh."""
        content = await _content(request)
        body = await self._in_thread(lambda: scene(self._stated(content)))
        return web.Response(body=body, content_type=MEDIA_TYPE)

    def _within(self, name: Any, what: str) -> Path:
        """A place for a file or folder beside the definition file.

        Raises:
            InputError: not a plain name, or a link that leads elsewhere.
        """
        if not isinstance(name, str) or not _NAME.fullmatch(name) or name.endswith((".", " ")):
            raise InputError(
                f"{what}: must be a plain name of letters, digits, blanks, '.', '_' and '-', up to "
                f"80 characters; it is written beside {self.path.name}"
            )
        place = self.folder / name
        if place.is_symlink() or place.resolve().parent != self.folder:
            raise InputError(f"{what}: {name!r} leads out of the folder of {self.path.name}")
        return place

    async def save(self, request: web.Request) -> web.StreamResponse:
        """Write the definition file of a design."""
        content = await _content(request)
        design = self._stated(content)
        name = content.get("name")
        if isinstance(name, str) and not name.endswith(".toml"):
            name += ".toml"
        place = self._within(name, "file name")
        force = _flag(content, "replace")
        if place.exists() and not force:
            return web.json_response({"exists": place.name}, status=409)
        await self._in_thread(write_definition, design, place, force)
        return web.json_response({"saved": place.name})

    async def job_list(self, request: web.Request) -> web.StreamResponse:
        """State of every job that is remembered."""
        return web.json_response([job.as_dict() for job in self.jobs.jobs.values()])

    async def job_add(self, request: web.Request) -> web.StreamResponse:
        """Queue exact solids or the mold's files."""
        content = await _content(request)
        kind = content.get("kind")
        if kind not in ("solids", "files"):
            raise InputError("kind: must be solids or files")
        design = self._stated(content)
        order: dict[str, Any] = {}
        if kind == "files":
            place = self._within(content.get("folder"), "folder")
            order["folder"] = str(place)
            order["force"] = _flag(content, "replace")
            if place.exists() and not order["force"]:
                return web.json_response({"exists": place.name}, status=409)
        try:
            job = self.jobs.add(kind, design, order)
        except TooMany:
            raise web.HTTPTooManyRequests(text="too many jobs are waiting; stop one") from None
        return web.json_response(job.as_dict())

    def _job(self, request: web.Request) -> CadJob:
        number = request.match_info["number"]
        job = self.jobs.jobs.get(int(number)) if re.fullmatch(r"\d{1,9}", number) else None
        if job is None:
            raise web.HTTPNotFound(text="no such job")
        return job

    async def job_stop(self, request: web.Request) -> web.StreamResponse:
        """Stop one job."""
        job = self._job(request)
        await self.jobs.stop(job)
        return web.json_response(job.as_dict())

    async def job_mesh(self, request: web.Request) -> web.StreamResponse:
        """The mesh of exact solids."""
        job = self._job(request)
        place = job.scratch / "mesh.bin"
        if job.state != DONE or not place.is_file():
            raise web.HTTPNotFound(text="no solids in this job")
        return web.Response(body=place.read_bytes(), content_type=MEDIA_TYPE)


def _file(name: str) -> web.Response:
    if name not in _FILES:
        raise web.HTTPNotFound(text="no such file")
    return web.Response(
        body=(PAGE / name).read_bytes(), content_type=_FILES[name], charset="utf-8"
    )


def _flag(content: dict[str, Any], key: str) -> bool:
    value = content.get(key, False)
    if not isinstance(value, bool):
        raise InputError(f"{key}: must be true or false")
    return value


async def _content(request: web.Request) -> dict[str, Any]:
    """The JSON table of a request.

    Raises:
        HTTPBadRequest: it is not one.
    """
    try:
        content = json.loads((await request.read()).decode("utf-8"))
    except (ValueError, RecursionError):
        raise web.HTTPBadRequest(text="not JSON") from None
    if not isinstance(content, dict):
        raise web.HTTPBadRequest(text="not a JSON table")
    return content


def _guarded(guard: Guard) -> Any:
    @web.middleware
    async def guarded(request: web.Request, handler: Handler) -> web.StreamResponse:
        return await guard.check(request, handler)

    return guarded


def _explained(error: web.HTTPException) -> web.Response:
    """A page for people, where a browser asks for the page and may not have it."""
    words = html.escape(error.text or error.reason)
    return web.Response(
        text='<!doctype html><html lang="en"><meta charset="utf-8"><title>gridshell explore</title>'
        f"<h1>This address does not open the page</h1><p>{words}.</p><p>Open the address that the "
        "running command printed, or start it again in a terminal: "
        "<code>gridshell explore FILE</code></p></html>",
        content_type="text/html", status=error.status,
    )


@web.middleware
async def _answered(request: web.Request, handler: Handler) -> web.StreamResponse:
    """Errors as JSON with what would be accepted, and the headers that keep the page to itself."""
    try:
        response = await handler(request)
    except DefinitionError as error:
        response = web.json_response({"problems": [
            {"path": problem.path, "message": problem.message} for problem in error.problems
        ]}, status=422)
    except InputError as error:
        path, _, message = str(error).partition(": ")
        response = web.json_response(
            {"problems": [{"path": path, "message": message or path}]}, status=422
        )
    except web.HTTPException as error:
        if error.status < 400:
            error.headers.update(HEADERS)
            raise
        response = _explained(error) if request.path == "/" else web.json_response(
            {"problems": [{"path": "", "message": error.text or error.reason}]},
            status=error.status,
        )
    response.headers.update(HEADERS)
    return response
