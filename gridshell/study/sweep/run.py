"""Assess every combination of varied fields and keep the results, on one machine or many."""

from __future__ import annotations

import os
import signal
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design
from gridshell.define.workers import forks
from gridshell.study.sweep.chunk import Columns, check_plan, run_chunk
from gridshell.study.sweep.plan import CHUNK, make_plan
from gridshell.study.sweep.store import Parts, check_output
from gridshell.tube.buckling.waves import ready_for_many

Progress = Callable[[int, int], None]
_AHEAD = 3  # chunks handed out per worker, so that none waits and memory stays bounded
LOCAL = "local"
_WATCHED = 1.0  # s between two looks of a worker at whether its parent still lives


@dataclass(frozen=True)
class SweepResult:
    """What a sweep did.

    Attributes:
        output: the result file.
        rows: designs in it.
        fresh: of these, assessed in this run.
    """

    output: Path
    rows: int
    fresh: int


class _Here(Executor):
    """Runs each task at once in this process."""

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as error:
            future.set_exception(error)
        return future


@contextmanager
def executor(workers: int | None = None, cluster: str | None = None
             ) -> Iterator[tuple[Executor, int]]:
    """A `concurrent.futures` executor and how many tasks it works at once.

    Args:
        workers: processes on this machine; None: one a core; 1: this process.
        cluster: address of a Dask scheduler ("tcp://host:8786"), or "local" for Dask's own cluster
            on this machine.

    Raises:
        InputError: Dask is not installed, or the scheduler does not answer.
    """
    if cluster is not None:
        with _dask(workers, cluster) as found:
            yield found
        return
    count = workers if workers is not None else (os.cpu_count() or 1)
    if count < 1:
        raise InputError(f"--workers {count}: must be at least 1")
    if count == 1:
        yield _Here(), 1
        return
    import multiprocessing

    # A copy of this process starts at once, with all that is loaded here; where other threads run
    # it might copy a lock that one of them holds.
    way = "fork" if forks() and threading.active_count() == 1 else "spawn"
    if way == "fork":
        ready_for_many()  # once, before processes part
    with ProcessPoolExecutor(
        count, multiprocessing.get_context(way), _end_with_parent, (os.getpid(),)
    ) as pool:
        try:
            yield pool, count
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise


def _end_with_parent(parent: int) -> None:
    """Start watching, in a worker, the process that it works for.

    A process that is killed can't tell its workers to stop; without this they would wait forever.
    """
    signal.signal(signal.SIGTERM, signal.SIG_DFL)  # tidying up when asked to end is the parent's

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(_WATCHED)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


@contextmanager
def _dask(workers: int | None, cluster: str) -> Iterator[tuple[Executor, int]]:
    try:
        from distributed import Client, LocalCluster
    except ImportError:
        raise InputError(
            "--cluster: needs the optional part: pip install 'gridshell[cluster]'"
        ) from None
    if cluster == LOCAL:
        engine: Any = LocalCluster(
            n_workers=workers or os.cpu_count() or 1, threads_per_worker=1,
            dashboard_address=None,
        )
    else:
        engine = cluster
    try:
        try:
            client = Client(engine, timeout=20)
        except (OSError, TimeoutError) as error:
            raise InputError(f"--cluster {cluster!r}: no scheduler answers ({error})") from None
        with client:
            yield client.get_executor(), max(len(client.ncores()), 1)
    finally:
        if cluster == LOCAL:
            engine.close()


def _results(
    pool: Executor, ahead: int, plan: Any, numbers: Sequence[int]
) -> Iterator[tuple[int, Columns]]:
    """Chunks as they are done, never more than ``ahead`` handed out."""
    waiting: dict[Future[Columns], int] = {}
    queue = iter(numbers)
    try:
        while True:
            while len(waiting) < ahead:
                number = next(queue, None)
                if number is None:
                    break
                waiting[pool.submit(run_chunk, plan, number)] = number
            if not waiting:
                return
            done = _done(waiting)
            for future in done:
                number = waiting.pop(future)
                yield number, future.result()
    finally:
        for future in waiting:
            future.cancel()


def _done(waiting: dict[Future[Columns], int]) -> list[Future[Columns]]:
    """Those that are finished, at least one."""
    futures = list(waiting)
    if isinstance(futures[0], Future):
        return list(wait(futures, return_when=FIRST_COMPLETED).done)
    # Dask's futures are not of the standard class; its own waiting knows them.
    from distributed import wait as wait_dask

    return list(wait_dask(futures, return_when="FIRST_COMPLETED").done)


def sweep_designs(
    design: Design, vary: Sequence[str], output: str | Path, *, resume: bool = False,
    workers: int | None = None, cluster: str | None = None, chunk: int = CHUNK,
    force: bool = False, progress: Progress | None = None,
) -> SweepResult:
    """Assess every combination of the varied fields and write one file.

    Rows come out in the order of the fields, the first slowest, whatever the number of workers.
    A sweep that is stopped leaves its parts beside the result and goes on with ``resume``.

    Args:
        design: one design; fields that are not varied stay as stated.
        vary: such as ``ribs.height=2mm:8mm:25`` or ``ribs.pattern=isogrid,orthogrid``.
        output: .csv, .parquet or .npz; SI units.
        resume: go on with a sweep that was stopped.
        workers: see `executor`.
        cluster: see `executor`.
        chunk: rows worked at once.
        force: replace a result that is there.
        progress: called with rows done and rows in all.

    Raises:
        InputError: what to vary, the result's place, or the parts that are there don't fit.
    """
    path = Path(output)
    check_output(path)
    if path.exists() and not force:
        raise InputError(f"{path}: is there already; choose another name or add --force")
    plan = make_plan(design, vary, chunk)
    check_plan(plan)
    parts = Parts(plan, path)
    parts.open(resume)
    missing = parts.missing()
    done = plan.rows - sum(min(chunk, plan.rows - n * chunk) for n in missing)
    before = done
    if missing:
        with executor(workers if len(missing) > 1 or cluster else 1, cluster) as (pool, count):
            for number, columns in _results(pool, _AHEAD * count, plan, missing):
                parts.write(number, columns)
                done += len(columns["row"])
                if progress is not None:
                    progress(done, plan.rows)
    parts.join()
    return SweepResult(path, plan.rows, plan.rows - before)
