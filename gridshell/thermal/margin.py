"""The lowest margin of a design's load cases as a function of temperature."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.material.resolve import properties
from gridshell.tube.assess import assess_tube


def margin_function(design: Design) -> Callable[[Array], Array] | None:
    """Temperatures (K) -> lowest margin of all load cases; None when there is no load case.

    Strength that is not known at a temperature leaves the margin unknown there (NaN).
    """
    if not design.case:
        return None

    def margin_at(temperature: Array) -> Array:
        t = np.asarray(temperature, dtype=float)
        found = assess_tube(design, properties(design.material, design.folder, t)).margin
        return np.asarray(np.broadcast_to(found, t.shape), dtype=float)

    return margin_at
