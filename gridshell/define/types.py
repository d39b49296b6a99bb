"""Array types used in every signature."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
"""A float array of any shape."""

BoolArray = NDArray[np.bool_]
"""An array of yes and no of any shape."""

IntArray = NDArray[np.int64]
"""An array of whole numbers (counts, indices) of any shape."""

Quantity = float | NDArray[np.float64]
"""A quantity of one design (float) or of many (array); every mechanics function broadcasts."""

NOT_STATED: Any = None
"""Default of a quantity that need not be stated. It passes for every type, as the defaults of a
table do: who uses such a quantity has asked before whether it is there."""


def finite(value: Quantity) -> float | None:
    """A finite float, or None: JSON has no infinity.

    >>> finite(1), finite(float("inf"))
    (1.0, None)
    """
    number = float(value)
    return number if math.isfinite(number) else None
