"""Large deflection of slender beams: the exact elastica, solved for the load from the deflection.

The shape is a function of one angle, so no load has to be guessed: the measured deflection gives
the angle, the angle gives the load parameter P L^2 / (E I), and that gives E.
"""

from __future__ import annotations

import functools
from typing import Any

import numpy as np

from gridshell.define.types import Array, Quantity

_ANGLES = 2001  # knots of the inversion; checked against a ten times finer one in the tests


def cantilever_elastica(tip_angle: Quantity) -> tuple[Array, Array]:
    """Cantilever with a dead load across its tip: load and deflection from the tip's slope.

    With 2 k^2 = 1 + sin(phi) and sin(theta1) = 1/(k sqrt 2):

        sqrt(P L^2/EI) = K(k) - F(theta1, k),
        delta/L = 1 - 2 (E(k) - E(theta1, k)) / sqrt(P L^2/EI).

    Args:
        tip_angle: phi, slope at the tip, rad, above 0 and below pi/2; any shape.
    Returns:
        P L^2/(E I) and delta/L.
    Source: K. E. Bisshopp and D. C. Drucker, Large Deflection of Cantilever Beams, Quarterly of
        Applied Mathematics 3 (1945) 272-275.

    For P L^2/(E I) = 1 the deflection is 0.30172 L (elliptic integrals tabulated by
    K. Mattiasson, Int. J. Numer. Meth. Eng. 17 (1981) 145-153; value from memory):

    >>> load, deflection = cantilever_elastica(0.461352)
    >>> round(float(load), 4), round(float(deflection), 4)
    (1.0, 0.3017)
    """
    from scipy.special import ellipe, ellipeinc, ellipk, ellipkinc

    sine = np.sin(np.asarray(tip_angle, dtype=float))
    m = (1 + sine) / 2  # k squared, the parameter of scipy's functions
    theta = np.arcsin(np.sqrt(0.5 / m))
    root = ellipk(m) - ellipkinc(theta, m)
    deflection = 1 - 2 * (ellipe(m) - ellipeinc(theta, m)) / root
    return np.asarray(root**2, dtype=float), np.asarray(deflection, dtype=float)


def three_point_elastica(end_angle: Quantity) -> tuple[Array, Array]:
    """Beam on two smooth edges a fixed span apart, load at mid-span: load and deflection.

    The beam slides over the edges, so each reaction stays normal to it. Measured along the tangent
    at the edge, half a beam obeys E I psi'' = R cos(psi), hence with R = P / (2 cos(phi)):

        X = sqrt(2 E I sin(phi) / R),    Y = sqrt(E I / (2 R)) integral of sqrt(sin(psi)),
        span/2 = X cos(phi) + Y sin(phi),    delta = X sin(phi) - Y cos(phi).

    Args:
        end_angle: phi, slope over the edges, rad, above 0 and below pi/2; any shape.
    Returns:
        P L^2/(E I) and delta/L, with L the span.
    Source: the problem of H. D. Conway, The Large Deflection of Simply Supported Beams,
        Philosophical Magazine 38 (1947) 905-911; derived here, checked by a boundary value solver.

    Small angles give delta = P L^3/(48 E I):

    >>> load, deflection = three_point_elastica(1e-3)
    >>> round(float(load / deflection), 3)
    48.0
    """
    from scipy.special import beta, betainc

    phi = np.asarray(end_angle, dtype=float)
    sine, cosine = np.sin(phi), np.cos(phi)
    # integral of sqrt(sin) from 0 to phi, by t = sin^2: an incomplete beta function.
    area = 0.5 * beta(0.75, 0.5) * betainc(0.75, 0.5, sine**2)
    x, y = np.sqrt(2 * sine), area / np.sqrt(2)  # in units of sqrt(E I / R)
    half_span = x * cosine + y * sine
    deflection = (x * sine - y * cosine) / (2 * half_span)
    # R L^2/(E I) = (2 half_span)^2 and P = 2 R cos(phi)
    return np.asarray(8 * half_span**2 * cosine), np.asarray(deflection)


@functools.lru_cache(maxsize=4)
def _inverse(kind: str) -> tuple[Any, float]:
    """Interpolator from delta/L to (P L^2/EI)/(delta/L), and the largest delta/L it covers."""
    from scipy.interpolate import PchipInterpolator

    if kind == "cantilever":
        # squared spacing: dense at small angles, where nearly all tests lie
        load, deflection = cantilever_elastica(np.linspace(0.03, 1.2, _ANGLES) ** 2)
        small = 3.0
    else:
        load, deflection = three_point_elastica(np.linspace(0.03, 0.81, _ANGLES) ** 2)
        small = 48.0
    knots = np.concatenate([[0.0], deflection])
    ratio = np.concatenate([[small], load / deflection])
    return PchipInterpolator(knots, ratio), float(knots[-1])


def load_parameter(kind: str, deflection_ratio: Quantity) -> tuple[Array, Array]:
    """P L^2/(E I) that bends a beam to a measured deflection, and the linear value of it.

    Args:
        kind: "cantilever" or "three-point".
        deflection_ratio: delta/L, any shape, not negative; NaN comes back beyond the solution's
            range (cantilever 0.81; three-point 0.235, where the load peaks and it slips through).
    Returns:
        the elastica's load parameter, and that of linear beam theory.

    >>> exact, linear = load_parameter("cantilever", 0.30172)
    >>> round(float(exact), 3), round(float(linear), 3)
    (1.0, 0.905)
    """
    interpolator, largest = _inverse(kind)
    ratio = np.asarray(deflection_ratio, dtype=float)
    exact = np.where(
        (ratio >= 0) & (ratio <= largest),
        interpolator(np.clip(ratio, 0.0, largest)) * ratio,
        np.nan,
    )
    return exact, (3.0 if kind == "cantilever" else 48.0) * ratio
