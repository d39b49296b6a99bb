"""Overlap joints by published theory: Volkersen (1938) for shear, Goland and Reissner (1944) for
the bending and peel of a single lap.

Forces are per width of joint, N/m. All numbers broadcast. Formulas from memory; the tests solve
their differential equations numerically as a check.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity

# The pieces are beams there; the shorter the lap, the less peel the formula finds.
SHORT_LAP = "overlap shorter than the wall is thick: outside of the theory of laps"


@dataclass(frozen=True)
class Overlap:
    """Two pieces that pull on each other through a bond, in shear alone.

    Attributes:
        length: of the overlap, m.
        stretch_one: E t of the piece loaded at the near end, N/m (G t for shear along the joint).
        stretch_two: E t of the other piece, N/m.
        bond_shear: shear modulus of the bond, Pa.
        bond_thickness: of the bond, m.
    """

    length: Quantity
    stretch_one: Quantity
    stretch_two: Quantity
    bond_shear: Quantity
    bond_thickness: Quantity

    @property
    def rate(self) -> Quantity:
        """Decay rate w of the shear from the ends, 1/m: w^2 = (G/eta)(1/(E1 t1) + 1/(E2 t2)).

        Source: Volkersen, O., Luftfahrtforschung 15 (1938).
        """
        return np.sqrt(
            self.bond_shear / self.bond_thickness * (1 / self.stretch_one + 1 / self.stretch_two))

    @property
    def skew(self) -> Quantity:
        """How unequal the two pieces are: (E1 t1 - E2 t2)/(E1 t1 + E2 t2)."""
        return (self.stretch_one - self.stretch_two) / (self.stretch_one + self.stretch_two)


def volkersen_shear(lap: Overlap, force: Quantity, along: Quantity) -> Array:
    """Shear stress in the bond, Pa.

    tau = N w/2 [cosh(w x)/sinh(w l/2) + k sinh(w x)/cosh(w l/2)], k the skew of the pieces. Stiff
    pieces give the mean, N/l:

    >>> tau = volkersen_shear(Overlap(0.02, 1e12, 1e12, 1e6, 1e-4), 2000.0, 0.01)
    >>> round(float(tau) / (2000.0/0.02), 4)
    1.0

    Equal pieces have the published peak over mean (w l/2)/tanh(w l/2).
    Source: Volkersen (1938).

    Args:
        lap: the joint.
        force: pull per width, N/m.
        along: place in the overlap, m: -length/2 where piece one is loaded, +length/2 where piece
            two is.
    """
    half = lap.rate * np.asarray(lap.length, dtype=float) / 2
    x = np.asarray(along, dtype=float) * lap.rate
    # Written with decaying exponentials, so that a long overlap does not overflow.
    near, far = np.exp(x - half), np.exp(-x - half)
    even = (near + far) / (1 - np.exp(-2 * half))
    odd = (near - far) / (1 + np.exp(-2 * half))
    return np.asarray(force * lap.rate / 2 * (even + lap.skew * odd))


def volkersen_peak(lap: Overlap, force: Quantity) -> Quantity:
    """Largest shear stress in the bond, at one of its two ends, Pa.

    Args:
        lap: the joint.
        force: pull per width, N/m.

    >>> lap = Overlap(0.02, 5e6, 5e6, 1e8, 2e-4); half = lap.rate * 0.02 / 2
    >>> bool(np.isclose(volkersen_peak(lap, 1e4) / (1e4/0.02), half/np.tanh(half)))
    True
    """
    end = np.asarray(lap.length, dtype=float) / 2
    return np.maximum(
        np.abs(volkersen_shear(lap, force, -end)), np.abs(volkersen_shear(lap, force, end)))


def volkersen_compliance(lap: Overlap) -> Quantity:
    """Extension of the overlap per line force, m/(N/m).

    From the loaded end of piece one to that of piece two: the slip at the loaded end of piece two
    plus the stretch of piece one over the overlap; the integral of Volkersen's (1938) distribution
    in closed form."""
    half = lap.rate * np.asarray(lap.length, dtype=float) / 2
    end = volkersen_shear(lap, 1.0, np.asarray(lap.length) / 2)
    stretch = (
        lap.length * (1 + lap.skew) / 2 - lap.skew * np.tanh(half) / lap.rate) / lap.stretch_one
    return end * lap.bond_thickness / lap.bond_shear + stretch


@dataclass(frozen=True)
class SingleLap:
    """Two equal pieces that overlap on one side, with the bending that this brings.

    Attributes:
        thickness: of each piece, m.
        modulus: of the pieces, Pa.
        length: of the overlap, m.
        bond_modulus: of the bond, Pa.
        bond_shear: shear modulus of the bond, Pa.
        bond_thickness: of the bond, m.
        poisson: of the pieces.
    """

    thickness: Quantity
    modulus: Quantity
    length: Quantity
    bond_modulus: Quantity
    bond_shear: Quantity
    bond_thickness: Quantity
    poisson: Quantity = 1 / 3


def moment_factor(lap: SingleLap, force: Quantity) -> Quantity:
    """Goland and Reissner's factor k on the edge moment N t/2 of a single lap.

    k = 1/(1 + 2 sqrt(2) tanh(u c)), u = sqrt(3 (1 - v^2) N/(2 E t^3)), c half the overlap. It
    falls from 1 (light load, short overlap) to the published 0.26 (heavy load, long overlap):

    >>> light, heavy = SingleLap(1.0, 1.0, 1.0, 1, 1, 1), SingleLap(1.0, 1.0, 1e3, 1, 1, 1)
    >>> float(moment_factor(light, 0.0)), round(float(moment_factor(heavy, 1e9)), 4)
    (1.0, 0.2612)

    Source: Goland, M. and Reissner, E., J. Applied Mechanics 11 (1944) A17.

    Args:
        lap: the joint.
        force: pull per width, N/m.
    """
    rate = np.sqrt(
        3 * (1 - lap.poisson**2) / 2 * np.maximum(force, 0.0)
        / (lap.modulus * lap.thickness**2 * lap.thickness))
    answer: Quantity = 1 / (1 + 2 * np.sqrt(2) * np.tanh(rate * np.asarray(lap.length) / 2))
    return answer


def goland_reissner_shear(lap: SingleLap, force: Quantity, factor: Quantity = 1.0) -> Quantity:
    """Largest shear stress in the bond of a single lap, Pa.

    N/(8 c) [(beta c/t)(1 + 3 k) coth(beta c/t) + 3 (1 - k)], beta^2 = 8 G t/(E eta), c half the
    overlap. Source: Goland and Reissner (1944), thin bond. A soft bond gives the mean, N/(2 c):

    >>> soft = SingleLap(1e-3, 1e12, 0.02, 1e3, 1e3, 1e-4)
    >>> round(float(goland_reissner_shear(soft, 1000.0, 0.6)))
    50000

    Args:
        lap: the joint.
        force: pull per width, N/m.
        factor: k of `moment_factor`.
    """
    half = np.asarray(lap.length, dtype=float) / 2
    beta = np.sqrt(8 * lap.bond_shear * lap.thickness / (lap.modulus * lap.bond_thickness))
    reach = beta * half / lap.thickness
    return force / (8 * half) * (reach * (1 + 3 * factor) / np.tanh(reach) + 3 * (1 - factor))


def edge_peel(lap: SingleLap, moment: Quantity, shear: Quantity) -> Quantity:
    """Largest peel stress in the bond of a lap from moment and shear at its edges, Pa.

    x^2 M0 (sinh 2l - sin 2l)/(sinh 2l + sin 2l) + x V0 (cosh 2l + cos 2l)/(sinh 2l + sin 2l)
    with x^4 = 6 E_bond/(eta E t^3), l = x c. Source: Goland and Reissner (1944), thin bond; their
    edge loads are M0 = k N t/2 and V0 = M0 sqrt(N/D). A long overlap is a beam end on an elastic
    bed, with x^2 M0 + x V0 (Hetenyi, Beams on Elastic Foundation, 1946).

    Args:
        lap: the joint.
        moment: edge moment per width, N.
        shear: edge shear per width, N/m.
    """
    rate = (6 * lap.bond_modulus
            / (lap.bond_thickness * lap.modulus * np.asarray(lap.thickness) ** 3)) ** 0.25
    twice = np.minimum(rate * np.asarray(lap.length, dtype=float), 300.0)
    below = np.sinh(twice) + np.sin(twice)
    by_moment = rate**2 * moment * (np.sinh(twice) - np.sin(twice)) / below
    by_shear = rate * shear * (np.cosh(twice) + np.cos(twice)) / below
    answer: Quantity = by_moment + by_shear
    return answer


def single_lap(
    lap: SingleLap, force: Quantity, extra_moment: Quantity = 0.0
) -> tuple[Quantity, Quantity, Quantity]:
    """Peak shear (Pa), peak peel (Pa) and moment factor of a single lap in tension.

    Source: Goland and Reissner (1944).

    Args:
        lap: the joint.
        force: pull per width, N/m.
        extra_moment: bending moment per width that the wall brings along, N.
    """
    factor = moment_factor(lap, force)
    shear = goland_reissner_shear(lap, force, factor)
    plate = lap.modulus * np.asarray(lap.thickness) ** 3 / (12 * (1 - lap.poisson**2))
    moment = factor * force * lap.thickness / 2
    peel = edge_peel(
        lap, moment + extra_moment, moment * np.sqrt(np.maximum(force, 0.0) / plate))
    return shear, peel, factor
