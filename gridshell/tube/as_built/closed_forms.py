"""Closed forms for tubes that are not quite straight or round."""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Quantity


def perry_robertson(buckling: Quantity, strength: Quantity, eta: Quantity) -> Quantity:
    """Mean stress at which the most compressed fiber of a bowed column reaches its strength, Pa.

    (s_cr - s)(s_y - s) = eta s_cr s, eta = bow x distance of the fiber over the square of the
    radius of gyration (Timoshenko and Gere, Theory of Elastic Stability, 1.13; Perry and
    Robertson), from memory. A straight column (eta = 0) has the lesser of both.

    Args:
        buckling: s_cr, column load over the section, Pa.
        strength: s_y, Pa.
        eta: of the bow.

    >>> float(perry_robertson(100.0, 50.0, 0.0))
    50.0
    >>> s = perry_robertson(100.0, 50.0, 0.3)
    >>> bool(abs((100 - s) * (50 - s) - 0.3 * 100 * s) < 1e-9)
    True
    """
    half = (strength + (1 + eta) * buckling) / 2
    root = np.sqrt(np.maximum(half * half - buckling * strength, 0.0))
    return buckling * strength / (half + root)


def first_yield_pressure(
    buckling: Quantity, strength: Quantity, radius: Quantity, thickness: Quantity,
    deviation: Quantity,
) -> Quantity:
    """External pressure at which an oval plain tube first reaches its strength, Pa.

    p^2 - (s_y/m + (1 + 6 m n) p_cr) p + s_y p_cr/m = 0 with m = R/t and n = w0/R, Timoshenko and
    Gere, Theory of Elastic Stability, 7.5 (long tubes, w0 cos 2t), from memory.

    Args:
        buckling: p_cr of the round tube, Pa.
        strength: s_y, Pa.
        radius: R, m.
        thickness: t, m.
        deviation: w0, m.

    >>> round(float(first_yield_pressure(1.0, 1e3, 100.0, 1.0, 0.0)), 6)  # s_y/m = 10 > p_cr
    1.0
    >>> bool(first_yield_pressure(1.0, 1e3, 100.0, 1.0, 1.0) < 1.0)
    True
    """
    m = radius / thickness
    crush = strength / m
    half = (crush + (1 + 6 * deviation / thickness) * buckling) / 2
    root = np.sqrt(np.maximum(half * half - crush * buckling, 0.0))
    return crush * buckling / (half + root)


QUALITY = {"A": 40.0, "B": 25.0, "C": 16.0}
"""Fabrication quality Q of each class: excellent, high, normal (EN 1993-1-6, from memory)."""


def class_amplitude(radius: Quantity, thickness: Quantity, quality: Quantity) -> Quantity:
    """Deviation from the true shape that a fabrication class stands for, m.

    dw = (t/Q) sqrt(r/t): EN 1993-1-6, annex D, from memory.

    Args:
        radius: r, m.
        thickness: t, m.
        quality: Q, see `QUALITY`.
    """
    return thickness * np.sqrt(radius / thickness) / quality


def fabrication_class(radius: Quantity, thickness: Quantity, quality: Quantity) -> Quantity:
    """Elastic buckling reduction of a plain cylinder by its fabrication class.

    alpha = 0.62/(1 + 1.91 (dw/t)^1.44), dw of `class_amplitude`: EN 1993-1-6, annex D, from memory.

    Args:
        radius: r, m.
        thickness: t, m.
        quality: Q, see `QUALITY`.

    >>> round(float(fabrication_class(0.1, 1e-3, QUALITY["A"])), 2)
    0.49
    """
    deviation = class_amplitude(radius, thickness, quality) / thickness
    return 0.62 / (1 + 1.91 * deviation**1.44)
