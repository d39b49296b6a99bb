"""The numbers at every step of one slider, in one call, before it is moved.

One design takes nearly as long as a hundred together, so the page that has them shows a move of
that slider in its next frame; the full answer follows and is what stays.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.possible import possible
from gridshell.define.tables.design import Design, with_values
from gridshell.define.units import parse_quantity
from gridshell.explore.answer import column_of, numbers_of
from gridshell.explore.chart import worst_of
from gridshell.explore.controls import Controls
from gridshell.tube.assess import assess_tube

_MOST = 400  # steps; a slider has about 160


def along(design: Design, controls: Controls, path: str) -> dict[str, Any]:
    """Numbers at each step of a slider, all else as it is.

    Args:
        design: one design.
        controls: of the page.
        path: of the slider.

    Returns:
        ``path``, ``low`` and ``step`` in the slider's unit; ``columns``, one for each step, null
        where nothing can be built.

    Raises:
        InputError: no such slider for this pattern, or too many steps.
    """
    slider = next((one for one in controls.sliders
                   if one.path == path and design.ribs.pattern in one.patterns), None)
    if slider is None:
        raise InputError(f"path: no slider {path[:60]!r} for this pattern")
    count = int((slider.high - slider.low) / slider.step + 1e-6) + 1
    if count > _MOST:
        raise InputError(f"path: {count} steps are too many")
    places = np.array([
        parse_quantity(f"{slider.low + k * slider.step:.10g} {slider.unit}".strip(), slider.kind)
        for k in range(count)])
    good = np.broadcast_to(possible(with_values(design, {path: places})), places.shape)
    columns: list[dict[str, Any] | None] = [None] * count
    if good.any():
        with np.errstate(all="ignore"):  # what no formula reaches is not shown
            tube = assess_tube(with_values(design, {path: places[good]}))
        for place, column in zip(np.flatnonzero(good), _columns(tube, int(good.sum())),
                                 strict=True):
            columns[place] = column
    return {"path": path, "low": slider.low, "step": slider.step, "columns": columns}


def _columns(tube: Any, count: int) -> list[dict[str, Any]]:
    numbers = {key: (np.broadcast_to(value, (count,)), kind, digits)
               for key, (value, kind, digits) in numbers_of(tube).items()}
    margins, names, cases = worst_of(tube, count) if tube.cases else (
        np.full(count, np.inf), None, None)
    return [
        column_of({key: (values[k], kind, digits) for key, (values, kind, digits) in
                   numbers.items()}, tube.design.units, float(margins[k]),
                  None if names is None or cases is None else (
                      str(names[k]), tube.cases[cases[k]].name))
        for k in range(count)
    ]
