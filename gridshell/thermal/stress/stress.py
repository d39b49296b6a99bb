"""Thermal stress: law-like functions, tension positive, arrays broadcast.

Everything is elastic, with the modulus at the temperature of the moment. A soft polymer relaxes
part of such stress while it is warm, so these are upper bounds on the way down.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array, Quantity


def common_strain(free: Array, weight: Array) -> Array:
    """Strain that parts held together take: the mean of their free strains, by stiffness.

    Args:
        free: thermal strain of each part if it were alone (..., parts).
        weight: stiffness of each part (..., parts), any common unit.

    Returns:
        the strain (...): zero net force.

    >>> float(common_strain(np.array([0.0, -0.01]), np.array([1.0, 1.0])))
    -0.005
    """
    total = np.asarray(weight).sum(-1)
    return np.asarray((np.asarray(free) * weight).sum(-1) / total)


def tube_end_factor(poisson: Quantity) -> Array:
    """Stress at the free end of a tube over that far from it, for a gradient through its wall.

        1 - nu + sqrt((1 - nu^2)/3)

    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., Art. 118 (about 25 %
    more at the end for nu = 0.3).

    >>> print(f"{tube_end_factor(0.3):.2f}")
    1.25
    """
    nu = np.asarray(poisson, dtype=float)
    return np.asarray(1 - nu + np.sqrt((1 - nu**2) / 3))


def edge_length(radius: Quantity, thickness: Quantity, poisson: Quantity) -> Array:
    """Length 1/beta over which a disturbance at a tube's edge fades, m.

        beta^4 = 3 (1 - nu^2)/(r t)^2

    Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, 2nd ed., Art. 114.

    >>> print(f"{edge_length(1.0, 0.01, 0.3) / (1.0 * 0.01)**0.5:.3f}")
    0.778
    """
    root = np.sqrt(np.asarray(radius, dtype=float) * thickness)
    return np.asarray(root / (3 * (1 - np.asarray(poisson, dtype=float) ** 2)) ** 0.25)


def land_share(
    land_width: Quantity, land_depth: Quantity, thickness: Quantity, radius: Quantity,
    poisson: Quantity,
) -> Array:
    """How much of the difference between a land and the wall beside it the wall has to bear.

    The land is a ring of section width x depth; the wall answers to a radial push at its edge,
    its slope held, like a ring of section t/beta (from 4 beta^3 D = E t/(r^2 beta), the edge
    stiffness of a long tube: Theory of Plates and Shells, as in `edge_length`).

    Returns:
        0 (the wall wins) to 1 (the land is rigid).
    """
    land = np.asarray(land_width, dtype=float) * land_depth
    wall = thickness * edge_length(radius, thickness, poisson)
    return np.asarray(land / (land + wall))


def edge_stress_factor(poisson: Quantity) -> Array:
    """Largest stress in a wall held at its edge, over E times the strain it is held back by.

        sqrt(3/(1 - nu^2)) along the tube from bending, or 1 + nu times that round it

    A tube of radius r whose edge is held a radial distance r e from where it would be, its slope
    held: M = 2 beta^2 D r e. For nu = 0.3 the bending stress is 1.82 E e, the built-in edge of
    a pressure vessel in Theory of Plates and Shells, Art. 115.

    >>> print(f"{edge_stress_factor(0.3):.3f}")
    1.816
    """
    bending = np.sqrt(3 / (1 - np.asarray(poisson, dtype=float) ** 2))
    return np.asarray(np.maximum(bending, 1 + np.asarray(poisson) * bending))


def shrink_pressure(
    mismatch: Quantity, radius: Quantity, outer: Quantity, inner: Quantity, modulus: Quantity,
    poisson: Quantity, part_modulus: Quantity, part_poisson: Quantity,
) -> Array:
    """Pressure between a tube and a ring or disk inside it that is too large for it, Pa.

        p = mismatch / ( ((b^2 + a^2)/(b^2 - a^2) + nu)/E + ((a^2 + c^2)/(a^2 - c^2) - nu')/E' )

    Lame's thick tubes pressed together: Timoshenko, Strength of Materials, Part II, 3rd ed.,
    Art. 41. Never negative (the part comes loose).

    Args:
        mismatch: radial interference over radius a.
        radius: a, where they meet.
        outer: b, of the tube.
        inner: c, of the part (0: solid), m.
        modulus: of the tube.
        poisson: of the tube.
        part_modulus: of the part.
        part_poisson: of the part.

    >>> p = shrink_pressure(1e-3, 1.0, 2.0, 0.0, 1.0, 0.3, 1.0, 0.3)  # like and like, solid: k =
    >>> print(f"{p / 1e-3:.4f}")                                      # (b^2 - a^2)/(2 b^2) = 3/8
    0.3750
    """
    a, b, c = (np.asarray(v, dtype=float) for v in (radius, outer, inner))
    tube = ((b**2 + a**2) / (b**2 - a**2) + poisson) / modulus
    part = ((a**2 + c**2) / (a**2 - c**2) - part_poisson) / part_modulus
    return np.asarray(np.maximum(mismatch, 0.0) / (tube + part))


def bore_hoop_stress(pressure: Quantity, radius: Quantity, outer: Quantity) -> Array:
    """Hoop stress at the bore a of a tube (outer radius b) under inside pressure: Lame.

        sigma = p (b^2 + a^2)/(b^2 - a^2)

    >>> print(f"{bore_hoop_stress(3.0, 1.0, 2.0):.1f}")
    5.0
    """
    a, b = np.asarray(radius, dtype=float), np.asarray(outer, dtype=float)
    return np.asarray(pressure * (b**2 + a**2) / (b**2 - a**2))


def bonded_stress(
    mismatch: Quantity, modulus: Quantity, area: Quantity, part_modulus: Quantity,
    part_area: Quantity,
) -> Array:
    """Stress along a tube from a cord bonded along it that shrinks less, Pa.

    Two bars side by side that must keep the same length: sigma = E e E'A'/(E A + E'A').

    Args:
        mismatch: free strain of the cord less that of the tube.
    """
    held = np.asarray(part_modulus, dtype=float) * part_area
    return np.asarray(modulus * np.asarray(mismatch) * held / (modulus * area + held))
