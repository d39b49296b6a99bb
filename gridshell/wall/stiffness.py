"""Smeared stiffness: skin plus rib families to the 6x6 law [N; M] = [A B; B D][strain; curvature].

Strain is (axial, hoop, shear), curvature (axial, hoop, twist) with the twist 2 w,xy, all at the
skin's middle surface. Law for a family at an angle with cosine c and sine s: its ribs see the
strain p.e with p = (c^2, s^2, c s) and twist by q.k with q = (-c s, c s, (c^2 - s^2)/2).
"""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array, Quantity

# Where the six independent entries of a symmetric 3x3 stand.
_PLACES = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))


def symmetric(entries: tuple[Quantity, ...]) -> Array:
    """Entries 11, 12, 16, 22, 26, 66 as symmetric matrices (..., 3, 3)."""
    shape = np.broadcast_shapes(*(np.shape(entry) for entry in entries))
    matrix = np.empty((*shape, 3, 3))
    for (row, column), entry in zip(_PLACES, entries, strict=True):
        matrix[..., row, column] = entry
        matrix[..., column, row] = entry
    return matrix


def skin_stiffness(
    modulus: Quantity, poisson: Quantity, thickness: Quantity
) -> tuple[Array, Array]:
    """A and D of an isotropic skin about its own middle surface, N/m and N m.

    A11 = E t/(1 - v^2), D11 = E t^3/(12 (1 - v^2)), 12 with v, 66 with (1 - v)/2.
    NASA/SP-8007-2020/REV 2, Eq. 82-91 without rings and stringers.

    >>> A, D = skin_stiffness(1.0, 0.0, 2.0)
    >>> float(A[0, 0]), float(A[2, 2]), float(D[0, 0])
    (2.0, 1.0, 0.6666666666666666)
    """
    membrane = modulus * thickness / (1 - poisson**2)
    bending = membrane * thickness**2 / 12
    zero = np.zeros(np.shape(membrane))

    def isotropic(stiffness: Quantity) -> Array:
        return symmetric((
            stiffness, poisson * stiffness, zero, stiffness, zero, (1 - poisson) / 2 * stiffness,
        ))

    return isotropic(membrane), isotropic(bending)


def family_stiffness(
    cosine: Quantity,
    sine: Quantity,
    pitch: Quantity,
    axial: Quantity,
    offset: Quantity,
    bending: Quantity,
    torsion: Quantity,
) -> tuple[Array, Array, Array]:
    """A, B and D that one family of ribs adds to the skin.

    The general form of NASA/SP-8007-2020/REV 2, Eq. 82-91 (rings, stringers) and Eq. 92-98
    (isogrid), which are its special cases; the tests hold it to both.

    Args:
        cosine, sine: of the family's angle from the axis.
        pitch: perpendicular distance between its ribs, m.
        axial: E A of one rib, N.
        offset: z of the rib's centroid from the skin's middle surface, m.
        bending: E I of one rib about its own centroid, N m2.
        torsion: G J of one rib, N m2.
    Returns:
        A (N/m), B (N), D (N m), each (..., 3, 3).

    >>> A, B, D = family_stiffness(1.0, 0.0, 2.0, 6.0, 3.0, 4.0, 8.0)
    >>> float(A[0, 0]), float(B[0, 0]), float(D[0, 0]), float(D[2, 2])
    (3.0, 9.0, 29.0, 1.0)
    """
    pull = (cosine**2, sine**2, cosine * sine)
    turn = (-cosine * sine, cosine * sine, (cosine**2 - sine**2) / 2)
    stretch = axial / pitch
    bend = (bending + axial * offset**2) / pitch
    twist = torsion / pitch
    products = tuple(pull[row] * pull[column] for row, column in _PLACES)
    turns = tuple(turn[row] * turn[column] for row, column in _PLACES)
    return (
        symmetric(tuple(stretch * product for product in products)),
        symmetric(tuple(stretch * offset * product for product in products)),
        symmetric(tuple(bend * product + twist * turned
                        for product, turned in zip(products, turns, strict=True))),
    )
