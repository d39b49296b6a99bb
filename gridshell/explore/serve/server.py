"""The local server: a handful of addresses that answer with JSON or a packed mesh."""

from __future__ import annotations

import asyncio
import contextlib
import dataclasses
import functools
import json
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from aiohttp import web

from gridshell import __version__
from gridshell.define.errors import InputError
from gridshell.define.files.keeping import kept_text
from gridshell.define.files.replacing import write_text
from gridshell.define.files.writing import write_definition
from gridshell.define.tables.design import Design
from gridshell.explore.along import along
from gridshell.explore.answer import answer, details, mold_advice, plain_beside, whole_column
from gridshell.explore.axes import Axis, axes_of, axis_of, shown_at
from gridshell.explore.chart import COLORS, chart, mold_row
from gridshell.explore.controls import Controls, controls_of, positions, stated
from gridshell.explore.edits import case_fields, edited, fields_of, split
from gridshell.explore.moves import moves
from gridshell.explore.scene.buckle import buckle_scene, cell_scene
from gridshell.explore.scene.scene import scene
from gridshell.explore.serve.guard import LARGEST_REQUEST, Guard
from gridshell.explore.serve.helper import Helper, settle
from gridshell.explore.serve.jobs import DONE, CadJob, CadQueue, TooMany
from gridshell.explore.serve.messages import answered, content_of, flag, guarded
from gridshell.explore.serve.packing import MEDIA_TYPE
from gridshell.material.resolve import properties
from gridshell.tube.assess import assess_tube
from gridshell.tube.result import TubeResult

PAGE = Path(__file__).parent.parent / "page"
_FILES = {
    "page.html": "text/html", "page.css": "text/css",
    **{file.name: "text/javascript" for file in PAGE.glob("*.js")},
}
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,79}")
_COUNTS = (2, 40)  # designs along each axis of the map
_WARM = 8  # enough of them that compiled formulas are loaded
_ROWS = range(2, 15)  # of a map of the mold's verdict, a tenth of a second each design
_BASES = 6  # edited files that are kept


