"""The queue of heavy work, with the real worker."""

from __future__ import annotations

import asyncio
import shutil
import tempfile
from pathlib import Path

import pytest

from gridshell.define.errors import DefinitionError, InputError
from gridshell.define.files.reading import read_design
from gridshell.define.tables.design import with_values
from gridshell.explore.axes import axis_of
from gridshell.explore.chart import chart
from gridshell.explore.controls import controls_of, stated
from gridshell.explore.serve.helper import Helper
from gridshell.explore.serve.jobs import DONE, FAILED, RUNNING, STOPPED, WAITING, CadQueue, TooMany

EXAMPLES = Path(__file__).parents[2] / "examples"


def running(work):
    """Run a coroutine function with a working queue."""
    async def main():
        jobs = CadQueue(Path(tempfile.mkdtemp()))
        task = asyncio.create_task(jobs.run())
        try:
            return await asyncio.wait_for(work(jobs), 400)
        finally:
            task.cancel()
            await asyncio.gather(task, return_exceptions=True)
            assert not jobs.folder.exists()

    return asyncio.run(main())


async def until(condition):
    while not condition():
        await asyncio.sleep(0.02)


def test_one_at_a_time_crash_stop_and_the_next_goes_on(short_file):
    async def work(jobs):
        first, second, third = (jobs.add("solids", read_design(short_file), {}) for _ in range(3))
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
    wanted = {"folder": str(tmp_path / "mold"), "force": False}
    # Narrow pieces, so that no rib locks: what can't leave its mold is refused before any file.
    design = with_values(read_design(short_file), {"tube.segments": 8, "ribs.draft": 0.25})

    async def work(jobs):
        for kill in (False, True):
            job = jobs.add("files", design, wanted)
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


def test_what_cant_be_made_is_told():
    async def work(jobs):
        seamless = with_values(
            read_design(EXAMPLES / "tide-mast.toml"),
            {"tube.segments": 1, "tube.seam_land": 0.0}
        )
        whole = jobs.add("solids", seamless, {})
        await until(lambda: whole.state == FAILED)
        assert "tube.segments" in whole.message

    running(work)


def test_the_queue_is_short():
    async def main():
        jobs = CadQueue(Path(tempfile.mkdtemp()))
        for _ in range(4):
            jobs.add("solids", read_design(EXAMPLES / "tide-mast.toml"), {})
        with pytest.raises(TooMany):
            jobs.add("solids", read_design(EXAMPLES / "tide-mast.toml"), {})
        shutil.rmtree(jobs.folder)

    asyncio.run(main())


def test_the_helper_is_started_anew_when_it_dies(short_file):
    design = read_design(short_file)
    controls = controls_of(design)
    pair = [axis_of(design, design, controls, path) for path in ("ribs.height", "ribs.spacing")]

    async def main():
        helper = Helper(short_file.parent / "scratch")
        try:
            first = await helper.ask(chart, design, *pair, 4)
            for process in list(helper._pool._processes.values()):
                process.kill()
            await asyncio.sleep(0.3)
            assert await helper.ask(chart, design, *pair, 4) == first
            with pytest.raises(InputError, match="must differ"):  # refusals come as they are
                await helper.ask(chart, design, pair[0], pair[0], 4)
            with pytest.raises(DefinitionError) as refused:
                await helper.ask(stated, design, controls, {"ribs.height": "x"})
            assert refused.value.problems[0].path == "ribs.height"
        finally:
            helper.close()

    asyncio.run(main())
