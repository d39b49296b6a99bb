"""A second process for what may lag a little, so that the numbers never wait for it.

The map and the mold's checks are array work that holds the interpreter's lock; beside the server's
own threads they would slow the answer to the next move.
"""

from __future__ import annotations

import asyncio
import gc
import json
import multiprocessing
import os
import shutil
import signal
import threading
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

from gridshell.define.errors import DefinitionError


def _begin(scratch: Path) -> None:
    """In the new process: leave Ctrl-C to the server, import what takes long.

    A server that is killed can tidy nothing up; this process sees its end and does it.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_follow_server, args=(scratch,), daemon=True).start()
    # Loaded before the first request, which would wait for it; a chart comes with the answers.
    import gridshell.explore.answer  # noqa: F401

    settle()


def settle() -> None:
    """What is there now is there for good: never look through it again for what is not used."""
    gc.collect()
    gc.freeze()


def _follow_server(scratch: Path) -> None:
    server = multiprocessing.parent_process()
    if server is None:
        return
    server.join()
    time.sleep(1.0)  # a worker may still be removing what it has half written
    shutil.rmtree(scratch, ignore_errors=True)
    os._exit(0)


def _call(work: Callable[..., Any], arguments: tuple[Any, ...]) -> tuple[bool, Any]:
    try:
        return True, work(*arguments)
    except DefinitionError as error:  # does not travel between processes by itself
        return False, (error.source, error.problems)


def _json(work: Callable[..., Any], *arguments: Any) -> bytes:
    return json.dumps(work(*arguments)).encode()


class Helper:
    """The process; started anew if it should die.

    Args:
        scratch: folder of the server, removed if the server is killed.
    """

    def __init__(self, scratch: Path) -> None:
        self.scratch = scratch
        self._pool = self._started()

    def _started(self) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(
            1, multiprocessing.get_context("spawn"), _begin, (self.scratch,)
        )

    def begin(self) -> None:
        """Start it now; it loads what it needs while the server does."""
        self._pool.submit(os.getpid)

    async def ask(self, work: Callable[..., Any], *arguments: Any) -> Any:
        """What a function of a module returns for these arguments.

        Raises:
            InputError: as the function does.
        """
        loop = asyncio.get_running_loop()
        pool = self._pool
        try:
            well, found = await loop.run_in_executor(pool, _call, work, arguments)
        except BrokenProcessPool:
            if self._pool is pool:  # nobody else has started it anew meanwhile
                self._pool = self._started()
            well, found = await loop.run_in_executor(self._pool, _call, work, arguments)
        if not well:
            raise DefinitionError(*found)
        return found

    async def ask_json(self, work: Callable[..., Any], *arguments: Any) -> bytes:
        """The same as JSON, written over there: the server's own threads have other work.

        Raises:
            InputError: as the function does.
        """
        found: bytes = await self.ask(_json, work, *arguments)
        return found

    def warm(self, work: Callable[..., Any], *arguments: Any) -> None:
        """Let it do something once, before it is asked for anything."""
        self._pool.submit(_call, work, arguments)

    def close(self) -> None:
        """End it; it holds nothing that a kill could harm, and may still be starting."""
        self._pool.shutdown(wait=False, cancel_futures=True)
        for child in multiprocessing.active_children():
            child.kill()
