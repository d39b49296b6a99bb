"""Array types used in every signature."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
"""A float array of any shape."""

# A quantity of one design (float) or of many (array); every mechanics function broadcasts.
Quantity = Any
