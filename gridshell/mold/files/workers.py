"""Run independent tasks in forked processes, so that the kernel's work uses every core.

The kernel holds the interpreter's lock while it writes, so threads would not help. A forked child
has the solids already and hands back only small results. Where forking is not possible the tasks
run one after another.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Sequence
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
    count = workers if workers is not None else (os.cpu_count() or 1)
    order = sorted(range(len(tasks)), key=lambda index: -weights[index])
    results: list[Any] = [None] * len(tasks)
    if count < 2 or len(tasks) < 2 or sys.platform in ("win32", "darwin"):
        for done, index in enumerate(order, start=1):
            results[index] = tasks[index]()
            report(done)
        return results
    context = multiprocessing.get_context("fork")
    running: dict[Connection, tuple[int, Any]] = {}
    done = 0
    try:
        while order or running:
            while order and len(running) < count:
                index = order.pop(0)
                here, there = context.Pipe(duplex=False)
                child = context.Process(target=_child, args=(tasks[index], there))
                child.start()
                there.close()
                running[here] = (index, child)
            for ready in wait(list(running)):
                assert isinstance(ready, Connection)
                index, child = running.pop(ready)
                try:
                    ok, value = ready.recv()
                except EOFError:
                    ok, value = False, RuntimeError("a worker ended without an answer")
                child.join()
                if not ok:
                    raise value
                results[index] = value
                done += 1
                report(done)
    finally:
        for _, child in running.values():
            child.terminate()
            child.join()
    return results


def _child(task: Task, pipe: Connection) -> None:
    # The parent's wish to tidy up when asked to end is its own.
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    try:
        answer = (True, task())
    except BaseException as error:
        answer = (False, error)
    pipe.send(answer)
    pipe.close()
    # Skip the parent's clean-up handlers, which are not the child's to run.
    os._exit(0)
