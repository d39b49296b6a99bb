"""Local buckling: skin pockets between ribs, and the ribs themselves."""

from __future__ import annotations

import numpy as np

from gridshell.define.compiling import for_many, formula
from gridshell.define.types import Array, Quantity
from gridshell.wall.stress import principal

# Constants of NASA CR-124075, Isogrid Design Handbook, section 4.2 (for v = 1/3), scaled to other
# Poisson ratios by the plate factor 1/(1 - v^2).
HANDBOOK_POISSON = 1.0 / 3.0
SKIN_CONSTANT = 10.2
RIB_CONSTANT = 0.616


@formula
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


Held = tuple[Quantity, Quantity, Quantity]
"""A plate whose edge turns: its buckling stress with the edge hinged and clamped, Pa, and its
stiffness against a turn of the edge without load, N m per m."""


@formula
def flange(
    modulus: Quantity, poisson: Quantity, width: Quantity, height: Quantity, wave: Quantity
) -> Held:
    """A rib that cripples in one half wave, by how its foot is held.

    sigma = c E (b/d)^2 at v = 1/3 with B = l/d: c = 0.561 (1 - v) + 0.9/B^2 hinged (Timoshenko and
    Gere, Theory of Elastic Stability, 9.4); 0.154 + 0.1156 B^2 more when clamped, fitted to the
    same plate. Stiffness: that of a rigid turn, less what the rib bends.

    Args:
        modulus: Pa.
        poisson: of the material.
        width: b, mean width, m.
        height: d, m.
        wave: l, length of the half wave along the rib, m.
    """
    unit = _plate(modulus, poisson) * (width / height) ** 2
    square = (wave / height) ** 2
    hinged = unit * (0.561 * (1 - poisson) + 0.9 / square)
    turn = hinged * width * (np.pi / wave) ** 2 * height**3 / 3
    return hinged, hinged + unit * (0.154 + 0.1156 * square), 0.7 * turn / (1 + 1 / square)


@formula
def pair_stress(skin: Held, rib: Held) -> Quantity:
    """Stress at which two plates buckle together that share an edge and turn with it, Pa.

    Each plate resists a turn of the edge with s (1 - sigma/hinged)/(1 - sigma/clamped): nothing at
    its buckling stress with a hinged edge, and, as a plate pushed past it by its neighbor, less
    than nothing. The sum vanishes: a quadratic, of which the lower root is below both clamped
    stresses.

    Args:
        skin: one plate.
        rib: the other.
    """
    (h1, c1, s1), (h2, c2, s2) = skin, rib
    a = s1 / (h1 * c2) + s2 / (h2 * c1)
    b = s1 * (1 / h1 + 1 / c2) + s2 * (1 / h2 + 1 / c1)
    c = s1 + s2
    return 2 * c / (b + np.sqrt(np.maximum(b * b - 4 * a * c, 0.0)))


def held_triangle_stress(
    modulus: Quantity, poisson: Quantity, thickness: Quantity, height: Quantity,
    rib_torsion: Quantity, rib: tuple[Quantity, Quantity] = (np.inf, np.inf),
) -> Quantity:
    """Skin stress at which triangular pockets and the ribs round them buckle together, Pa.

    sigma = c E (t/h)^2 at v = 1/3, c = 6.86 + 11.0 x/(x + 1.08), x = (GJ/2)/(D h): from edges free
    to turn to clamped ones, half of each rib for each of its two pockets. Fitted from below
    (within 2.5 %) to the plate eigenproblem of `gridshell.proof.plates.pocket`; 10.2 of the
    handbook is x = 0.47. A rib that is compressed too holds less, or pushes: see `pair_stress`,
    which is this c for a rib without load.

    Args:
        modulus: Pa.
        poisson: of the material.
        thickness: of the skin, m.
        height: of the triangle between rib center lines, m.
        rib_torsion: torsion constant of one rib, m4.
        rib: crippling stress of the rib with its foot hinged and clamped, Pa (`flange`);
            infinite: a rib without load.

    >>> unit = {"modulus": 1.0, "poisson": 1 / 3, "thickness": 1.0, "height": 1.0}
    >>> round(float(held_triangle_stress(rib_torsion=0.0, **unit)), 2)
    6.86
    """
    # G J/2 over D h: E cancels.
    twist = rib_torsion * 3 * (1 - poisson) / (thickness**3 * height)
    unit = _plate(modulus, poisson) * (thickness / height) ** 2
    free, clamped = 6.86, 17.86
    return pair_stress(
        (free * unit, clamped * unit, 1.0), (*rib, twist * clamped / (1.08 * free)))


PAIR_FACTOR = 0.95  # the closed form is 4.5 % above the exact strips at most: so never above


@for_many()
def held_rib_stress(
    modulus: Quantity, poisson: Quantity, width: Quantity, height: Quantity, length: Quantity,
    thickness: Quantity, pocket: Quantity,
) -> Quantity:
    """Stress at which a rib and the pockets beside it buckle together under equal stress, Pa.

    Long strips of skin between ribs that stand on it, their edges on line, neighboring ribs turning
    opposite ways. Skin, mu = pi/l: hinged D (mu + pi^2/(h^2 mu))^2/t, clamped
    D (mu^2 + 24/h^2 + 504/(h^4 mu^2))/t (Rayleigh, k = 6.98 against 6.97 exact), stiffness of both
    sides 4 D mu cosh^2 c/(sinh c cosh c + c), c = mu h/2, written in e = exp(-2 c). Rib: `flange`.
    Together by `pair_stress`, least over half waves: those that fit between the nodes and those
    that pocket and rib would choose. 0 to 10 % below the exact strips (tests).

    Args:
        modulus: Pa.
        poisson: of the material.
        width: b, mean width of the rib, m.
        height: d, m.
        length: a, from node to node, m.
        thickness: t of the skin, m.
        pocket: h, from rib to rib, m.
    """
    bending = modulus / (12 * (1 - poisson**2)) * thickness**3
    lowest: Quantity = np.inf
    for wave in (
        length, length / 2, length / 3, length / 4,
        np.minimum(length, 0.6 * pocket), np.minimum(length, 0.8 * pocket),
        np.minimum(length, pocket), np.minimum(length, 1.3 * pocket),
        np.minimum(length, 1.2 * height), np.minimum(length, 1.6 * height),
        np.minimum(length, 2.2 * height), np.minimum(length, 3.2 * height),
    ):
        mu = np.pi / wave
        c = mu * pocket / 2
        e = np.exp(-2 * c)
        skin = (
            bending / thickness * (mu + np.pi**2 / (pocket**2 * mu)) ** 2,
            bending / thickness * (mu**2 + 24 / pocket**2 + 504 / (pocket**4 * mu**2)),
            4 * bending * mu * (1 + e) ** 2 / (1 - e * e + 4 * c * e),
        )
        rib = flange(modulus, poisson, width, height, wave)
        lowest = np.minimum(lowest, pair_stress(skin, rib))
    return PAIR_FACTOR * lowest


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
    answer: Quantity = (worst + np.sqrt(worst**2 + 4 * shear**2)) / 2
    return answer


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
    answer: Quantity = 2 * np.sqrt(2.0) * np.pi / 9 * radius * np.sqrt(12 * axial * hoop_bending)
    return answer
