"""The queue of heavy work, with the real worker."""

from __future__ import annotations

import asyncio
import shutil
from pathlib import Path

import pytest

from gridshell.explore.jobs import DONE, FAILED, RUNNING, STOPPED, WAITING, Jobs, TooMany

EXAMPLE = Path(__file__).parents[2] / "examples" / "probe-body.toml"


def order(values=None, path=EXAMPLE):
    return {"path": str(path), "values": values or {}}


def running(work):
    """Run a coroutine function with a working queue."""
    async def main():
        jobs = Jobs()
        task = asyncio.create_task(jobs.run())
        try:
            return await asyncio.wait_for(work(jobs), 100)
        finally:
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)
            assert not jobs._folder.exists()

    return asyncio.run(main())


async def until(condition):
    while not condition():
        await asyncio.sleep(0.02)


def test_one_at_a_time_crash_stop_and_the_next_goes_on():
    async def work(jobs):
        first, second, third = (jobs.add("solids", order()) for _ in range(3))
        await until(lambda: first.process is not None and first.share > 0)
        assert [job.state for job in (first, second, third)] == [RUNNING, WAITING, WAITING]
        first.process.kill()  # as a crash of the kernel would end it
        await until(lambda: second.process is not None and second.share > 0)
        assert first.state == FAILED and "ended with code -9" in first.message
        third.doing = "waiting"
        await jobs.stop(third)
        assert third.state == STOPPED and third.process is None
        seen = set()
        while second.state == RUNNING:
            seen.add(second.doing)
            await asyncio.sleep(0.01)
        assert second.state == DONE and second.share == 1.0, second.message
        assert len(seen) > 4  # told what it was doing
        assert "core" in second.result["pieces"]
        assert (second.scratch / "mesh.bin").stat().st_size > 100_000

    running(work)


def test_stopping_a_running_job_ends_its_process():
    async def work(jobs):
        job = jobs.add("solids", order())
        await until(lambda: job.process is not None)
        await jobs.stop(job)
        await until(lambda: job.doing == "stopped")
        assert job.state == STOPPED and job.process.returncode is not None
        assert not (job.scratch / "mesh.bin").exists()

    running(work)


def test_what_cant_be_made_is_told(tmp_path):
    shutil.copy(EXAMPLE.parent / "barrel-inch.toml", tmp_path)

    async def work(jobs):
        whole = jobs.add("solids", order(path=tmp_path / "barrel-inch.toml"))
        await until(lambda: whole.state == FAILED)
        assert "tube.segments" in whole.message

    running(work)


def test_the_queue_is_short():
    async def main():
        jobs = Jobs()
        for _ in range(4):
            jobs.add("solids", order())
        with pytest.raises(TooMany):
            jobs.add("solids", order())
        shutil.rmtree(jobs._folder)

    asyncio.run(main())
