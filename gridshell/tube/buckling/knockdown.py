"""Knockdown factors: how far real tubes fall below perfect theory, with their published source."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Quantity

SOURCE = "NASA/SP-8007-2020/REV 2"
THINNEST = 1500.0  # r/t up to which Eq. 9 and 14 were fitted
LONGEST = 5.0  # L/r up to which they were fitted


@dataclass(frozen=True)
class Knockdown:
    """One factor and where it comes from.

    Attributes:
        factor: multiplies the load of perfect theory.
        source: document, section or equation.
    """

    factor: Quantity
    source: str


def plain_compression(radius: Quantity, thickness: Quantity) -> Quantity:
    """Knockdown of a plain wall in axial compression.

    gamma = 1 - 0.901 (1 - exp(-phi)), phi = sqrt(r/t)/16, r/t < 1500.
    NASA/SP-8007-2020/REV 2, Eq. 9.

    >>> [round(float(plain_compression(r, 1.0)), 3) for r in (200, 300, 400, 500, 1000)]
    [0.471, 0.404, 0.357, 0.322, 0.224]
    """
    phi = np.sqrt(radius / thickness) / 16
    return 1 - 0.901 * (1 - np.exp(-phi))


def plain_bending(radius: Quantity, thickness: Quantity) -> Quantity:
    """Knockdown of a plain wall in bending.

    gamma = 1 - 0.731 (1 - exp(-phi)), phi = sqrt(r/t)/16.
    NASA/SP-8007-2020/REV 2, Eq. 14.
    """
    phi = np.sqrt(radius / thickness) / 16
    return 1 - 0.731 * (1 - np.exp(-phi))


def orthotropic_phi(
    radius: Quantity, Dx: Quantity, Dy: Quantity, Ex: Quantity, Ey: Quantity
) -> Quantity:
    """phi of an unstiffened orthotropic wall for Eq. 9 and 14.

    phi = sqrt(r / (Dx Dy/(Ex Ey))^(1/4))/29.8, NASA/SP-8007-2020/REV 2, Eq. 61 and 63. For a
    plain wall (D/E)^(1/2) = t/sqrt(12), so phi = sqrt(r/t)/16.01.

    >>> round(float(orthotropic_phi(1.0, 1 / 12e6, 1 / 12e6, 0.01, 0.01)), 4)  # r/t = 100
    0.6246
    """
    return np.sqrt(radius / (Dx * Dy / (Ex * Ey)) ** 0.25) / 29.8


def knockdowns(has_ribs: bool, radius: Quantity, thickness: Quantity) -> dict[str, Knockdown]:
    """The factor for each load: compression, bending, pressure, torsion.

    Args:
        has_ribs: stiffened (closely spaced, moderately large ribs) or plain.
        radius, thickness: of the plain wall, m.
    """
    if has_ribs:
        return {
            "compression": Knockdown(0.65, f"{SOURCE}, 4.1.2.1"),
            "bending": Knockdown(0.75, f"{SOURCE}, 4.1.2.2"),
            "pressure": Knockdown(0.75, f"{SOURCE}, 4.1.2.3"),
            "torsion": Knockdown(0.67, f"{SOURCE}, 4.1.2.4"),
        }
    return {
        "compression": Knockdown(plain_compression(radius, thickness), f"{SOURCE}, Eq. 9"),
        "bending": Knockdown(plain_bending(radius, thickness), f"{SOURCE}, Eq. 14"),
        "pressure": Knockdown(0.75, f"{SOURCE}, 4.1.1.3"),
        "torsion": Knockdown(0.67, f"{SOURCE}, 4.1.1.4"),
    }
