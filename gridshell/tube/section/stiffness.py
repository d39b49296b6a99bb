"""The whole tube as a beam: EA, EI, GJ and shear stiffness, wall on its true radius."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity


@dataclass(frozen=True)
class BeamStiffness:
    """Stiffness of the tube as a beam.

    Attributes:
        EA: axial stiffness, N.
        EI: bending stiffness in the plane of least stiffness, N m2.
        GJ: torsional stiffness, N m2.
        GA: transverse shear stiffness, N.
        EI_max: bending stiffness in the plane of greatest stiffness, N m2.
    """

    EA: Quantity
    EI: Quantity
    GJ: Quantity
    GA: Quantity
    EI_max: Quantity


def beam_stiffness(A: Array, B: Array, D: Array, radius: Quantity) -> BeamStiffness:
    """EA, EI, GJ, GA of a tube from the smeared wall, free to contract and to warp round.

    A point of the wall at z stands at radius R + z, so the axial strain of bending is k (R + z)
    cos t and the shear strain of torsion is f (R + z): the eccentric ribs enter through B and D.
    The hoop strain minimizes the energy (no hoop force). With the line-element strains of this
    folder the hoop curvature is -e/R for uniform stretching and zero for bending:

    EA = 2 pi R [A11 - (A12 - B12/R)^2/(A22 - 2 B22/R + D22/R^2)]
    EI = pi R [A11 R^2 + 2 B11 R + D11 - (A12 R + B12)^2/A22]
    GJ = 2 pi R [A66 R^2 + 2 B66 R + D66]
    GA = GJ/(2 R^2): a thin ring carries a shear force on half of its area.

    Isotropic limit: 2 pi R t E, pi R^3 t E, 2 pi R^3 t G, pi R t G (Timoshenko, Strength of
    Materials). Derived in the README of `gridshell.tube`.

    Args:
        A: membrane stiffness, (..., 3, 3), N/m.
        B: coupling, (..., 3, 3), N.
        D: bending stiffness, (..., 3, 3), N m.
        radius: R of the skin's middle surface, (...), m.

    Returns:
        Stiffness of the tube, each (...).
    """
    r = radius
    A11, A12, A22, A66 = A[..., 0, 0], A[..., 0, 1], A[..., 1, 1], A[..., 2, 2]
    B11, B12, B22, B66 = B[..., 0, 0], B[..., 0, 1], B[..., 1, 1], B[..., 2, 2]
    D11, D22, D66 = D[..., 0, 0], D[..., 1, 1], D[..., 2, 2]
    EA = 2 * np.pi * r * (
        A11 - (A12 - B12 / r) ** 2 / (A22 - 2 * B22 / r + D22 / r**2)
    )
    EI = np.pi * r * (
        A11 * r**2 + 2 * B11 * r + D11 - (A12 * r + B12) ** 2 / A22
    )
    GJ = 2 * np.pi * r * (A66 * r**2 + 2 * B66 * r + D66)
    return BeamStiffness(EA, EI, GJ, GJ / (2 * r**2), EI)