class Explorer:
    """One definition file and the page on it.

    Args:
        path: the definition file. Files are written beside it, nowhere else.
        design: what it states.
        helper: its second process.
    """

    def __init__(self, path: Path, design: Design, helper: Helper) -> None:
        self.path = path.resolve()
        self.folder = self.path.parent
        self.design = design
        self.text = self.path.read_text(encoding="utf-8")
        self.controls: Controls = controls_of(design)
        self._bases: dict[tuple[tuple[str, str], ...], tuple[Design, Controls]] = {}
        self._last: tuple[str, TubeResult, Controls] | None = None
        self.jobs = CadQueue(helper.scratch)
        self.helper = helper
        # Two threads: a mesh may be worked out while the numbers already follow the next move.
        self._threads = ThreadPoolExecutor(2, thread_name_prefix="explore")

    def app(self, guard: Guard) -> web.Application:
        """The application; needs a running loop when started."""
        app = web.Application(
            client_max_size=LARGEST_REQUEST, middlewares=[answered, guarded(guard)]
        )
        app.add_routes([
            web.get("/", self.page),
            web.get("/page/{name}", self.page_file),
            web.get("/start", self.start),
            web.post("/answer", self.answer),
            web.post("/beside", self.beside),
            web.post("/along", self.along),
            web.post("/details", self.details),
            web.post("/mold-advice", self.advice),
            web.post("/map", self.map),
            web.post("/moves", self.moves),
            web.get("/alive", self.alive),
            web.post("/scene", self.scene),
            web.post("/mold-row", self.mold_row),
            web.post("/buckle", self.buckle),
            web.post("/controls", self.ranges),
            web.post("/save", self.save),
            web.get("/jobs", self.job_list),
            web.post("/jobs", self.job_add),
            web.get("/jobs/{number}/mesh", self.job_mesh),
            web.get("/jobs/{number}/report", self.job_report),
            web.post("/jobs/{number}/stop", self.job_stop),
        ])
        app.cleanup_ctx.append(self._working)
        return app

    async def _working(self, app: web.Application) -> Any:
        task = asyncio.create_task(self.jobs.run())
        # What the page asks for first is worked out once while the browser still loads it.
        axes = self._axes({}, self.design, self.controls, refuse=False)
        if len(axes) == 2:
            self.helper.warm(chart, self.design, *axes, _WARM, False)
        self._threads.submit(self._warm)
        yield
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
        self.helper.close()
        self._threads.shutdown(wait=False, cancel_futures=True)

    def _warm(self) -> None:
        with contextlib.suppress(InputError):
            answer(*self._assessed({}))
        settle()

    async def page(self, request: web.Request) -> web.StreamResponse:
        """The page itself."""
        return _file("page.html")

    async def page_file(self, request: web.Request) -> web.StreamResponse:
        """Script and style, by name from a fixed list."""
        return _file(request.match_info["name"])

    async def start(self, request: web.Request) -> web.StreamResponse:
        """What the page needs once: controls, ranges, values of the file."""
        controls = self.controls
        sliders = {control.path for control in controls.each}
        return web.json_response({
            "title": self.design.title, "file": self.path.name, "version": __version__,
            "units": self.design.units, "values": controls.start,
            **self._listed(self.design, controls), "colors": COLORS,
            "fields": fields_of(self.design, sliders), "case_fields": case_fields(),
            "jobs": [job.as_dict() for job in self.jobs.jobs.values()],
        })

    async def ranges(self, request: web.Request) -> web.StreamResponse:
        """The controls once other fields of the file are edited: another material, other ends."""
        content = await content_of(request)
        base, controls = self._edited(split(self._paths, content.get("values"))[1])
        return web.json_response(self._listed(base, controls))

    def _listed(self, design: Design, controls: Controls) -> dict[str, Any]:
        return {"sliders": [dataclasses.asdict(slider) for slider in controls.sliders],
                "choices": [dataclasses.asdict(choice) for choice in controls.choices],
                "axes": [dataclasses.asdict(axis) for axis in axes_of(
                    self.design, design, controls)]}

    @property
    def _paths(self) -> set[str]:
        return {control.path for control in self.controls.each}

    def _edited(self, edits: dict[str, str]) -> tuple[Design, Controls]:
        """The file's design with other fields edited, and its controls; the last few are kept."""
        key = tuple(sorted((path, str(text)) for path, text in edits.items()))
        if not key:
            return self.design, self.controls
        if key not in self._bases:
            base = edited(self.design, edits)
            while len(self._bases) >= _BASES:
                self._bases.pop(next(iter(self._bases)), None)
            self._bases[key] = base, controls_of(base)
        return self._bases[key]

    def _stated(self, content: dict[str, Any]) -> tuple[Design, Controls]:
        """What the page states, and the controls that it moves.

        Raises:
            DefinitionError: every value that can't be used.
        """
        moved, edits = split(self._paths, content.get("values"))
        base, controls = self._edited(edits)
        return stated(base, controls, moved), controls

    async def _in_thread(self, work: Callable[..., Any], *arguments: Any) -> Any:
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(self._threads, functools.partial(work, *arguments))

    def _assessed(self, content: dict[str, Any]) -> tuple[TubeResult, Controls]:
        """The tube that the page states, and its controls; the last one is kept."""
        key = json.dumps(content.get("values"), sort_keys=True)
        kept = self._last
        if kept is None or kept[0] != key:
            design, controls = self._stated(content)
            tube = assess_tube(design, properties(design.material, design.folder))
            self._last = kept = key, tube, controls
        return kept[1], kept[2]

    async def answer(self, request: web.Request) -> web.StreamResponse:
        """Numbers, and where sliders and the axes of the map stand for them."""
        content = await content_of(request)
        whole = flag(content, "whole")

        def work() -> dict[str, Any]:
            tube, controls = self._assessed(content)
            if whole:
                return {"now": whole_column(tube)}
            design = tube.design
            places = {axis.path: shown_at(design, axis)
                      for axis in self._axes(content, design, controls, refuse=False)}
            return {**answer(tube, controls), "set": {**positions(controls, design), **places}}

        return web.json_response(await self._in_thread(work))

    async def beside(self, request: web.Request) -> web.StreamResponse:
        """What follows the numbers: unit loads, and the plain wall of equal mass."""
        content = await content_of(request)

        def work() -> tuple[Design, dict[str, Any]]:
            tube, _ = self._assessed(content)
            return tube.design, whole_column(tube)

        design, now = await self._in_thread(work)
        return web.json_response(
            {"now": now, **await self.helper.ask(plain_beside, design, now["si"])})

    async def along(self, request: web.Request) -> web.StreamResponse:
        """Numbers at every step of the slider that is about to be moved."""
        content = await content_of(request)
        return _json(await self.helper.ask_json(
            along, *self._stated(content), str(content.get("path"))))

    async def details(self, request: web.Request) -> web.StreamResponse:
        """Every check, and what limits the formulas."""
        content = await content_of(request)
        return web.json_response(await self._in_thread(
            lambda: details(self._assessed(content)[0])))

    def _axes(
        self, content: dict[str, Any], design: Design, controls: Controls, refuse: bool = True
    ) -> list[Axis]:
        """The axes of a map that are asked for.

        Raises:
            InputError: one that this design does not have; it is left out unless ``refuse``.
        """
        found = []
        for key, usual in (("across", "ribs.height"), ("up", "ribs.spacing")):
            try:
                found.append(axis_of(self.design, design, controls, str(content.get(key, usual))))
            except InputError:
                if refuse:
                    raise
        return found

    async def alive(self, request: web.Request) -> web.StreamResponse:
        """That this server, with this key, is still there."""
        return web.json_response({"file": self.path.name})

    async def moves(self, request: web.Request) -> web.StreamResponse:
        """What a step of each slider does."""
        content = await content_of(request)
        return web.json_response(await self.helper.ask(
            moves, *self._stated(content)))

    async def map(self, request: web.Request) -> web.StreamResponse:
        """Map over two numbers of the definition."""
        content = await content_of(request)
        count = content.get("count", 24)
        if type(count) is not int or not _COUNTS[0] <= count <= _COUNTS[1]:
            raise InputError(f"count: must be a whole number {_COUNTS[0]} to {_COUNTS[1]}")
        design, controls = self._stated(content)
        axes = self._axes(content, design, controls)
        return _json(await self.helper.ask_json(
            chart, design, *axes, count, not flag(content, "quick")))

    async def mold_row(self, request: web.Request) -> web.StreamResponse:
        """The mold's verdict along one row of a map."""
        content = await content_of(request)
        numbers = [content.get(key) for key in ("count", "row")]
        if any(type(number) is not int for number in numbers) or numbers[0] not in _ROWS:
            raise InputError(f"count, row: must be whole numbers, count {_ROWS[0]} to {_ROWS[-1]}")
        design, controls = self._stated(content)
        return web.json_response(await self.helper.ask(
            mold_row, design, *self._axes(content, design, controls), *numbers))

    async def advice(self, request: web.Request) -> web.StreamResponse:
        """Checks of the mold."""
        content = await content_of(request)
        return web.json_response(await self.helper.ask(mold_advice, self._stated(content)[0]))

    async def scene(self, request: web.Request) -> web.StreamResponse:
        """Light mesh; with the halves of the mold if they are asked for."""
        content = await content_of(request)
        mold = flag(content, "mold")
        body = await self._in_thread(lambda: scene(self._stated(content)[0], mold))
        return web.Response(body=body, content_type=MEDIA_TYPE)

    async def buckle(self, request: web.Request) -> web.StreamResponse:
        """The mode of one check on the tube or in one cell; without a check one cell at rest."""
        content = await content_of(request)
        name = content.get("check", "")

        def work() -> bytes:
            design, _ = self._stated(content)
            return buckle_scene(assess_tube(design), str(name)) if name else cell_scene(design)

        return web.Response(body=await self._in_thread(work), content_type=MEDIA_TYPE)

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
        content = await content_of(request)
        design, _ = self._stated(content)
        name = content.get("name")
        if isinstance(name, str) and not name.endswith(".toml"):
            name += ".toml"
        place = self._within(name, "file name")
        force = flag(content, "replace")
        if place.exists() and not force:
            return web.json_response({"exists": place.name}, status=409)
        text = await self._in_thread(kept_text, self.text, self.design, design, self.folder)
        if text is None:
            await self._in_thread(write_definition, design, place, force)
        else:
            await self._in_thread(write_text, place, text, force)
        return web.json_response({"saved": place.name, "comments": text is not None})

    async def job_list(self, request: web.Request) -> web.StreamResponse:
        """State of every job that is remembered."""
        return web.json_response([job.as_dict() for job in self.jobs.jobs.values()])

    async def job_add(self, request: web.Request) -> web.StreamResponse:
        """Queue exact solids or the mold's files."""
        content = await content_of(request)
        kind = content.get("kind")
        if kind not in ("solids", "files", "goal", "report"):
            raise InputError("kind: must be solids, files, goal or report")
        design, _ = self._stated(content)
        order: dict[str, Any] = {}
        if kind == "goal":
            order = {key: flag(content, key) for key in ("with_mold", "every_wall")}
        if kind == "files":
            place = self._within(content.get("folder"), "folder")
            order["folder"] = str(place)
            order["force"] = flag(content, "replace")
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

    async def job_report(self, request: web.Request) -> web.StreamResponse:
        """A report, to be kept as a file: it brings its own styles, which this page forbids."""
        job = self._job(request)
        place = job.scratch / "report.html"
        if job.state != DONE or not place.is_file():
            raise web.HTTPNotFound(text="no report in this job")
        name = f"{self.path.stem}-report.html".encode("ascii", "replace").decode()
        return web.Response(body=place.read_bytes(), content_type="text/html", charset="utf-8",
                            headers={"Content-Disposition": f'attachment; filename="{name}"'})


def _json(body: bytes) -> web.Response:
    return web.Response(body=body, content_type="application/json", charset="utf-8")


def _file(name: str) -> web.Response:
    if name not in _FILES:
        raise web.HTTPNotFound(text="no such file")
    return web.Response(
        body=(PAGE / name).read_bytes(), content_type=_FILES[name], charset="utf-8"
    )
