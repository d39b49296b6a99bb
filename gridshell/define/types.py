"""Array types used in every signature."""

from __future__ import annotations

import math
from typing import Any

from numpy.typing import NDArray

Array = NDArray[Any]
"""A float array of any shape."""

# A quantity of one design (float) or of many (array); every mechanics function broadcasts.
Quantity = Any


def finite(value: Any) -> float | None:
    """A finite float, or None: JSON has no infinity.

    >>> finite(1), finite(float("inf"))
    (1.0, None)
    """
    number = float(value)
    return number if math.isfinite(number) else None
