"""Overlap joints by published theory: Volkersen (1938) for shear, Goland and Reissner (1944) for
the bending and peel of a single lap.

Forces are per width of joint, N/m. All arguments broadcast. Formulas from memory; the tests solve
their differential equations numerically as a check.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array, Quantity


def volkersen_rate(
    stretch_one: Quantity, stretch_two: Quantity, bond_shear: Quantity, bond_thickness: Quantity
) -> Quantity:
    """Decay rate w of the shear from the ends, 1/m: w^2 = (G/eta)(1/(E1 t1) + 1/(E2 t2)).

    Args:
        stretch_one, stretch_two: E t of the two pieces, N/m.
        bond_shear: shear modulus G of the bond, Pa; bond_thickness: eta, m.

    Source: Volkersen, O., Luftfahrtforschung 15 (1938).
    """
    return np.sqrt(bond_shear / bond_thickness * (1 / stretch_one + 1 / stretch_two))


def volkersen_shear(
    along: Quantity, force: Quantity, overlap: Quantity, stretch_one: Quantity,
    stretch_two: Quantity, bond_shear: Quantity, bond_thickness: Quantity,
) -> Array:
    """Shear stress in the bond at ``along`` (-overlap/2 where piece one is loaded, +overlap/2
    where piece two is), Pa.

    tau = N w/2 [cosh(w x)/sinh(w l/2) + k sinh(w x)/cosh(w l/2)], with
    k = (E1 t1 - E2 t2)/(E1 t1 + E2 t2). Stiff pieces give the mean, N/l:

    >>> tau = volkersen_shear(0.01, 2000.0, 0.02, 1e12, 1e12, 1e6, 1e-4)
    >>> round(float(tau) / (2000.0/0.02), 4)
    1.0

    Equal pieces have the published peak over mean (w l/2)/tanh(w l/2).
    Source: Volkersen (1938).
    """
    rate = volkersen_rate(stretch_one, stretch_two, bond_shear, bond_thickness)
    half = rate * np.asarray(overlap, dtype=float) / 2
    skew = (np.asarray(stretch_one, dtype=float) - stretch_two) / (stretch_one + stretch_two)
    x = np.asarray(along, dtype=float) * rate
    # Written with decaying exponentials, so that a long overlap does not overflow.
    near, far = np.exp(x - half), np.exp(-x - half)
    even = (near + far) / (1 - np.exp(-2 * half))
    odd = (near - far) / (1 + np.exp(-2 * half))
    return force * rate / 2 * (even + skew * odd)


def volkersen_peak(
    force: Quantity, overlap: Quantity, stretch_one: Quantity, stretch_two: Quantity,
    bond_shear: Quantity, bond_thickness: Quantity,
) -> Quantity:
    """Largest shear stress in the bond, at one of its two ends, Pa. Arguments as above.

    >>> w = volkersen_rate(5e6, 5e6, 1e8, 2e-4); half = w * 0.02 / 2
    >>> peak = volkersen_peak(1e4, 0.02, 5e6, 5e6, 1e8, 2e-4)
    >>> round(float(peak) / (1e4/0.02), 6) == round(float(half/np.tanh(half)), 6)
    True
    """
    rest = (force, overlap, stretch_one, stretch_two, bond_shear, bond_thickness)
    end = np.asarray(overlap, dtype=float) / 2
    return np.maximum(np.abs(volkersen_shear(-end, *rest)), np.abs(volkersen_shear(end, *rest)))


def volkersen_compliance(
    overlap: Quantity, stretch_one: Quantity, stretch_two: Quantity, bond_shear: Quantity,
    bond_thickness: Quantity,
) -> Quantity:
    """Extension of the overlap per line force, from the loaded end of piece one to that of piece
    two, m/(N/m).

    The slip at the loaded end of piece two plus the stretch of piece one over the overlap; the
    integral of Volkersen's (1938) distribution in closed form.
    """
    rate = volkersen_rate(stretch_one, stretch_two, bond_shear, bond_thickness)
    half = rate * np.asarray(overlap, dtype=float) / 2
    skew = (np.asarray(stretch_one, dtype=float) - stretch_two) / (stretch_one + stretch_two)
    end = volkersen_shear(np.asarray(overlap) / 2, 1.0, overlap, stretch_one, stretch_two,
                          bond_shear, bond_thickness)
    stretch = (overlap * (1 + skew) / 2 - skew * np.tanh(half) / rate) / stretch_one
    return end * bond_thickness / bond_shear + stretch


def moment_factor(
    force: Quantity, thickness: Quantity, modulus: Quantity, overlap: Quantity,
    poisson: Quantity = 1 / 3,
) -> Quantity:
    """Goland and Reissner's factor k on the edge moment N t/2 of a single lap.

    k = 1/(1 + 2 sqrt(2) tanh(u c)), u = sqrt(3 (1 - v^2) N/(2 E t^3)), c half the overlap. It
    falls from 1 (light load, short overlap) to the published 0.26 (heavy load, long overlap):

    >>> float(moment_factor(0.0, 1.0, 1.0, 1.0)), round(float(moment_factor(1e9, 1.0, 1.0, 1e3)), 4)
    (1.0, 0.2612)

    Source: Goland, M. and Reissner, E., J. Applied Mechanics 11 (1944) A17.
    """
    rate = np.sqrt(3 * (1 - poisson**2) / 2 * np.maximum(force, 0.0) / (modulus * thickness**3))
    return 1 / (1 + 2 * np.sqrt(2) * np.tanh(rate * np.asarray(overlap) / 2))


def goland_reissner_shear(
    force: Quantity, thickness: Quantity, modulus: Quantity, overlap: Quantity,
    bond_shear: Quantity, bond_thickness: Quantity, factor: Quantity = 1.0,
) -> Quantity:
    """Largest shear stress in the bond of a single lap of two equal pieces, Pa.

    N/(8 c) [(beta c/t)(1 + 3 k) coth(beta c/t) + 3 (1 - k)], beta^2 = 8 G t/(E eta), c half the
    overlap, k from `moment_factor`. Source: Goland and Reissner (1944), thin bond. A soft bond
    gives the mean, N/(2 c):

    >>> round(float(goland_reissner_shear(1000.0, 1e-3, 1e12, 0.02, 1e3, 1e-4, 0.6)))
    50000
    """
    half = np.asarray(overlap, dtype=float) / 2
    beta = np.sqrt(8 * bond_shear * thickness / (modulus * bond_thickness))
    reach = beta * half / thickness
    return force / (8 * half) * (reach * (1 + 3 * factor) / np.tanh(reach) + 3 * (1 - factor))


def edge_peel(
    moment: Quantity, shear: Quantity, thickness: Quantity, modulus: Quantity, overlap: Quantity,
    bond_modulus: Quantity, bond_thickness: Quantity,
) -> Quantity:
    """Largest peel stress in the bond of a lap from moment and shear at its edges, Pa.

    x^2 M0 (sinh 2l - sin 2l)/(sinh 2l + sin 2l) + x V0 (cosh 2l + cos 2l)/(sinh 2l + sin 2l)
    with x^4 = 6 E_bond/(eta E t^3), l = x c. Source: Goland and Reissner (1944), thin bond; their
    edge loads are M0 = k N t/2 and V0 = M0 sqrt(N/D). A long overlap is a beam end on an elastic
    bed, with x^2 M0 + x V0 (Hetenyi, Beams on Elastic Foundation, 1946).

    Args:
        moment: edge moment per width, N; shear: edge shear per width, N/m.
    """
    rate = (6 * bond_modulus / (bond_thickness * modulus * np.asarray(thickness) ** 3)) ** 0.25
    twice = np.minimum(rate * np.asarray(overlap, dtype=float), 300.0)
    below = np.sinh(twice) + np.sin(twice)
    return rate**2 * moment * (np.sinh(twice) - np.sin(twice)) / below + rate * shear * (
        np.cosh(twice) + np.cos(twice)
    ) / below


def single_lap(
    force: Quantity, thickness: Quantity, modulus: Quantity, overlap: Quantity,
    bond_modulus: Quantity, bond_shear: Quantity, bond_thickness: Quantity,
    poisson: Quantity = 1 / 3, extra_moment: Quantity = 0.0,
) -> tuple[Quantity, Quantity, Quantity]:
    """Peak shear, peak peel (Pa) and moment factor of a single lap in tension.

    ``extra_moment`` is a bending moment per width that the wall brings along, N.
    Source: Goland and Reissner (1944).
    """
    factor = moment_factor(force, thickness, modulus, overlap, poisson)
    shear = goland_reissner_shear(force, thickness, modulus, overlap, bond_shear, bond_thickness,
                                  factor)
    plate = modulus * np.asarray(thickness) ** 3 / (12 * (1 - poisson**2))
    moment = factor * force * thickness / 2
    peel = edge_peel(moment + extra_moment, moment * np.sqrt(np.maximum(force, 0.0) / plate),
                     thickness, modulus, overlap, bond_modulus, bond_thickness)
    return shear, peel, factor
