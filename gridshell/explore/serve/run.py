"""`gridshell explore`: start the server, print the address, open the browser, end with Ctrl-C."""

from __future__ import annotations

import asyncio
import contextlib
import signal
import socket
import sys
import tempfile
import webbrowser
import zlib
from pathlib import Path

from gridshell.define.errors import InputError
from gridshell.define.files.reading import read_design
from gridshell.material.resolve import material_problems

LOOPBACK = "127.0.0.1"
_TURN = 5e-4  # s


def listening(port: int) -> socket.socket:
    """A socket on the loopback only; port 0 takes a free one.

    Raises:
        InputError: the port can't be had.
    """
    if not 0 <= port <= 65535:
        raise InputError(f"--port: {port} is not a port; must be 0 (any free one) to 65535")
    taken = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        taken.bind((LOOPBACK, port))
    except OSError as error:
        taken.close()
        raise InputError(
            f"--port: {port} can't be had ({error.strerror}); choose another, or 0 for a free one"
        ) from None
    return taken


def usual_port(path: str | Path) -> int:
    """The port that a definition file gets each time, so that a page that is still open goes on.

    Cookies and what a browser keeps go by the port; the numbers lie in the range for private use
    (RFC 6335, section 6).
    """
    return 49152 + zlib.crc32(str(Path(path).resolve()).encode()) % (65536 - 49152)


def _taken(path: str | Path, port: int | None) -> socket.socket:
    """The socket at the port asked for, or at the file's usual one if that is free."""
    if port is not None:
        return listening(port)
    try:
        return listening(usual_port(path))
    except InputError:
        return listening(0)


def run_explore(path: str | Path, port: int | None = None, open_browser: bool = True) -> int:
    """Serve the page on a definition file until Ctrl-C; returns the exit code.

    Args:
        path: of the definition file.
        port: to serve at; 0 for any free one; None: the file's usual one, or any if it is taken.
        open_browser: open the page.

    Raises:
        InputError: the file or the port can't be used.
    """
    design = read_design(path, also=material_problems)
    from gridshell.explore.serve.guard import Guard
    from gridshell.explore.serve.helper import Helper

    with _taken(path, port) as taken:
        guard = Guard(taken.getsockname()[1])
        helper = Helper(Path(tempfile.mkdtemp(prefix="gridshell-explore-")))
        helper.begin()  # it and the server load side by side
        from gridshell.explore.serve.server import Explorer

        explorer = Explorer(Path(path), design, helper)
        asyncio.run(_serve(explorer, guard, taken, open_browser))
    return 0


async def _serve(explorer: object, guard: object, taken: socket.socket, browse: bool) -> None:
    from aiohttp import web

    from gridshell.explore.serve.guard import Guard
    from gridshell.explore.serve.server import Explorer

    assert isinstance(explorer, Explorer) and isinstance(guard, Guard)
    # What goes to and from the helper process passes through several threads; each would wait the
    # usual 5 ms for its turn beside one that works out a mesh or an answer.
    sys.setswitchinterval(_TURN)
    # A page that is closed in the middle of an answer must not end the server.
    runner = web.AppRunner(explorer.app(guard), access_log=None, shutdown_timeout=1.0)
    await runner.setup()
    await web.SockSite(runner, taken).start()
    print(
        f"exploring {explorer.path.name} at\n  {guard.address}\n(on this machine only; the "
        "address works once). Ctrl-C ends it.", flush=True,
    )
    if browse:
        webbrowser.open(guard.address)
    ended = asyncio.Event()
    loop = asyncio.get_running_loop()
    for kind in (signal.SIGINT, signal.SIGTERM):
        with contextlib.suppress(NotImplementedError):  # not on every system
            loop.add_signal_handler(kind, ended.set)
    try:
        await ended.wait()
    finally:
        await runner.cleanup()
        print("ended", flush=True)
