"""Bending tests of beams: section properties, linear deflection with shear, corrections."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.material.coupon.elastica import load_parameter

FOUR_POINT_LIMIT = 0.05  # deflection over span; the elastica at 0.05 differs by 2.5 %


@dataclass(frozen=True)
class Section:
    """A beam's cross-section; numbers or arrays.

    Attributes:
        second_moment: I, m4.
        shear_area: effective area in shear, kappa A, m2; None leaves shear out.
        outer_fiber: distance of the outermost fiber from the neutral axis, m.
    """

    second_moment: Quantity
    shear_area: Quantity
    outer_fiber: Quantity


def rectangle(width: Quantity, depth: Quantity, poisson: Quantity) -> Section:
    """Solid rectangle, depth in the direction of the load.

    Source of the shear coefficient 10 (1 + nu)/(12 + 11 nu): G. R. Cowper, The Shear Coefficient
    in Timoshenko's Beam Theory, J. Appl. Mech. 33 (1966) 335-340.

    >>> round(float(rectangle(2.0, 3.0, 0.0).shear_area / 6.0), 4)  # 5/6 at nu = 0
    0.8333
    """
    coefficient = 10 * (1 + poisson) / (12 + 11 * poisson)
    return Section(width * depth**3 / 12, coefficient * width * depth, depth / 2)


def round_tube(outside_diameter: Quantity, wall: Quantity, poisson: Quantity) -> Section:
    """Round tube; a solid bar when the wall is half of the diameter.

    Shear coefficient with m = inside over outside radius:
    6 (1 + nu)(1 + m^2)^2 / ((7 + 6 nu)(1 + m^2)^2 + (20 + 12 nu) m^2).

    Source: Cowper (1966), hollow circle; 2 (1 + nu)/(4 + 3 nu) for a thin tube.

    >>> thin = round_tube(1.0, 1e-6, 0.3)
    >>> round(float(thin.shear_area / (np.pi * 1e-6)), 4), round(2 * 1.3 / 4.9, 4)
    (0.5306, 0.5306)
    """
    outer = np.asarray(outside_diameter, dtype=float) / 2
    inner = outer - wall
    square = (inner / outer) ** 2
    coefficient = 6 * (1 + poisson) * (1 + square) ** 2 / (
        (7 + 6 * poisson) * (1 + square) ** 2 + (20 + 12 * poisson) * square
    )
    area = np.pi * (outer**2 - inner**2)
    return Section(np.pi / 4 * (outer**4 - inner**4), coefficient * area, outer)


def deflection_factors(
    test: str, span: Quantity, load_span: Quantity = 0.0
) -> tuple[Array, Array]:
    """Linear beam theory: delta = bending * P L^3/(E I) + shear * P L/(G kappa A).

    Args:
        test: one of `BEND_TESTS`. P is the whole load; delta is under the load for three-point and
            cantilever, at mid-span for four-point.
        span: L, between supports, or the free length of the cantilever, m.
        load_span: distance between the two loads of four-point bending, m.
    Returns:
        the two factors.
    Source: Timoshenko and Gere, Mechanics of Materials, deflection tables of beams and shear
        deflection; the four-point factors give E = 0.21 and 0.17 L^3 m/(b d^3) of ASTM D6272 for
        load spans of a third and a half of the span:

    >>> [round(float(12 * deflection_factors("four-point", 1.0, s)[0]), 2) for s in (1/3, 0.5)]
    [0.21, 0.17]
    """
    span = np.asarray(span, dtype=float)
    if test == "cantilever":
        return np.full(span.shape, 1 / 3), np.ones(span.shape)
    arm = 0.5 * (1 - (load_span if test == "four-point" else 0.0) / span)
    return np.asarray(arm * (3 - 4 * arm**2) / 48), np.asarray(arm / 2)


def shear_ratio(
    test: str, span: Quantity, load_span: Quantity, section: Section, poisson: Quantity
) -> Array:
    """Shear deflection over bending deflection of an isotropic beam; E cancels with E/G.

    >>> bar = rectangle(0.01, 0.004, 0.0)  # Timoshenko and Gere: 12 f E I/(G A L^2), f = 6/5
    >>> round(float(shear_ratio("three-point", 0.064, 0.0, bar, 0.0)), 6)
    0.009375
    >>> round(12 * 1.2 * 2 * 0.004**2 / 12 / 0.064**2, 6)
    0.009375
    """
    if section.shear_area is None:
        return np.zeros(np.shape(span))
    bending, shear = deflection_factors(test, span, load_span)
    stiffness = 2 * (1 + poisson) * section.second_moment / section.shear_area
    return np.asarray(shear / bending * stiffness / np.asarray(span) ** 2)


def load_per_modulus(
    test: str, deflection: Quantity, span: Quantity, load_span: Quantity, section: Section,
    poisson: Quantity,
) -> tuple[Array, Array, Array]:
    """Load over modulus that bends the beam to a measured deflection, so that E = P / it.

    Shear is taken off the deflection first; the rest is bent by the exact elastica (three-point,
    cantilever) or by linear theory (four-point).

    Args:
        deflection: measured, m, any shape; the sign is kept.
        span, load_span, section, poisson: as above.
    Returns:
        P/E (m2, NaN beyond the elastica's range), the factor by which shear and the factor by
        which large deflection changed E against the plain formula.

    ISO 178 / ASTM D790, plain formula E = L^3 m/(4 b d^3), here with shear and elastica:

    >>> bar = rectangle(0.01, 0.004, 0.35)
    >>> per_modulus, shear, large = load_per_modulus("three-point", 1e-3, 0.064, 0, bar, 0.35)
    >>> round(float(shear), 3), round(float(large), 3)
    (1.012, 1.002)
    >>> plain = 1 / (4 * 0.01) * (0.064 / 0.004) ** 3 / 1e-3  # L^3 m/(4 b d^3) for P = 1 N
    >>> round(float(1 / per_modulus / plain), 3)
    1.015
    """
    span = np.asarray(span, dtype=float)
    measured = np.asarray(deflection, dtype=float)
    ratio = shear_ratio(test, span, load_span, section, poisson)
    bent = measured / (1 + ratio) / span
    if test == "four-point":
        linear = bent / deflection_factors(test, span, load_span)[0]
        parameter = linear
    else:
        size, linear = load_parameter(test, np.abs(bent))
        parameter, linear = np.sign(bent) * size, np.sign(bent) * linear
    with np.errstate(invalid="ignore", divide="ignore"):
        large = np.where(linear == 0, 1.0, linear / parameter)
    return parameter * section.second_moment / span**2, 1 + ratio, np.asarray(large)


def outer_strain(
    test: str, deflection: Quantity, span: Quantity, load_span: Quantity, section: Section
) -> Array:
    """Largest bending strain of linear theory: moment arm over the bending factor.

    >>> bar = rectangle(0.01, 0.004, 0.35)  # ISO 178: 6 d delta / L^2
    >>> strain = outer_strain("three-point", 1e-3, 0.064, 0.0, bar)
    >>> round(float(strain / (6 * 0.004 * 1e-3 / 0.064**2)), 6)
    1.0
    """
    span = np.asarray(span, dtype=float)
    bending, _ = deflection_factors(test, span, load_span)
    arm = 1.0 if test == "cantilever" else 0.25 * (
        1 - (load_span if test == "four-point" else 0.0) / span
    )
    return np.asarray(
        arm * np.abs(deflection) / bending * section.outer_fiber / span**2
    )
