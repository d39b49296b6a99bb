"""Tasks in forked processes: order, errors, and an end that leaves none behind."""

from __future__ import annotations

import functools
import multiprocessing
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from gridshell.define.errors import InputError
from gridshell.define.workers import beside, run_all


def test_parallel_tasks_keep_order_and_hand_errors_on(tmp_path: Path) -> None:
    done: list[int] = []
    tasks = [lambda value=value: value * value for value in range(5)]
    assert run_all(tasks, [1.0] * 5, done.append, workers=2) == [0, 1, 4, 9, 16]
    assert done == [1, 2, 3, 4, 5]

    def broken() -> None:
        raise InputError("field: wrong")

    # Two more when those of some weight are done, made of their results.
    def more(results: Sequence[Any]) -> list[Any]:
        assert results[:3] == [0, 1, 4]
        return [functools.partial((tmp_path / f"{sum(results[:3]) + more}").write_text, "x")
                for more in (0, 1)]

    for workers in (1, 2):
        assert run_all(tasks, [1.0] * 3 + [0.0] * 2, done.append, workers, more)[4] == 16
        assert sorted(path.name for path in tmp_path.iterdir()) == ["5", "6"]
        for name in "56":
            (tmp_path / name).unlink()

    with pytest.raises(InputError, match="field: wrong"):
        run_all([broken, broken], [1.0, 1.0], done.append, workers=2)


def test_tasks_beside_a_block_end_with_it_and_stop_with_its_error(tmp_path: Path) -> None:
    def wrote(name: str) -> None:
        (tmp_path / name).write_text("x", encoding="utf-8")

    with beside([lambda: wrote("one"), lambda: wrote("two")]) as add:
        add(functools.partial((tmp_path / "three").write_text, "x"))
    assert {path.name for path in tmp_path.iterdir()} == {"one", "two", "three"}

    def broken() -> None:
        raise InputError("field: wrong")

    with pytest.raises(InputError, match="field: wrong"), beside([broken]):
        pass
    with pytest.raises(FileNotFoundError), beside([]) as add:
        add(functools.partial((tmp_path / "gone" / "three").write_text, "x"))
    started = time.monotonic()
    with pytest.raises(RuntimeError, match="first"), beside([lambda: time.sleep(30)]):
        raise RuntimeError("first")
    assert time.monotonic() - started < 15
    with beside([]):
        pass


@pytest.mark.parametrize("workers", [1, 2])
def test_who_is_told_a_result_may_end_the_rest(workers: int) -> None:
    class Enough(Exception):
        pass

    def told(result: float) -> None:
        raise Enough

    started = time.monotonic()
    with pytest.raises(Enough):
        run_all([lambda: time.sleep(0.1), lambda: time.sleep(30)], [1.0, 1.0],
                lambda done: None, workers, each=told)
    assert time.monotonic() - started < 15
    assert not multiprocessing.active_children()
