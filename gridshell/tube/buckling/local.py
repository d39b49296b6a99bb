"""Local buckling: skin pockets between ribs, and the ribs themselves."""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.wall.stress import principal

# Constants of NASA CR-124075, Isogrid Design Handbook, section 4.2 (for v = 1/3), scaled to other
# Poisson ratios by the plate factor 1/(1 - v^2).
HANDBOOK_POISSON = 1.0 / 3.0
SKIN_CONSTANT = 10.2
RIB_CONSTANT = 0.616


def _plate(modulus: Quantity, poisson: Quantity) -> Quantity:
    return modulus * (1 - HANDBOOK_POISSON**2) / (1 - poisson**2)


def triangle_stress(
    modulus: Quantity, poisson: Quantity, thickness: Quantity, height: Quantity
) -> Quantity:
    """Skin stress at which triangular pockets buckle in uniaxial compression, Pa.

    sigma = 10.2 E (t/h)^2 at v = 1/3: the skin share of N2 = 10.2 E t (1 + alpha) t^2/h^2,
    NASA CR-124075, Isogrid Design Handbook, 4.2 (form from memory).

    Args:
        modulus: Pa. thickness: of the skin, m. height: of the triangle between rib center
            lines, m.
    """
    return SKIN_CONSTANT * _plate(modulus, poisson) * (thickness / height) ** 2


def rib_stress(
    modulus: Quantity, poisson: Quantity, width: Quantity, height: Quantity
) -> Quantity:
    """Stress at which a rib cripples as a plate with one free edge, Pa.

    sigma = 0.616 E (b/d)^2 at v = 1/3: the rib share of N3 = 0.616 E t (1 + alpha) b^2/d^2,
    NASA CR-124075, Isogrid Design Handbook, 4.2 (form from memory).

    Args:
        width: b, mean width of the rib, m. height: d, m.
    """
    return RIB_CONSTANT * _plate(modulus, poisson) * (width / height) ** 2


def held_triangle_stress(
    modulus: Quantity, poisson: Quantity, thickness: Quantity, height: Quantity,
    rib_torsion: Quantity,
) -> Quantity:
    """The same for a pocket whose edges turn against the torsion of its ribs, Pa.

    sigma = c E (t/h)^2 at v = 1/3, c = 6.86 + 11.0 x/(x + 1.08), x = (GJ/2)/(D h): from edges free
    to turn to clamped ones, half of each rib for each of its two pockets. Fitted from below
    (within 2.5 %) to the plate eigenproblem of `gridshell.proof.plates.pocket`; 10.2 of the
    handbook is x = 0.47.

    Args:
        thickness, height: as above, m. rib_torsion: torsion constant of one rib, m4.

    >>> unit = {"modulus": 1.0, "poisson": 1 / 3, "thickness": 1.0, "height": 1.0}
    >>> round(float(held_triangle_stress(rib_torsion=0.0, **unit)), 2)
    6.86
    """
    # G J/2 over D h: E cancels.
    twist = rib_torsion * 3 * (1 - poisson) / (thickness**3 * height)
    constant = 6.86 + 11.0 * twist / (twist + 1.08)
    return constant * _plate(modulus, poisson) * (thickness / height) ** 2


def held_rib_stress(
    modulus: Quantity, poisson: Quantity, width: Quantity, height: Quantity, length: Quantity,
    thickness: Quantity, pocket: Quantity,
) -> Quantity:
    """Crippling stress of a rib whose foot turns against the bending of the skin, Pa.

    sigma = c E (b/d)^2 at v = 1/3, least over the half waves m of l = a/m, with B = l/d:
    c = 0.561 (1 - v) + 0.9/B^2 + 1/(1/(0.0285 s B^2) + 1/(0.154 + 0.1156 B^2)), s = k d/D the
    spring of the foot: hinged foot (Timoshenko and Gere, Theory of Elastic Stability, 9.4),
    Rayleigh's quotient for a soft spring, clamped foot for a stiff one. Skin on both sides, its
    far edges turning the same way: k = 12 D_skin/h. Within 5 % of the plate eigenproblem of
    `gridshell.proof.plates.pocket`.

    Args:
        width: b, mean width, m. height: d, m. length: a, from node to node, m.
        thickness: of the skin, m. pocket: width h of the pockets beside it, m.
    """
    spring = 12 * thickness**3 / pocket * height / width**3
    constant: Quantity = np.inf
    for waves in range(1, 9):
        wave = (length / (waves * height)) ** 2  # B squared
        soft = 0.0285 * spring * wave
        clamped = 0.154 + 0.1156 * wave
        constant = np.minimum(
            constant,
            0.561 * (1 - poisson) + 0.9 / wave + soft * clamped / (soft + clamped),
        )
    return constant * _plate(modulus, poisson) * (width / height) ** 2


