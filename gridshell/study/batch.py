"""Many designs in bounded memory: cut their arrays into chunks, evaluate, put together."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.memory import keep_freed_memory
from gridshell.define.tables.design import Design
from gridshell.define.types import Array

CHUNK = 8192  # designs at once: their matrices stay within a cache of a few megabytes


def arrays_in(value: Any) -> Iterator[np.ndarray]:
    """Every array in a table and the tables within it."""
    if isinstance(value, np.ndarray) and value.ndim:
        yield value
    elif isinstance(value, tuple):
        for entry in value:
            yield from arrays_in(entry)
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            yield from arrays_in(getattr(value, field.name))


def _part(value: Any, part: slice) -> Any:
    """The same table with a part of each array."""
    if isinstance(value, np.ndarray) and value.ndim:
        return value[part]
    if isinstance(value, tuple):
        return tuple(_part(entry, part) for entry in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        changed = {
            field.name: _part(getattr(value, field.name), part)
            for field in dataclasses.fields(value)
        }
        return dataclasses.replace(value, **changed)
    return value


def design_count(design: Design) -> int:
    """How many designs the arrays of a design hold; 1 for a single design.

    Raises:
        InputError: arrays of different lengths, or of more than one dimension.
    """
    shapes = {array.shape for array in arrays_in(design)}
    if not shapes:
        return 1
    if len(shapes) > 1 or len(next(iter(shapes))) != 1:
        raise InputError(
            f"arrays of a design must be lists of one length, not {sorted(shapes)}"
        )
    return int(next(iter(shapes))[0])


def _like(part: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
    """An array of a shape that lies in memory as a part of it does: whole rows are copied then."""
    if part.ndim != len(shape):
        return np.empty(shape, dtype=part.dtype)
    order = sorted(range(part.ndim), key=lambda axis: -abs(part.strides[axis]))
    whole = np.empty([shape[axis] for axis in order], dtype=part.dtype)
    return whole.transpose(np.argsort(order))


def evaluate(
    design: Design,
    function: Callable[[Design], Mapping[str, Any]],
    chunk: int = CHUNK,
    progress: Callable[[int, int], None] | None = None,
) -> dict[str, Array]:
    """Evaluate many designs chunk by chunk, so that memory does not grow with their number.

    Args:
        design: fields may be arrays (designs,), all of one length.
        function: from a design to named results, each (designs, ...) or one for all.
        chunk: designs at once.
        progress: called with the number done and the number of all.

    Returns:
        the results by name, (designs, ...).

    Raises:
        InputError: see `design_count`; or a chunk below 1.
    """
    if chunk < 1:
        raise InputError(f"chunk {chunk} is too small; must be at least 1")
    count = design_count(design)
    if count > chunk:
        keep_freed_memory()
    found: dict[str, Array] = {}
    for first in range(0, count, chunk):
        last = min(first + chunk, count)
        for name, value in function(_part(design, slice(first, last))).items():
            result = np.asarray(value)
            if name not in found:
                shape = result.shape[1:] if result.ndim and count > 1 else result.shape
                found[name] = _like(result, (count, *shape))
            found[name][first:last] = result
        if progress is not None:
            progress(last, count)
    return found
