"""Constants of single plates, for the tests that hold closed forms to the plate eigenproblem."""

from __future__ import annotations

import numpy as np

from gridshell.proof.plates.pocket import FREE, HELD, Edge, critical_factor


def triangle(side: float) -> list[tuple[float, float]]:
    """Corners of an equilateral triangle, base along x."""
    return [(0.0, 0.0), (side, 0.0), (side / 2, side * float(np.sqrt(3.0)) / 2)]


def triangle_constant(
    poisson: float = 1 / 3, edge: Edge = HELD, across: float = 0.0, shear: float = 0.0,
    degree: int = 9,
) -> float:
    """c in sigma = c E (t/h)^2 of an equilateral pocket of height h = 1 under unit compression.

    ``edge`` is per unit plate stiffness and unit height: its spring is c h/D, its twist G J/(D h).
    """
    factor = critical_factor(
        triangle(2 / np.sqrt(3.0)), [edge] * 3, (1.0, across, shear), 1.0, poisson, degree
    )
    return factor / (12 * (1 - poisson**2))


def rib_constant(
    slenderness: float, poisson: float = 1 / 3, foot: Edge = HELD, ends: Edge = HELD,
    degree: int = 9,
) -> float:
    """c in sigma = c E (b/d)^2 of a rib of width b, height d = 1 and length a = ``slenderness``.

    The foot is given per unit plate stiffness and unit height; the tip is free.
    """
    a = slenderness
    factor = critical_factor(
        [(0, 0), (a, 0), (a, 1), (0, 1)], [foot, ends, FREE, ends], (1.0, 0.0, 0.0), 1.0,
        poisson, degree,
    )
    return factor / (12 * (1 - poisson**2))
