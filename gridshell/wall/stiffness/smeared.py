"""Smeared stiffness: skin plus rib families to the 6x6 law [N; M] = [A B; B D][strain; curvature].

Strain is (axial, hoop, shear), curvature (axial, hoop, twist) with the twist 2 w,xy, all at the
skin's middle surface. Law for a family at an angle with cosine c and sine s: its ribs see the
strain p.e with p = (c^2, s^2, c s) and twist by q.k with q = (-c s, c s, (c^2 - s^2)/2).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from gridshell.define.compiling import for_many
from gridshell.define.types import Array, Quantity

# Where the six independent entries of a symmetric 3x3 stand.
_PLACES = ((0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2))
_TURNED = ((0, 2), (1, 2))  # of these, those that mirror images cancel


def symmetric(entries: Sequence[Quantity], shape: tuple[int, ...] = ()) -> Array:
    """Entries 11, 12, 16, 22, 26, 66 as symmetric matrices (..., 3, 3).

    Each entry lies together in memory, for they are read one by one.

    Args:
        entries: each of a shape that broadcasts.
        shape: at least this shape comes back.
    """
    shape = np.broadcast(np.empty(shape), *entries).shape
    matrix = np.empty((3, 3, *shape))
    for (row, column), entry in zip(_PLACES, entries, strict=True):
        matrix[row, column] = entry
        matrix[column, row] = entry
    return matrix.transpose(*range(2, matrix.ndim), 0, 1)


def components(*parts: Quantity) -> Array:
    """Numbers of each design as a last axis, (..., n), each component together in memory.

    Args:
        parts: of shapes that broadcast.
    """
    found = np.empty((len(parts), *np.broadcast(*parts).shape))
    for k, part in enumerate(parts):
        found[k] = part
    return found.transpose(*range(1, found.ndim), 0)


def entries_of(matrix: Array) -> list[Quantity]:
    """Entries 11, 12, 16, 22, 26, 66 of symmetric matrices (..., 3, 3)."""
    return [matrix[..., row, column] for row, column in _PLACES]


@for_many(3)
def solved_3(
    a: Quantity, b: Quantity, c: Quantity, d: Quantity, e: Quantity, f: Quantity,
    x: Quantity, y: Quantity, z: Quantity,
) -> tuple[Quantity, Quantity, Quantity]:
    """Solution of the symmetric system with rows (a, b, c), (b, d, e), (c, e, f), by cofactors.

    Args:
        a: entry 11.
        b: entry 12.
        c: entry 16.
        d: entry 22.
        e: entry 26.
        f: entry 66.
        x: first right side.
        y: second right side.
        z: third right side.

    >>> solved_3(2.0, 0.0, 0.0, 4.0, 0.0, 5.0, 2.0, 8.0, 15.0)
    (1.0, 2.0, 3.0)
    """
    aa, ab, ac = d * f - e * e, c * e - b * f, b * e - c * d
    bb, bc, cc = a * f - c * c, b * c - a * e, a * d - b * b
    whole = a * aa + b * ab + c * ac
    return (
        (aa * x + ab * y + ac * z) / whole, (ab * x + bb * y + bc * z) / whole,
        (ac * x + bc * y + cc * z) / whole,
    )


Entries = list[Quantity]
"""Entries 11, 12, 16, 22, 26, 66 of a symmetric matrix; 0.0 where a whole array is zero."""


def products(vector: tuple[Quantity, Quantity, Quantity], times: int = 1) -> Entries:
    """Entries of the product of a vector with itself.

    Args:
        vector: three components.
        times: 2 where the vector stands for itself and its mirror image: nothing in 16 and 26 then
            (and the caller counts twice).
    """
    x, y, z = vector
    if times == 2:
        return [x * x, x * y, 0.0, y * y, 0.0, z * z]
    return [x * x, x * y, x * z, y * y, y * z, z * z]


def add_entries(total: Entries, more: Entries) -> None:
    """Add to ``total`` in place; exact zeros cost nothing."""
    for i, entry in enumerate(more):
        if np.ndim(entry) or entry != 0:
            total[i] = total[i] + entry


def _isotropic(stiffness: Quantity, poisson: Quantity) -> Entries:
    return [
        stiffness, poisson * stiffness, 0.0, stiffness, 0.0, (1 - poisson) / 2 * stiffness
    ]


def skin_entries(
    modulus: Quantity, poisson: Quantity, thickness: Quantity
) -> tuple[Entries, Entries]:
    """Entries of A and D of the skin; see `skin_stiffness`."""
    membrane = modulus * thickness / (1 - poisson**2)
    return _isotropic(membrane, poisson), _isotropic(membrane * thickness**2 / 12, poisson)


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
    stretch, bend = skin_entries(modulus, poisson, thickness)
    return symmetric(stretch), symmetric(bend)


def family_entries(
    cosine: Quantity,
    sine: Quantity,
    pitch: Quantity,
    axial: Quantity,
    offset: Quantity,
    bending: Quantity,
    torsion: Quantity,
    growth: Quantity = 1.0,
    poisson: Quantity = 0.0,
    counted: int = 1,
) -> tuple[Entries, Entries, Entries]:
    """Entries of A, B and D that one family adds; see `family_stiffness`.

    With ``counted`` = 2 the family stands for itself and its mirror image, which cancels 16 and 26.

    ``growth`` is the radius of the ribs over that of the reference surface. At another radius a
    rib has another angle and length, and hoop curvature gives it k_t z/growth instead of k_t z:
    with direction (c, s g)/L, L^2 = c^2 + s^2 g^2, it sees P.e + z Q.k with
    P = (c^2, s^2 g^2, c s g)/L^2 and Q = P times (1, 1/g, 1), and there is L times its length per
    reference area; its own inertia sees P times (1, 1/g^2, 1). Exact for rings and stringers: A22 g
    and D22/g for rings.

    A stretched rib also gets lower, by ``poisson`` times its strain: material at z moves inward by
    v e z, which takes v e z/R from hoop strain: factors 1 - q on P, 1 - q/2 on Q z and 1 - q on
    its own inertia, q = v s^4 (g - 1). First order in z/R and exact for rings (Lame's thick ring);
    one s^2 is geometry, the other is fitted to solid cells, where slanting ribs of opposite
    strain hold each other at the nodes.
    """
    # Half the pitch is twice the ribs; dividing by a power of two rounds nothing.
    pitch = pitch if counted == 1 else pitch / counted
    flat = np.ndim(growth) == 0 and growth == 1.0
    if flat:
        pull = (cosine**2, sine**2, cosine * sine)
        bent_pull = own_pull = pull
        stretch = axial / pitch
    else:
        across = sine * growth
        square = cosine**2 + across**2
        pull = (cosine**2 / square, across**2 / square, cosine * across / square)
        bent_pull = (pull[0], pull[1] / growth, pull[2])
        # Within the rib's own depth the strain of a curvature changes by k_t/g^2 per height.
        own_pull = (pull[0], pull[1] / growth**2, pull[2])
        stretch = axial * np.sqrt(square) / pitch
        lower = poisson * pull[1] * pull[1] * (growth - 1)
        bent_pull = _scaled(bent_pull, 1 - lower / 2)
        own_pull = _scaled(own_pull, 1 - lower)
        pull = _scaled(pull, 1 - lower)
    turn = (-cosine * sine, cosine * sine, (cosine**2 - sine**2) / 2)
    lever = stretch * offset
    own = stretch * (bending / axial)
    twist = torsion / pitch
    plain = products(pull, counted)
    mixed, doubly, owned = plain, plain, plain
    if not flat:  # e.B.k is not quite symmetric any more; its symmetric part is kept
        mixed = [0.0 if counted == 2 and (row, column) in _TURNED
                 else (pull[row] * bent_pull[column] + pull[column] * bent_pull[row]) / 2
                 for row, column in _PLACES]
        doubly, owned = products(bent_pull, counted), products(own_pull, counted)
    turns = products(turn, counted)

    def times(factor: Quantity, shares: Entries) -> Entries:
        # A rib along an axis has no part in some entries; leave those as plain zeros.
        return [factor * share if np.ndim(share) or share != 0 else 0.0 for share in shares]

    bent = times(lever * offset, doubly)
    add_entries(bent, times(own, owned))
    add_entries(bent, times(twist, turns))
    coupled = times(lever, mixed)
    if not flat:  # the contraction goes with z^2 there, so the rib's own inertia has a part
        per_height = lower / np.where(np.asarray(offset) == 0, 1.0, offset)
        add_entries(coupled, times(-1.5 * own * per_height, plain))
    return times(stretch, plain), coupled, bent


def _scaled(parts: tuple[Quantity, Quantity, Quantity], factor: Quantity
            ) -> tuple[Quantity, Quantity, Quantity]:
    return parts[0] * factor, parts[1] * factor, parts[2] * factor


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
    A, B, D = family_entries(
        cosine, sine, pitch=pitch, axial=axial, offset=offset, bending=bending, torsion=torsion,
    )
    return symmetric(A), symmetric(B), symmetric(D)
