"""The plain wall that stretches and bends like the gridded one: thickness t*, modulus E*."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.compiling import for_many
from gridshell.define.types import Array, Quantity
from gridshell.wall.stiffness.smeared import entries_of, solved_3, symmetric


@dataclass(frozen=True)
class EquivalentWall:
    """Plain wall of the same stretching and bending stiffness.

    Attributes:
        thickness: t*, m.
        modulus: E*, Pa.
        poisson: of the equivalent wall.
        axial_thickness: t* from the axial stiffnesses alone, m.
        axial_modulus: E* from the axial stiffnesses alone, Pa.
        hoop_thickness: t* from the hoop stiffnesses alone, m.
        hoop_modulus: E* from the hoop stiffnesses alone, Pa.
    """

    thickness: Quantity
    modulus: Quantity
    poisson: Quantity
    axial_thickness: Quantity
    axial_modulus: Quantity
    hoop_thickness: Quantity
    hoop_modulus: Quantity


def neutral_bending(A: Array, B: Array, D: Array) -> Array:
    """Bending stiffness with the wall free to stretch, D - B A^-1 B, N m, (..., 3, 3)."""
    return symmetric(_left(*entries_of(A), *entries_of(B), *entries_of(D)))


@for_many(6)
def _left(
    a11: Quantity, a12: Quantity, a16: Quantity, a22: Quantity, a26: Quantity, a66: Quantity,
    b11: Quantity, b12: Quantity, b16: Quantity, b22: Quantity, b26: Quantity, b66: Quantity,
    d11: Quantity, d12: Quantity, d16: Quantity, d22: Quantity, d26: Quantity, d66: Quantity,
) -> tuple[Quantity, ...]:
    """Entries of D - B A^-1 B."""
    one = solved_3(a11, a12, a16, a22, a26, a66, b11, b12, b16)
    two = solved_3(a11, a12, a16, a22, a26, a66, b12, b22, b26)
    six = solved_3(a11, a12, a16, a22, a26, a66, b16, b26, b66)
    return (
        d11 - b11 * one[0] - b12 * one[1] - b16 * one[2],
        d12 - b11 * two[0] - b12 * two[1] - b16 * two[2],
        d16 - b11 * six[0] - b12 * six[1] - b16 * six[2],
        d22 - b12 * two[0] - b22 * two[1] - b26 * two[2],
        d26 - b12 * six[0] - b22 * six[1] - b26 * six[2],
        d66 - b16 * six[0] - b26 * six[1] - b66 * six[2],
    )


def _mean(matrix: Array) -> Quantity:
    """Mean of the 11 entry over all directions: (3 a11 + 3 a22 + 2 a12 + 4 a66)/8."""
    return (
        3 * matrix[..., 0, 0] + 3 * matrix[..., 1, 1]
        + 2 * matrix[..., 0, 1] + 4 * matrix[..., 2, 2]
    ) / 8


def _mean_coupling(matrix: Array) -> Quantity:
    """Mean of the 12 entry over all directions: (a11 + a22 + 6 a12 - 4 a66)/8."""
    return (
        matrix[..., 0, 0] + matrix[..., 1, 1]
        + 6 * matrix[..., 0, 1] - 4 * matrix[..., 2, 2]
    ) / 8


def equivalent_wall(A: Array, free: Array) -> EquivalentWall:
    """Equivalent plain wall from the smeared stiffness.

    t* = sqrt(12 D/K), E* = K (1 - v*^2)/t*, with K and D the stretching and neutral bending
    stiffness averaged over all directions (for an isogrid: any direction) and v* = K12/K.
    For an isogrid with v = 1/3 and thin rectangular ribs this is the closed form of NASA
    CR-124075, Isogrid Design Handbook, section 3 (t* = t beta/(1 + alpha),
    E* = E (1 + alpha)^2/beta; held to 1e-9 in the tests).

    Args:
        A: membrane stiffness, (..., 3, 3), N/m.
        free: bending stiffness with the wall free to stretch, `neutral_bending`, (..., 3, 3), N m.
    """
    stretch, bend = _mean(A), _mean(free)
    poisson = _mean_coupling(A) / stretch
    thickness = np.sqrt(12 * bend / stretch)

    def along(i: int) -> tuple[Quantity, Quantity]:
        deep = np.sqrt(12 * free[..., i, i] / A[..., i, i])
        return deep, A[..., i, i] * (1 - poisson**2) / deep

    axial, hoop = along(0), along(1)
    return EquivalentWall(
        thickness, stretch * (1 - poisson**2) / thickness, poisson, *axial, *hoop
    )