def triangle_ratio(stress: Array, allowable: Quantity) -> Quantity:
    """Share of the pocket's buckling strength used by a stress state (compression only).

    The first mode of an equilateral triangle is the same in every direction, so both principal
    compressions count alike: (s1 + s2)/s_cr. Tension across is not credited.

    Args:
        stress: skin stress (..., 3), tension positive. allowable: uniaxial, Pa.
    """
    larger, smaller = principal(stress)
    return (np.maximum(-larger, 0.0) + np.maximum(-smaller, 0.0)) / allowable


def rectangle_ratio(
    stress: Array,
    modulus: Quantity,
    poisson: Quantity,
    thickness: Quantity,
    length: Quantity,
    width: Quantity,
) -> Quantity:
    """Share of the buckling strength of a simply supported rectangle used by a stress state.

    Biaxial compression: sx (m/a)^2 + sy (n/b)^2 = pi^2 D/t [(m/a)^2 + (n/b)^2]^2, least over the
    half waves m, n (Timoshenko and Gere, Theory of Elastic Stability, 9.3); shear: k =
    5.34 + 4 (short/long)^2 (9.7, rounded); together Rc + Rs^2 = 1 (trade rule, from memory).

    Args:
        stress: skin stress (..., 3), tension positive.
        length: axial side a, m. width: hoop side b, m.
    """
    bending = modulus * thickness**2 / (12 * (1 - poisson**2)) * np.pi**2
    along = np.maximum(-stress[..., 0], 0.0)
    across = np.maximum(-stress[..., 1], 0.0)
    worst: Quantity = 0.0
    # With one half wave across, the ratio is largest at (m/a)^2 = (1 - 2 sy/sx)/b^2, so the whole
    # numbers on either side of it hold the worst wave; likewise along.
    for first, other, near, far in (
        (along, across, length, width), (across, along, width, length)
    ):
        with np.errstate(divide="ignore", invalid="ignore"):
            share = np.where(first > 0, 1 - 2 * other / first, 0.0)
        best = near / far * np.sqrt(np.maximum(share, 0.0))
        for waves in (np.maximum(np.floor(best), 1.0), np.maximum(np.ceil(best), 1.0)):
            x, y = (waves / near) ** 2, 1 / far**2
            worst = np.maximum(worst, (first * x + other * y) / (bending * (x + y) ** 2))
    short, long = np.minimum(length, width), np.maximum(length, width)
    shear_strength = (5.34 + 4 * (short / long) ** 2) * bending / short**2
    shear = np.abs(stress[..., 2]) / shear_strength
    return (worst + np.sqrt(worst**2 + 4 * shear**2)) / 2


def strip_ratio(
    stress: Array, modulus: Quantity, poisson: Quantity, thickness: Quantity, width: Quantity,
    crossed: bool = True,
) -> Quantity:
    """The same for a long simply supported strip along the largest compression (k = 4).

    Used for rhombic and unnamed pockets, whose real strength is higher. A strip that no other
    ribs cross may be loaded across its width by the largest compression: k = 1.
    """
    bending = modulus * thickness**2 / (12 * (1 - poisson**2)) * np.pi**2
    larger, smaller = principal(stress)
    # Compression along the strip buckles it at k = 4; compression across it at k = 1.
    share = 4 if crossed else 1
    return np.maximum(-smaller, 0.0) / (share * bending / width**2) + np.maximum(
        -larger, 0.0
    ) / (bending / width**2)


def ovalization_moment(
    axial: Quantity, hoop_bending: Quantity, radius: Quantity
) -> Quantity:
    """Bending moment at which a long tube flattens and collapses, N m.

    M = (2 sqrt(2) pi/9) R sqrt(12 K D), K the axial stiffness of the wall free to contract, D its
    hoop bending stiffness: Brazier's derivation with both kept apart. Plain wall:
    0.987 E R t^2/sqrt(1 - v^2), NASA/SP-8007-2020/REV 2, Eq. 16.

    Args:
        axial: K = A11 - A12^2/A22, N/m. hoop_bending: D, N m. radius: m.

    >>> K, D = 1.0, 1 / (12 * (1 - 0.3**2))  # E = t = 1
    >>> round(float(ovalization_moment(K, D, 1.0)) * (1 - 0.3**2) ** 0.5, 3)
    0.987
    """
    return 2 * np.sqrt(2.0) * np.pi / 9 * radius * np.sqrt(12 * axial * hoop_bending)
