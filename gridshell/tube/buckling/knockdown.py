"""Knockdown factors: how far real tubes fall below perfect theory, with their published source.

Plain and ribbed walls are one family: the factor of an orthotropic wall by its own phi, capped by
the constant for stiffened shells as soon as the ribs are large enough for it. So ribs of no height
have the factor of the plain wall, and nothing jumps on the way.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Quantity
from gridshell.wall.assess import Wall, found_once

SOURCE = "NASA/SP-8007-2020/REV 2"
THINNEST = 1500.0  # r/t up to which Eq. 9 and 14 were fitted
LONGEST = 5.0  # L/r up to which they were fitted
# "Moderately large" is not defined in 4.1.2; here: ribs that double the bending stiffness.
LARGE = 0.5
STIFFENED = {"compression": 0.65, "bending": 0.75}  # 4.1.2.1 and 4.1.2.2
_SECTIONS = {
    "compression": ("Eq. 9", "4.1.2.1"), "bending": ("Eq. 14", "4.1.2.2"),
}
_SHARE = {"compression": 0.901, "bending": 0.731}


@dataclass(frozen=True)
class Knockdown:
    """One factor and where it comes from.

    Attributes:
        factor: multiplies the load of perfect theory.
        source: document, section or equation.
    """

    factor: Quantity
    source: str


def plain_phi(radius: Quantity, thickness: Quantity) -> Quantity:
    """phi = sqrt(r/t)/16 of a plain wall, NASA/SP-8007-2020/REV 2, Eq. 9.

    Args:
        radius: r, m.
        thickness: t, m.
    """
    return np.sqrt(radius / thickness) / 16


def orthotropic_phi(
    radius: Quantity, Dx: Quantity, Dy: Quantity, Ex: Quantity, Ey: Quantity
) -> Quantity:
    """phi of an unstiffened orthotropic wall for Eq. 9 and 14.

    phi = sqrt(r / (Dx Dy/(Ex Ey))^(1/4))/29.8, NASA/SP-8007-2020/REV 2, Eq. 61 and 63. For a plain
    wall (D/E)^(1/2) = t/sqrt(12); 16 12^(1/4) = 29.78 in place of the rounded 29.8 makes it
    sqrt(r/t)/16 exactly.

    Args:
        radius: r, m.
        Dx: axial bending stiffness, N m.
        Dy: hoop bending stiffness, N m.
        Ex: axial membrane stiffness, N/m.
        Ey: hoop membrane stiffness, N/m.

    >>> round(float(orthotropic_phi(1.0, 1 / 12e6, 1 / 12e6, 0.01, 0.01)), 4)  # r/t = 100
    0.625
    """
    return np.sqrt(radius / (Dx * Dy / (Ex * Ey)) ** 0.25) / (16 * 12**0.25)


def unstiffened(load: str, phi: Quantity) -> Quantity:
    """Knockdown of a wall without ribs.

    gamma = 1 - 0.901 (1 - exp(-phi)) in compression, NASA/SP-8007-2020/REV 2, Eq. 9; 0.731 in
    bending, Eq. 14; r/t < 1500.

    Args:
        load: compression or bending.
        phi: `plain_phi` or `orthotropic_phi`.

    >>> ratios = (200, 300, 400, 500, 1000)
    >>> [round(float(unstiffened("compression", plain_phi(r, 1.0))), 3) for r in ratios]
    [0.471, 0.404, 0.357, 0.322, 0.224]
    """
    return 1 - _SHARE[load] * (1 - np.exp(-phi))


def factors(phi: Quantity, ribs: Quantity, skin_phi: Quantity) -> dict[str, Knockdown]:
    """The factor for each load: compression, bending, pressure, torsion.

    Compression and bending: gamma by phi, but no more than the constant for stiffened shells; where
    the skin alone has more than that, the cap comes down from it in the measure in which ribs are
    large. Pressure 0.75 and torsion 0.67 are the same
    with and without ribs.

    Args:
        phi: of the wall.
        ribs: 0 without, 1 for the closely spaced, moderately large ribs of 4.1.2.
        skin_phi: of the skin without its ribs.

    >>> found = factors(0.2, 1.0, 0.5)
    >>> [float(found[load].factor) for load in ("compression", "bending", "pressure", "torsion")]
    [0.65, 0.75, 0.75, 0.67]
    """
    found = {}
    for load, constant in STIFFENED.items():
        equation, section = _SECTIONS[load]
        gamma = unstiffened(load, phi)
        excess = np.maximum(unstiffened(load, skin_phi) - constant, 0.0)
        cap = constant + excess * (1 - ribs)
        factor = np.minimum(gamma, cap)
        if np.ndim(factor):
            rule = f"{section}, or {equation} with phi of Eq. 61 where ribs are too small for it"
        elif ribs == 0:
            rule = equation
        elif gamma < cap:
            rule = f"{equation} with phi of Eq. 61: ribs too small for the constant of {section}"
        elif ribs < 1:
            rule = f"between {equation} and {section}: ribs do not double the bending stiffness"
        else:
            rule = section
        found[load] = Knockdown(factor, f"{SOURCE}, {rule}")
    return {
        **found,
        "pressure": Knockdown(0.75, f"{SOURCE}, 4.1.1.3 and 4.1.2.3"),
        "torsion": Knockdown(0.67, f"{SOURCE}, 4.1.1.4 and 4.1.2.4"),
    }


@found_once
def knockdowns(wall: Wall) -> dict[str, Knockdown]:
    """The factors of a wall; see `factors`.

    Args:
        wall: one or many.
    """
    A, known = wall.A, wall.properties
    skin_phi = plain_phi(wall.grid.radius, wall.design.skin.thickness)
    if not wall.sections:
        return factors(skin_phi, 0.0, skin_phi)
    D = wall.free_bending
    Dx, Dy = D[..., 0, 0], D[..., 1, 1]
    thickness = wall.design.skin.thickness
    plate = known.modulus * thickness**2 * thickness / (12 * (1 - known.poisson**2))
    with np.errstate(invalid="ignore"):  # a stiffness below zero has no factor
        grown = np.maximum(1 - plate / np.sqrt(Dx * Dy), 0.0)
        phi = orthotropic_phi(wall.grid.radius, Dx, Dy, A[..., 0, 0], A[..., 1, 1])
    return factors(phi, np.minimum(grown / LARGE, 1.0), skin_phi)
