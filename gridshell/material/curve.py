"""A property over temperature: measured points, shape-preserving interpolation, a stated range."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.monotone import monotone_cubic
from gridshell.define.types import Array, BoolArray, Quantity


@dataclass(frozen=True)
class Curve:
    """Points of one property over temperature.

    Between the points a monotone piecewise cubic is used (Fritsch and Carlson, SIAM J. Numer.
    Anal. 17 (1980) 238-246), so that the curve never leaves the range of two neighboring points;
    on a log scale for properties that change several-fold.

    Attributes:
        temperature: K, rising, one entry a point; one point is a constant.
        value: SI, same shape.
        scale: "log" or "linear".
        low: lowest temperature at which the data may be used, K (-inf: no limit).
        high: highest, K.
        source: where the numbers come from.
        scatter: relative standard deviation, or None.
    """

    temperature: Array
    value: Array
    scale: str = "linear"
    low: float = -np.inf
    high: float = np.inf
    source: str = ""
    scatter: float | None = None

    def outside(self, temperature: Quantity) -> BoolArray:
        """Where a temperature (K, any shape) lies outside the data; booleans."""
        kelvin = np.asarray(temperature, dtype=float)
        slack = 1e-6  # K, so that the ends of the range survive a change of unit
        return np.asarray((kelvin < self.low - slack) | (kelvin > self.high + slack))

    def at(self, temperature: Quantity) -> Array:
        """Value at a temperature (K, any shape), held at the ends of the data.

        >>> curve = Curve(np.array([200.0, 300.0]), np.array([1e9, 1e7]), "log", 200.0, 300.0)
        >>> float(round(curve.at(250.0) / 1e8, 6))
        1.0
        >>> curve.outside([199.0, 200.0]).tolist()
        [True, False]
        """
        kelvin = np.asarray(temperature, dtype=float)
        if self.value.size == 1:
            return np.full(kelvin.shape, self.value[0])
        held = np.clip(kelvin, self.temperature[0], self.temperature[-1])
        logarithmic = self.scale == "log"
        knots = np.log(self.value) if logarithmic else self.value
        found = monotone_cubic(self.temperature, knots, held)
        return np.asarray(np.exp(found) if logarithmic else found, dtype=float)

    def integral(self, start: Quantity, end: Quantity) -> Array:
        """Integral of the value over temperature, from ``start`` to ``end`` (K, broadcast).

        >>> curve = Curve(np.array([200.0, 300.0]), np.array([1e-4, 2e-4]))
        >>> round(float(curve.integral(200.0, 300.0)), 8)
        0.015
        >>> round(float(curve.integral(300.0, 310.0)), 8)
        0.002
        """
        first, last = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
        if self.value.size == 1:
            return np.asarray(self.value[0] * (last - first))
        from scipy.interpolate import PchipInterpolator

        # The log scale is for properties that are never integrated; the points are what counts.
        low, high = self.temperature[0], self.temperature[-1]
        primitive = PchipInterpolator(self.temperature, self.value).antiderivative()

        def to(kelvin: Array) -> Array:
            held = np.clip(kelvin, low, high)
            edge = np.where(kelvin < low, self.value[0], self.value[-1])
            return np.asarray(primitive(held) + (kelvin - held) * edge, dtype=float)

        return np.asarray(to(last) - to(first))
