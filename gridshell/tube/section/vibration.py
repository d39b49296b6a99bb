"""First bending frequency of the tube: the exact Timoshenko beam.

Sections stay plane but need not stay square to the axis: the slope is bending plus shear, and
rotary inertia acts on the bending rotation alone. The characteristic equation of the cantilever is
that of T. C. Huang, J. Applied Mechanics 28 (1961) 579 (from memory), that of the free-free beam is
derived here; all are held to a Ritz solution of the same beam in the tests.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array, Quantity

_STEPS = 60  # Newton steps from below converge in 5 to 12


def _even(square: Array) -> tuple[Array, Array]:
    """cosh(a) and sinh(a)/a of a^2, which may be negative (cos and sin of its root)."""
    root = np.sqrt(np.abs(square))
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        cosine = np.where(square >= 0, np.cosh(root), np.cos(root))
        sine = np.where(
            root < 1e-4, 1 + square / 6,
            np.where(square >= 0, np.sinh(root), np.sin(root)) / np.where(root > 0, root, 1.0))
    return cosine, sine


def _characteristic(support: str, z: Array, shear: Array, rotary: Array) -> Array:
    """Characteristic function of z = m w^2 L^4/EI, whose lowest positive root is sought.

    Entire in z with real positive roots only, so Newton's steps from below the first never pass it.
    """
    spread = np.sqrt((z * (rotary - shear)) ** 2 + 4 * z)
    # Squares of the two wave numbers times L: cosh-like and cos-like.
    one = (-z * (rotary + shear) + spread) / 2
    two = (-z * (rotary + shear) - spread) / 2
    if support == "cantilever":
        c1, s1 = _even(one)
        c2, s2 = _even(two)
        return (2 + (z * (rotary - shear) ** 2 + 2) * c1 * c2
                - z * (rotary + shear) * s1 * s2)
    # Free-free, even about mid-length: no moment and no shear force at the end of one half.
    # w = A cosh(a x) + B cos(b x), and the bending rotation follows from Q' = -m w^2 w.
    c1, s1 = _even(one / 4)
    c2, s2 = _even(two / 4)
    answer: Array = ((one + shear * z) * c1 * s2 - (two + shear * z) * c2 * s1) / (2 * spread)
    return answer


def _first_root(support: str, shear: Array, rotary: Array) -> Array:
    """Lowest z > 0 of a cantilever or free-free beam."""
    # Flexibilities add to a lower bound (Southwell, Dunkerley): bending alone, and the shear beam
    # and the rotating sections alone.
    if support == "cantilever":
        z = 1 / (1 / 12.362 + 4 / np.pi**2 * (shear + rotary))
    else:
        z = 1 / (1 / 500.56 + (shear + rotary) / np.pi**2)
    for _ in range(_STEPS):
        step = 1e-6 * z
        here = _characteristic(support, z, shear, rotary)
        rise = (_characteristic(support, z + step, shear, rotary)
                - _characteristic(support, z - step, shear, rotary)) / (2 * step)
        moved = z - here / rise
        done = np.all(np.abs(moved - z) <= 1e-11 * z)
        z = np.where(np.isfinite(moved) & (moved > 0), moved, z)
        if done:
            break
    return z


def first_frequency(
    support: str, length: Quantity, EI: Quantity, GA: Quantity, *, line_mass: Quantity,
    rotary: Quantity,
) -> Quantity:
    """First bending frequency of a uniform tube, Hz.

    The exact Timoshenko beam; it says nothing of the section's ovaling, which lowers the frequency
    of tubes shorter than about two diameters.

    >>> euler = first_frequency("simply-supported", 1.0, 1.0, 1e12, line_mass=1.0, rotary=0.0)
    >>> round(float(euler) * 2 / np.pi, 6)  # (pi/L)^2/(2 pi) sqrt(EI/m)
    1.0

    Args:
        support: cantilever, simply-supported or free-free.
        length: m.
        EI: bending stiffness, N m2.
        GA: shear stiffness, N.
        line_mass: mass per length, kg/m.
        rotary: mass moment of inertia of the section about a diameter, per length, kg m.
    """
    shear = np.asarray(EI / (GA * length**2), dtype=float)
    turn = np.asarray(rotary / (line_mass * length**2), dtype=float)
    shear, turn = np.broadcast_arrays(shear, turn)
    if support == "simply-supported":
        # Both wave forms are sines: z^2 r s - z (1 + pi^2 (r + s)) + pi^4 = 0.
        middle = 1 + np.pi**2 * (shear + turn)
        z = 2 * np.pi**4 / (middle + np.sqrt(middle**2 - 4 * shear * turn * np.pi**4))
    else:
        z = _first_root(support, shear, turn)
    answer: Quantity = np.sqrt(z * EI / line_mass) / (2 * np.pi * length**2)
    return answer
