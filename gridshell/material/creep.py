"""Modulus under a load that stays on: a stated factor, or Findley's power law."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.material.curve import Curve


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
        if curve.outside(temperature).any():
            notes.append(
                f"creep: no data outside {curve.low:.1f} to {curve.high:.1f} K; "
                "held at the end of the data"
            )
        if np.any(np.asarray(duration) > self.longest):
            notes.append(f"creep: the law covers loads up to {self.longest:g} s; extrapolated")
        if self.factor is not None:
            shape = np.broadcast_shapes(np.shape(temperature), np.shape(duration))
            return np.broadcast_to(self.factor.at(temperature), shape), notes
        return (
            findley_factor(duration, curve.at(temperature), self.exponent, self.test_duration),
            notes,
        )
