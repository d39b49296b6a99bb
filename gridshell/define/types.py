"""Array types used in every signature."""

from __future__ import annotations

from typing import Any

from numpy.typing import NDArray

Array = NDArray[Any]
"""A float array of any shape."""

# A quantity of one design (float) or of many (array); every mechanics function broadcasts.
Quantity = Any
