"""Run independent tasks in forked processes, so that one command uses every core.

Python's lock, which the kernel of solids holds too, makes threads of no use for them. A forked
child has what the parent has made so far and hands back only results. Each child takes one task
after another, so that it loads each library once. Where forking is not possible the tasks run one
after another.
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
_REQUESTS = (signal.SIGTERM, signal.SIGINT)


def run_all(
    tasks: Sequence[Task], weights: Sequence[float], report: Callable[[int], None],
    workers: int | None = None, following: Callable[[Sequence[Any]], Sequence[Task]] | None = None,
    each: Callable[[Any], None] = lambda result: None,
) -> list[Any]:
    """Results of tasks in their order; heavy ones start first.

    Args:
        tasks: called without arguments; results must be picklable.
        weights: how long each takes, in any unit; tasks of weight 0 come last.
        report: called with the number of tasks done.
        workers: processes; as many as cores if left out.
        following: given the results so far when every task with a weight is done, makes more
            tasks, themselves picklable, whose results are dropped.
        each: told every result of a task as it comes.

    Raises:
        whatever the first failing task raised.
    """
    count = min(_cores() if workers is None else workers, len(tasks))
    order = sorted(range(len(tasks)), key=lambda index: -weights[index])
    results: list[Any] = [None] * len(tasks)
    if count < 2 or not forks():
        for done, index in enumerate(order, start=1):
            results[index] = tasks[index]()
            each(results[index])
            report(done)
        for last in () if following is None else following(results):
            last()
        return results
    children = [_Child(tasks) for _ in range(count)]
    busy: dict[Connection, _Child] = {}
    waiting: list[int | Task] = [*order]
    awaited = {index for index in order if weights[index]}
    done = 0
    try:
        for child in children:
            busy[child.start(waiting.pop(0))] = child
        while busy:
            for ready in wait(list(busy)):
                assert isinstance(ready, Connection)
                child = busy.pop(ready)
                number, value = child.result()
                if number is not None:
                    results[number] = value
                    done += 1
                    each(value)
                    report(done)
                    awaited.discard(number)
                if not awaited and following is not None:
                    waiting += following(results)
                    following = None
                idle = [one for one in children if one not in busy.values()]
                for one in idle[:len(waiting)]:
                    busy[one.start(waiting.pop(0))] = one
    finally:
        for child in children:
            child.end()
    return results


@contextmanager
def beside(tasks: Sequence[Task]) -> Iterator[Callable[[Task], None]]:
    """Run tasks, none with a result, in one process of their own while the block runs.

    The block is given a function that adds one more task, itself picklable. All are done when the
    block is left; an error in the block stops them. On a single core, or where forking is not
    possible, they run when the block has ended.

    Args:
        tasks: called without arguments, one after another.

    Raises:
        whatever the first failing task raised.
    """
    def everything() -> None:
        for task in tasks:
            task()

    later: list[Task] = []
    if _cores() < 2 or not forks():
        yield later.append
        for task in (everything, *later):
            task()
        return
    child = _Child([everything])

    def add(task: Task) -> None:
        later.append(task)
        child.start(task)  # taken up when what it does now is done

    try:
        child.start(0)
        yield add
        for _ in (0, *later):
            child.result()
    finally:
        child.end()


def _cores() -> int:
    return os.cpu_count() or 1


def forks() -> bool:
    """Whether this process may have forked ones."""
    # A daemonic process may have none of its own.
    return sys.platform not in ("win32", "darwin") and not multiprocessing.current_process().daemon


class _Child:
    """A forked process that runs one of the tasks whenever it is told its number, or a new one."""

    def __init__(self, tasks: Sequence[Task]) -> None:
        context = multiprocessing.get_context("fork")
        self.pipe, there = context.Pipe()
        self.index: int | None = None
        self.process = context.Process(target=_serve, args=(tasks, there, self.pipe))
        with _held():
            self.process.start()
        there.close()

    def start(self, task: int | Task) -> Connection:
        """Begin a task; the connection is ready to read when it is done."""
        self.index = task if isinstance(task, int) else None
        self.pipe.send(task)
        return self.pipe

    def result(self) -> tuple[int | None, Any]:
        """Number (None of a new one) and result of the task begun, once it is there.

        Raises:
            whatever the task raised.
        """
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


@contextmanager
def _held() -> Iterator[None]:
    """Let a request to end wait: what it raises while a process forks would be lost."""
    before = signal.pthread_sigmask(signal.SIG_BLOCK, _REQUESTS)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _serve(tasks: Sequence[Task], pipe: Connection, parents: Connection) -> None:
    # The parent's wish to tidy up when asked to end is its own.
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, _REQUESTS)
    parents.close()  # so that the end of the parent ends the wait for it
    while True:
        try:
            told = pipe.recv()
        except (EOFError, ConnectionError, KeyboardInterrupt):
            break
        try:
            answer = (True, (tasks[told] if isinstance(told, int) else told)())
        except BaseException as error:
            answer = (False, error)
        try:
            pipe.send(answer)
        except ConnectionError:
            break
    # Skip the parent's clean-up handlers, which are not the child's to run.
    os._exit(0)
