"""First bending frequency of the tube: the exact Timoshenko beam.

Sections stay plane but need not stay square to the axis: the slope is bending plus shear, and
rotary inertia acts on the bending rotation alone. The characteristic equation of the cantilever is
that of T. C. Huang, J. Applied Mechanics 28 (1961) 579 (from memory), that of the free-free beam is
derived here; all are held to a Ritz solution of the same beam in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from gridshell.define.compiling import everywhere, for_many, formula, where
from gridshell.define.constants import SUPPORTS
from gridshell.define.types import Quantity
from gridshell.tube.section.column import JointSprings

_STEPS = 60  # Newton steps from below converge in 4 to 11
_CLOSE = 1e-7  # share that the last step moves: it leaves about the square of that


@formula
def _rising(square: Quantity) -> tuple[Quantity, Quantity, Quantity]:
    """cosh(a), s = sinh(a)/a and ds/d(a^2) of a^2, which may be negative (cos and sin of its root).

    d cosh(a)/d(a^2) is s/2.
    """
    root = np.sqrt(np.abs(square))
    grows, small = square >= 0, root < 1e-2
    up = np.exp(root)
    cosine = where(grows, (up + 1 / up) / 2, np.cos(root))
    sine = where(
        small, 1 + square / 6 + square * square / 120,
        where(grows, (up - 1 / up) / 2, np.sin(root)) / where(small, 1.0, root))
    slope = where(
        small, 1 / 6 + square / 60, (cosine - sine) / (2 * where(small, 1.0, square)))
    return cosine, sine, slope


@formula
def _squares(
    z: Quantity, shear: Quantity, rotary: Quantity
) -> tuple[Quantity, Quantity, Quantity, Quantity, Quantity]:
    """Squares of the two wave numbers times L, cosh-like and cos-like, their slopes over z, and
    their difference."""
    spread = np.sqrt((z * (rotary - shear)) ** 2 + 4 * z)
    rise = (z * (rotary - shear) ** 2 + 2) / spread
    sum_ = rotary + shear
    return (-z * sum_ + spread) / 2, (-z * sum_ - spread) / 2, (rise - sum_) / 2, (
        -rise - sum_) / 2, spread


@for_many()
def cantilever_root(shear: Quantity, rotary: Quantity) -> Quantity:
    """Lowest z = m w^2 L^4/EI of a cantilever.

    The characteristic function is entire in z with real positive roots only, so Newton's steps from
    below the first never pass it.

    Args:
        shear: EI/(GA L^2).
        rotary: rotary inertia per length over m L^2.

    >>> round(float(cantilever_root(0.0, 0.0)) ** 0.25, 6)  # 1.875104 of the slender beam
    1.875104
    """
    # Flexibilities add to a lower bound (Southwell, Dunkerley): bending alone, and the shear beam
    # and the rotating sections alone.
    z = 1 / (1 / 12.362 + 4 / np.pi**2 * (shear + rotary))
    apart, both = (rotary - shear) ** 2, rotary + shear
    for _ in range(_STEPS):
        one, two, rise_1, rise_2, _ = _squares(z, shear, rotary)
        c1, s1, t1 = _rising(one)
        c2, s2, t2 = _rising(two)
        here = 2 + (z * apart + 2) * c1 * c2 - z * both * s1 * s2
        rise = (
            apart * c1 * c2 + (z * apart + 2) * (s1 * rise_1 * c2 + c1 * s2 * rise_2) / 2
            - both * s1 * s2 - z * both * (t1 * rise_1 * s2 + s1 * t2 * rise_2)
        )
        moved = z - here / rise
        done = everywhere(np.abs(moved - z) <= _CLOSE * z)
        z = where(np.isfinite(moved) & (moved > 0), moved, z)
        if done:
            break
    return z


@for_many()
def free_root(shear: Quantity, rotary: Quantity) -> Quantity:
    """The same of a free-free beam, even about mid-length: no moment and no shear force at the end
    of one half.

    w = A cosh(a x) + B cos(b x), and the bending rotation follows from Q' = -m w^2 w.

    Args:
        shear: EI/(GA L^2).
        rotary: rotary inertia per length over m L^2.

    >>> round(float(free_root(0.0, 0.0)) ** 0.25, 6)  # 4.730041 of the slender beam
    4.730041
    """
    z = 1 / (1 / 500.56 + (shear + rotary) / np.pi**2)
    for _ in range(_STEPS):
        one, two, rise_1, rise_2, spread = _squares(z, shear, rotary)
        c1, s1, t1 = _rising(one / 4)
        c2, s2, t2 = _rising(two / 4)
        first, second = one + shear * z, two + shear * z
        here = (first * c1 * s2 - second * c2 * s1) / (2 * spread)
        # The slope of 1/(2 spread) is left to the end: quotient rule.
        top = (
            (rise_1 + shear) * c1 * s2 + first * (s1 * rise_1 / 8 * s2 + c1 * t2 * rise_2 / 4)
            - (rise_2 + shear) * c2 * s1 - second * (s2 * rise_2 / 8 * s1 + c2 * t1 * rise_1 / 4)
        )
        rise = top / (2 * spread) - here * (rise_1 - rise_2) / spread
        moved = z - here / rise
        done = everywhere(np.abs(moved - z) <= _CLOSE * z)
        z = where(np.isfinite(moved) & (moved > 0), moved, z)
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
        z = cantilever_root(shear, turn) if support == "cantilever" else free_root(shear, turn)
    answer: Quantity = np.sqrt(z * EI / line_mass) / (2 * np.pi * length**2)
    return answer


def jointed_share(
    support: str, length: Quantity, EI: Quantity, joints: JointSprings
) -> Quantity:
    """What joints that turn between sections leave of the first bending frequency.

    Rayleigh's quotient by forces: the moment of the slender beam's own mode turns each joint too,
    1/f^2 grows by c EI/L times the sum of the squared moments there over their mean square. Within
    2 % of two rigid halves on a soft hinge, the farthest from it.

    Args:
        support: cantilever, simply-supported or free-free.
        length: m.
        EI: bending stiffness, N m2.
        joints: between the sections.

    >>> round(float(jointed_share("simply-supported", 1.0, 1.0, JointSprings(0.1, 1))) ** -2, 9)
    1.2
    """
    share: Quantity = 1.0
    if joints.count:
        s = joints.places
        if support == "simply-supported":
            moment = np.sqrt(2.0) * np.sin(np.pi * s)
        else:
            # Curvature of the clamped mode is the free mode turned round: mean squares are 1.
            b, sign = (1.875104068711961, 1.0) if support == "cantilever" else (
                4.730040744862704, -1.0)
            lean = (np.cosh(b) + sign * np.cos(b)) / (np.sinh(b) + sign * np.sin(b))
            moment = (np.cosh(b * s) + sign * np.cos(b * s)
                      - lean * (np.sinh(b * s) + sign * np.sin(b * s)))
        share = 1 / np.sqrt(1 + joints.flexibility * EI / length * np.sum(moment**2))
    return share


@dataclass(frozen=True)
class VibratingTube:
    """What the bending frequencies of a tube follow from, one or many; found when asked for.

    Attributes:
        length: m.
        EI: short-time bending stiffness, N m2.
        GA: short-time shear stiffness, N.
        line_mass: mass per length, kg/m.
        rotary: mass moment of inertia of the section about a diameter, per length, kg m.
        joints: between the sections.
    """

    length: Quantity
    EI: Quantity
    GA: Quantity
    line_mass: Quantity
    rotary: Quantity
    joints: JointSprings

    @cached_property
    def frequencies(self) -> dict[str, Quantity]:
        """First bending frequency of each support, Hz."""
        return {
            support: first_frequency(
                support, self.length, self.EI, self.GA, line_mass=self.line_mass,
                rotary=self.rotary,
            ) * jointed_share(support, self.length, self.EI, self.joints)
            for support in SUPPORTS
        }
