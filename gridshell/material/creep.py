"""Modulus under a load that stays on: a stated factor, or Findley's power law."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.material.curve import Curve

SHORT = 60.0  # s: a load this short is a test's, and there is nothing to know about creep
NO_DATA = (
    "creep: no data for this material; the modulus is that of a short test and the deflection and "
    "buckling loads of a lasting load are on the unsafe side (state material.creep_factor; 1: none "
    "is lost)"
)
NO_CURVE = "creep: no data outside"
TOO_LONG = "creep: the law covers loads up to"


def findley_factor(
    duration: Quantity, amplitude: Quantity, exponent: Quantity, test_duration: Quantity
) -> Array:
    """Modulus after a time under load, over the modulus of a short test.

    Findley's power law for the creep strain under constant stress, e(t) = e0 + m t^n, written
    with a = m t0^n / e0 for the time t0 that the test took:

        E(t) / E(t0) = (1 + a) / (1 + a (t / t0)^n),    1 for t below t0.

    Args:
        duration: t, s.
        amplitude: a, creep strain over elastic strain at the end of the test.
        exponent: n.
        test_duration: t0, s.
    Returns:
        the ratio, at most 1; broadcast over the arguments.
    Source: W. N. Findley, J. S. Lai, K. Onaran, Creep and Relaxation of Nonlinear Viscoelastic
        Materials (1976), power law for constant stress in the linear range.

    >>> round(float(findley_factor(3600.0, 0.2, 0.25, 60.0)), 4)
    0.7709
    >>> float(findley_factor(1.0, 0.2, 0.25, 60.0))
    1.0
    """
    ratio = np.maximum(np.asarray(duration, dtype=float) / test_duration, 1.0)
    return np.asarray((1 + amplitude) / (1 + amplitude * ratio**exponent), dtype=float)


@dataclass(frozen=True)
class Creep:
    """Creep of a material, as its file states it.

    Attributes:
        factor: a stated factor on the modulus over temperature for any load that stays on; or None.
        amplitude: Findley's a over temperature; or None.
        exponent: Findley's n.
        test_duration: t0, s.
        longest: longest duration the data cover, s.
        source: where the numbers come from.
    """

    factor: Curve | None
    amplitude: Curve | None
    exponent: float
    test_duration: float
    longest: float
    source: str

    def at(self, temperature: Quantity, duration: Quantity) -> tuple[Array, list[str]]:
        """The factor on the short-time modulus, and notes on limits that were passed."""
        notes = []
        curve = self.factor if self.factor is not None else self.amplitude
        assert curve is not None
        kelvin = np.asarray(temperature, dtype=float)
        if curve.outside(kelvin).any():
            notes.append(
                f"{NO_CURVE} {curve.low:.1f} to {curve.high:.1f} K; held at the cold end, "
                "continued for the worse at the hot end"
            )
        if np.any(np.asarray(duration) > self.longest):
            notes.append(f"{TOO_LONG} {self.longest:g} s; extrapolated")
        if self.factor is not None:
            # One factor for every duration that the data cover; beyond, it falls on at the same
            # rate per decade as if it had been reached on a straight line of log time.
            time = np.asarray(duration, dtype=float)
            power = np.maximum(np.log10(np.maximum(time, 1.0)) / np.log10(
                max(self.longest, 10.0)), 1.0)
            return _continued(self.factor, kelvin, falling=True) ** power, notes
        amplitude = _continued(curve, kelvin, falling=False)
        return findley_factor(duration, amplitude, self.exponent, self.test_duration), notes


def _continued(curve: Curve, kelvin: Array, falling: bool) -> Array:
    """A curve that goes on beyond its hot end as it ran between its last two points, in logs, if
    that is for the worse; else it is held."""
    found = curve.at(kelvin)
    if curve.value.size < 2:
        return found
    step = curve.temperature[-1] - curve.temperature[-2]
    slope = np.log(curve.value[-1] / curve.value[-2]) / step
    slope = min(slope, 0.0) if falling else max(slope, 0.0)
    return np.asarray(found * np.exp(slope * np.maximum(kelvin - curve.temperature[-1], 0.0)))
