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
from gridshell.explore.answer import columns_of
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
        for place, column in zip(np.flatnonzero(good), columns_of(tube, int(good.sum())),
                                 strict=True):
            columns[place] = column
    return {"path": path, "low": slider.low, "step": slider.step, "columns": columns}
