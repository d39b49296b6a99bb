"""The queue of heavy work, with the real worker."""

from __future__ import annotations

import asyncio
import shutil
from pathlib import Path

import pytest

from gridshell.explore.jobs import DONE, FAILED, RUNNING, STOPPED, WAITING, Jobs, TooMany

EXAMPLES = Path(__file__).parents[2] / "examples"


def order(path, **more):
    return {"path": str(path), "values": {}, **more}


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


def test_one_at_a_time_crash_stop_and_the_next_goes_on(short_file):
    async def work(jobs):
        first, second, third = (jobs.add("solids", order(short_file)) for _ in range(3))
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
        assert (second.scratch / "mesh.bin").stat().st_size > 50_000

    running(work)


def test_a_stopped_or_crashed_job_leaves_nothing_behind(short_file, tmp_path):
    wanted = order(short_file, folder=str(tmp_path / "mold"), force=False)

    async def work(jobs):
        for kill in (False, True):
            job = jobs.add("files", wanted)
            await until(lambda job=job: "writing" in job.doing or job.state == FAILED)
            assert list(tmp_path.iterdir()), job.message  # half-written files, out of the way
            if kill:
                job.process.kill()
            else:
                await jobs.stop(job)
            await until(lambda job=job: job.process.returncode is not None
                        and job.doing in ("stopped", "failed"))
            assert job.state == (FAILED if kill else STOPPED)
            assert list(tmp_path.iterdir()) == []

    running(work)


def test_what_cant_be_made_is_told(tmp_path):
    shutil.copy(EXAMPLES / "barrel-inch.toml", tmp_path)

    async def work(jobs):
        whole = jobs.add("solids", order(tmp_path / "barrel-inch.toml"))
        await until(lambda: whole.state == FAILED)
        assert "tube.segments" in whole.message

    running(work)


def test_the_queue_is_short():
    async def main():
        jobs = Jobs()
        for _ in range(4):
            jobs.add("solids", order(EXAMPLES / "mast.toml"))
        with pytest.raises(TooMany):
            jobs.add("solids", order(EXAMPLES / "mast.toml"))
        shutil.rmtree(jobs._folder)

    asyncio.run(main())
