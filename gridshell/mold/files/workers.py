"""Run independent tasks in forked processes, so that the kernel's work uses every core.

The kernel holds the interpreter's lock while it writes, so threads would not help. A forked child
has the solids already and hands back only small results. Each child takes one task after another,
so that it loads each library once. Where forking is not possible the tasks run one after another.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from multiprocessing.connection import Connection, wait
from typing import Any

Task = Callable[[], Any]


def run_all(
    tasks: Sequence[Task], weights: Sequence[float], report: Callable[[int], None],
    workers: int | None = None,
) -> list[Any]:
    """Results of tasks in their order; heavy ones start first.

    Args:
        tasks: called without arguments; results must be picklable.
        weights: how long each takes, in any unit.
        report: called with the number of tasks done.
        workers: processes; as many as cores if left out.

    Raises:
        whatever the first failing task raised.
    """
    count = min(_cores() if workers is None else workers, len(tasks))
    order = sorted(range(len(tasks)), key=lambda index: -weights[index])
    results: list[Any] = [None] * len(tasks)
    if count < 2 or not _forks():
        for done, index in enumerate(order, start=1):
            results[index] = tasks[index]()
            report(done)
        return results
    children = [_Child(tasks) for _ in range(count)]
    busy: dict[Connection, _Child] = {}
    done = 0
    try:
        for child in children:
            busy[child.start(order.pop(0))] = child
        while busy:
            for ready in wait(list(busy)):
                assert isinstance(ready, Connection)
                child = busy.pop(ready)
                index, value = child.result()
                results[index] = value
                done += 1
                report(done)
                if order:
                    busy[child.start(order.pop(0))] = child
    finally:
        for child in children:
            child.end()
    return results


@contextmanager
def beside(tasks: Sequence[Task]) -> Iterator[None]:
    """Run tasks, none with a result, in one process of their own while the block runs.

    They are done when the block is left; an error in the block stops them. On a single core, or
    where forking is not possible, they run when the block has ended.

    Args:
        tasks: called without arguments, one after another.

    Raises:
        whatever the first failing task raised.
    """
    def everything() -> None:
        for task in tasks:
            task()

    if not tasks or _cores() < 2 or not _forks():
        yield
        everything()
        return
    child = _Child([everything])
    try:
        child.start(0)
        yield
        child.result()
    finally:
        child.end()


def _cores() -> int:
    return os.cpu_count() or 1


def _forks() -> bool:
    return sys.platform not in ("win32", "darwin")


class _Child:
    """A forked process that runs one of the tasks whenever it is told a number."""

    def __init__(self, tasks: Sequence[Task]) -> None:
        context = multiprocessing.get_context("fork")
        self.pipe, there = context.Pipe()
        self.index = 0
        self.process = context.Process(target=_serve, args=(tasks, there, self.pipe))
        self.process.start()
        there.close()

    def start(self, index: int) -> Connection:
        """Begin a task; the connection is ready to read when it is done."""
        self.index = index
        self.pipe.send(index)
        return self.pipe

    def result(self) -> tuple[int, Any]:
        """Number and result of the task begun, once it is there; raises what it raised."""
        try:
            ok, value = self.pipe.recv()
        except (EOFError, ConnectionError):
            ok, value = False, RuntimeError("a worker ended without an answer")
        if not ok:
            raise value
        return self.index, value

    def end(self) -> None:
        """Stop it, whatever it does."""
        self.process.terminate()
        self.process.join()
        self.pipe.close()


def _serve(tasks: Sequence[Task], pipe: Connection, parents: Connection) -> None:
    # The parent's wish to tidy up when asked to end is its own.
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    parents.close()  # so that the end of the parent ends the wait for it
    while True:
        try:
            index = pipe.recv()
        except (EOFError, ConnectionError, KeyboardInterrupt):
            break
        try:
            answer = (True, tasks[index]())
        except BaseException as error:
            answer = (False, error)
        try:
            pipe.send(answer)
        except ConnectionError:
            break
    # Skip the parent's clean-up handlers, which are not the child's to run.
    os._exit(0)
