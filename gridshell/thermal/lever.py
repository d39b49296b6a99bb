"""The shorter body beside the colder one: two ways to the same tip deflection."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.thermal.curves import MaterialCurves

TIP_FORCE, OWN_WEIGHT = 3, 4  # power of the length in the deflection


@dataclass(frozen=True)
class Lever:
    """One row: cool to a temperature, or shorten to a length.

    Attributes:
        temperature: K; stiffness_ratio: modulus there over that at the reference; length: m of
            the warm body that deflects as little; shorter: share taken off its length.
    """

    temperature: float
    stiffness_ratio: float
    length: float
    shorter: float


def length_for(stiffness_ratio: Quantity, length: Quantity, power: int = TIP_FORCE) -> Array:
    """Length at which a body deflects as little as one that is stiffer by a ratio, m.

        delta = F L^3/(3 E I), so L' = L / ratio^(1/3); under its own weight q L^4/(8 E I)

    Euler-Bernoulli cantilever (Gere and Timoshenko, Mechanics of Materials, tables of
    deflections); shear deflection is left out, which holds for a slender body.

    >>> float(length_for(8.0, 0.9))
    0.45
    """
    ratio = np.asarray(stiffness_ratio, dtype=float)
    return np.asarray(length / ratio ** (1.0 / power))


def lever_table(
    curves: MaterialCurves, length: float, temperatures: Quantity, reference: float,
    power: int = TIP_FORCE,
) -> tuple[Lever, ...]:
    """Rows for temperatures at which the modulus is known."""
    t = np.atleast_1d(np.asarray(temperatures, dtype=float))
    ratio = curves.lasting_modulus(t) / curves.lasting_modulus(np.array([reference]))
    shorter = length_for(ratio, length, power)
    return tuple(
        Lever(float(a), float(b), float(c), float(1 - c / length))
        for a, b, c in zip(t, ratio, shorter, strict=True) if np.isfinite(b))


def temperature_for(
    stiffness_ratio: float, curves: MaterialCurves, reference: float, coldest: float
) -> float | None:
    """Highest temperature (K) at which the modulus is a ratio times that at the reference."""
    grid = np.arange(reference, coldest - 0.05, -0.1)
    ratio = curves.lasting_modulus(grid) / curves.lasting_modulus(np.array([reference]))
    enough = np.flatnonzero(ratio >= stiffness_ratio)
    return float(grid[enough[0]]) if enough.size else None
