"""Heavy work in a process of its own: one job at a time, the others wait, any can be stopped."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import json
import os
import shutil
import signal
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from gridshell.define.files.writing import write_definition
from gridshell.define.tables.design import Design
from gridshell.mold.files.folder import UNFINISHED

MOST_WAITING = 4
MOST_KEPT = 20  # finished jobs that are remembered
_PATIENCE = 5.0  # s that a stopped worker has to tidy up

WAITING, RUNNING, DONE, FAILED, STOPPED = "waiting", "running", "done", "failed", "stopped"


class TooMany(Exception):
    """The queue is full."""


@dataclass
class CadJob:
    """One piece of heavy work.

    Attributes:
        number: counts up.
        kind: ``solids``, ``files``, ``goal`` or ``report``.
        order: what the worker is told.
        scratch: folder for its result, removed with the job.
        state: one of the words above.
        share: of the work done, 0 to 1.
        doing: the step at hand, in words.
        message: why it failed.
        result: what the worker answered.
        so_far: what it has found on the way.
        process: the worker; None before it starts.
    """

    number: int
    kind: str
    order: Mapping[str, Any]
    scratch: Path
    state: str = WAITING
    share: float = 0.0
    doing: str = "waiting for the job before it"
    message: str = ""
    result: dict[str, Any] = field(default_factory=dict)
    so_far: dict[str, Any] = field(default_factory=dict)
    process: asyncio.subprocess.Process | None = None

    def as_dict(self) -> dict[str, Any]:
        """What the page is told."""
        return {
            "number": self.number, "kind": self.kind, "state": self.state,
            "share": round(self.share, 3), "doing": self.doing, "message": self.message,
            "result": self.result, "so_far": self.so_far,
        }


class CadQueue:
    """The queue. Start `run` as a task of the server's loop and cancel it at the end.

    Args:
        folder: for what jobs leave until they are forgotten; removed at the end.
    """

    def __init__(self, folder: Path) -> None:
        self.jobs: dict[int, CadJob] = {}
        self._numbers = itertools.count(1)
        self._queue: asyncio.Queue[CadJob] = asyncio.Queue()
        self.folder = folder

    def add(self, kind: str, design: Design, order: Mapping[str, Any]) -> CadJob:
        """Put a job at the end of the queue.

        The worker is handed a definition file like any command, so that what it makes is what the
        page shows even if the file that was opened has changed since.

        Raises:
            TooMany: too many are waiting.
            InputError: the design can't be written.
        """
        if sum(job.state == WAITING for job in self.jobs.values()) >= MOST_WAITING:
            raise TooMany
        number = next(self._numbers)
        scratch = self.folder / str(number)
        scratch.mkdir()
        file = scratch / "design.toml"
        write_definition(design, file)
        order = {**order, "kind": kind, "path": str(file), "scratch": str(scratch)}
        job = CadJob(number, kind, order, scratch)
        self.jobs[number] = job
        self._queue.put_nowait(job)
        self._forget()
        return job

    def _forget(self) -> None:
        over = [job for job in self.jobs.values() if job.state not in (WAITING, RUNNING)]
        for job in over[:-MOST_KEPT] if len(over) > MOST_KEPT else []:
            shutil.rmtree(job.scratch, ignore_errors=True)
            del self.jobs[job.number]

    async def stop(self, job: CadJob) -> None:
        """Stop a job; a running one gets a moment to remove what it has half written."""
        if job.state == WAITING:
            job.state, job.doing = STOPPED, "stopped"
        elif job.state == RUNNING and job.process is not None:
            job.state, job.doing = STOPPED, "stopping"
            await _end(job.process)

    async def run(self) -> None:
        """Take jobs from the queue for ever."""
        try:
            while True:
                job = await self._queue.get()
                if job.state == WAITING:
                    await self._work(job)
        finally:
            for job in self.jobs.values():
                if job.process is not None and job.process.returncode is None:
                    await _end(job.process)
            shutil.rmtree(self.folder, ignore_errors=True)

    async def _work(self, job: CadJob) -> None:
        job.state, job.doing = RUNNING, "starting"
        before, folder = _scratches(job), _folder(job)
        fresh = folder is not None and not folder.exists()
        errors = job.scratch / "errors.txt"
        with errors.open("wb") as sink:
            process = await asyncio.create_subprocess_exec(
                sys.executable, "-m", "gridshell.explore.serve.worker",
                stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE, stderr=sink,
                limit=1 << 20, start_new_session=True,
            )
            job.process = process
            assert process.stdin is not None and process.stdout is not None
            try:
                # The pipe stays open: its end tells the worker that the server is gone.
                process.stdin.write(json.dumps(dict(job.order)).encode() + b"\n")
                async for line in process.stdout:
                    _follow(job, line)
            except (ConnectionError, ValueError):
                pass  # it died, or wrote a line without end: its exit code tells
            code = await process.wait()
        _kill_group(process)  # helpers that a crashed worker may have left
        for left in _scratches(job) - before:
            shutil.rmtree(left, ignore_errors=True)
        if fresh and folder is not None:
            with contextlib.suppress(OSError):
                folder.rmdir()  # only if nothing came to be in it
        finished = code == 0 and bool(job.result)  # perhaps just before it could be stopped
        if job.state == STOPPED and not finished:
            job.doing = "stopped"
        elif finished:
            job.state, job.share, job.doing = DONE, 1.0, "done"
        else:
            job.state, job.doing = FAILED, "failed"
            job.message = job.message or (
                f"the worker ended with code {code}; the page goes on, try again or change "
                f"the design"
            )


def _follow(job: CadJob, line: bytes) -> None:
    try:
        told = json.loads(line)
    except ValueError:
        return  # chatter of a library
    if not isinstance(told, dict):
        return
    if "share" in told and job.state == RUNNING:
        job.share, job.doing = float(told["share"]), str(told.get("doing", ""))
    job.message = str(told.get("refused", job.message))
    if isinstance(told.get("so_far"), dict):
        job.so_far = told["so_far"]
    if isinstance(told.get("result"), dict):
        job.result = told["result"]


def _folder(job: CadJob) -> Path | None:
    """Where the files of a job belong."""
    return Path(str(job.order["folder"])) if "folder" in job.order else None


def _scratches(job: CadJob) -> set[Path]:
    """Folders of half-written files in the one that is asked for."""
    folder = _folder(job)
    return set() if folder is None else set(folder.glob(f"{UNFINISHED}*"))


def _kill_group(process: asyncio.subprocess.Process) -> None:
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(process.pid, signal.SIGKILL)


async def _end(process: asyncio.subprocess.Process) -> None:
    """Ask a worker to stop, then make it."""
    if process.returncode is not None:
        return
    try:
        process.terminate()
        await asyncio.wait_for(process.wait(), _PATIENCE)
    except ProcessLookupError:
        return
    except TimeoutError:
        _kill_group(process)
        await process.wait()
