"""Stiffness of one buckling or vibration wave of a cylinder with a full A, B, D wall.

A wave u = U cos(lx) cos(n t), v = V sin(lx) sin(n t), w = W sin(lx) cos(n t), with l = m pi/L and t
the angle round the tube, is exact for ends that stay round but are free to move along. Its strain
energy is a 3x3 matrix in (U, V, W); the axial amplitude, which no load acts on, is taken out, and a
2x2 matrix in (V, W) is left. See the README of this folder for the strains and their source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.wall.stiffness.equivalent import neutral_bending


@dataclass(frozen=True)
class Theory:
    """Which curvature terms a shell theory keeps.

    The hoop curvature of a wave is (a n V + (n^2 + b) W)/R^2 and its twist
    (2 l n W + c l V + d n U/R)/R.

    Attributes:
        name: as shown in results.
        a: term of V in the hoop curvature.
        b: term of W in the hoop curvature.
        c: term of V in the twist.
        d: term of U in the twist.
        in_plane: 1 when the load also works on in-plane displacement (needed for the column mode
            and for few waves round), else 0.
        depth: 1 when every layer of the wall does that work at its own radius, else 0.
    """

    name: str
    a: float
    b: float
    c: float
    d: float
    in_plane: float
    depth: float = 0.0


LINE_ELEMENT = Theory("line-element", 0.0, b=-1.0, c=1.0, d=1.0, in_plane=1.0, depth=1.0)
SANDERS = Theory("Sanders", 1.0, 0.0, 1.5, 0.5, 1.0)
DONNELL = Theory("Donnell", 0.0, 0.0, 0.0, 0.0, 0.0)
THEORIES = {theory.name: theory for theory in (LINE_ELEMENT, SANDERS, DONNELL)}


@dataclass(frozen=True)
class Bowing:
    """The skin between ribs, which bows under hoop force; see `skin_bowing` of the wall.

    Attributes:
        lost: share of the skin's hoop stiffness that bowing takes; 0 leaves it out.
        skin: membrane stiffness E t/(1 - v^2) of the skin alone, N/m.
        poisson: Poisson's ratio of the skin.
        pocket: area of the skin between ribs, m2.
    """

    lost: Quantity
    skin: Quantity
    poisson: Quantity
    pocket: Quantity


NO_BOWING = Bowing(0.0, 1.0, 0.0, 0.0)


class WaveStiffness(NamedTuple):
    """Coefficients of the wave matrix as polynomials in x = l^2 and y = N^2, N = n/R.

    With U, V, W the amplitudes and C the part of W that bends the wall, the strain energy of a wave
    is the quadratic form whose entries stand below; entries of U are divided by l, those of V by
    N where they hold it. Built once per wall, one or many: every field has the shape (designs).
    The laws that read it are in `gridshell.tube.buckling.wave_laws`.

    Attributes:
        k11x: part of the entry UU that goes with x, N/m.
        k11y: part of UU that goes with y, N/m.
        k12: entry UV over l N, N/m.
        p0: entry UW over l, N/m2.
        px: part of the entry UC over l that goes with x, N.
        py: part of UC over l that goes with y, N.
        k22x: part of the entry VV that goes with x, N/m.
        k22y: part of VV that goes with y, N/m.
        r0: entry VW over N, N/m2.
        rx: part of the entry VC over N that goes with x, N.
        ry: part of VC over N that goes with y, N.
        s0: entry WW, N/m3.
        sx: twice the part of the entry WC that goes with x, N/m.
        sy: twice the part of WC that goes with y, N/m.
        sxx: part of the entry CC that goes with x^2, N m.
        sxy: part of CC that goes with x y, N m.
        syy: part of CC that goes with y^2, N m.
        shear_x: transverse shear stiffness along the tube, N/m.
        shear_y: transverse shear stiffness round the tube, N/m.
        radius: R of the reference surface, m.
        high_along: mean of z/R under axial stress.
        deep_along: mean square of z/R under axial stress.
        high_shear: mean of z/R under shear flow.
        deep_shear: mean square of z/R under shear flow.
        compliance: of the skin's bow between the ribs, m3/N; 0 where it does not bow.
        pocket: area of the skin between ribs, m2.
        skin: membrane stiffness E t/(1 - v^2) of the skin alone, N/m.
        skin_poisson: Poisson's ratio of the skin.
        skin_along: share of axial load that the skin carries.
        skin_round: share of hoop load that the skin carries.
        free_11: axial bending stiffness with the wall free to stretch, N m.
        free_12: D12 + 2 D66 of the same, N m.
        free_22: hoop bending stiffness of the same, N m.
        free_66: D66 of the same, N m.
        shortest: shortest half wave that is looked at, m: the depth of the equivalent wall in the
            direction where it is less (rings deep against waves round leave short ones along).
        steepness: power of a wave's length that its load changes by at most.
        in_plane: 1 when loads work on in-plane displacement, else 0 (`Theory`).
        depth: 1 when every layer does that work at its own radius, else 0 (`Theory`).
    """

    k11x: Quantity
    k11y: Quantity
    k12: Quantity
    p0: Quantity
    px: Quantity
    py: Quantity
    k22x: Quantity
    k22y: Quantity
    r0: Quantity
    rx: Quantity
    ry: Quantity
    s0: Quantity
    sx: Quantity
    sy: Quantity
    sxx: Quantity
    sxy: Quantity
    syy: Quantity
    shear_x: Quantity
    shear_y: Quantity
    radius: Quantity
    high_along: Quantity
    deep_along: Quantity
    high_shear: Quantity
    deep_shear: Quantity
    compliance: Quantity
    pocket: Quantity
    skin: Quantity
    skin_poisson: Quantity
    skin_along: Quantity
    skin_round: Quantity
    free_11: Quantity
    free_12: Quantity
    free_22: Quantity
    free_66: Quantity
    shortest: Quantity
    steepness: Quantity
    in_plane: Quantity
    depth: Quantity

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of all coefficients together."""
        return np.broadcast_shapes(*(np.shape(value) for value in self))

    def table(self, shape: tuple[int, ...]) -> Array:
        """All coefficients as a table, one row a design.

        Args:
            shape: to broadcast to before it is flattened.
        """
        rows = np.empty((*shape, len(self)))
        for column, value in enumerate(self):
            rows[..., column] = value
        return rows.reshape(-1, len(self))


_RIGID = 1e300  # N/m: stands for infinite; infinity times a wave number of zero is no number


def wave_stiffness(
    A: Array, B: Array, D: Array, radius: Quantity, theory: Theory = LINE_ELEMENT,
    shear: tuple[Quantity, Quantity] = (np.inf, np.inf), bowing: Bowing = NO_BOWING,
) -> WaveStiffness:
    """Coefficients of the wave matrix of a wall on a cylinder.

    Coupling of stretching and bending with shear and twist (16 and 26 terms) is left out: it is
    zero for every balanced pattern.

    With the theory "Donnell" the condensed matrix reproduces NASA/SP-8007-2020/REV 2,
    Eq. 52-59 (the same terms as in its 1968 edition).

    Args:
        A: membrane stiffness about the reference surface, (..., 3, 3), N/m.
        B: coupling, (..., 3, 3), N.
        D: bending stiffness, (..., 3, 3), N m.
        radius: of the reference surface, (...), m.
        theory: which curvature terms to keep.
        shear: transverse shear stiffness of the wall along and round the tube, N/m; infinite
            leaves its shear out, as the published equations do.
        bowing: of the skin between the ribs.

    Returns:
        Coefficients, each (...).
    """
    a, b, c, d = theory.a, theory.b, theory.c, theory.d
    r, r2 = radius, radius * radius  # a third power of an array costs twenty products
    A11, A12, A22, A66 = A[..., 0, 0], A[..., 0, 1], A[..., 1, 1], A[..., 2, 2]
    B11, B12, B22, B66 = B[..., 0, 0], B[..., 0, 1], B[..., 1, 1], B[..., 2, 2]
    D11, D12, D22, D66 = D[..., 0, 0], D[..., 0, 1], D[..., 1, 1], D[..., 2, 2]
    free = A11 - A12 * A12 / A22
    bending = neutral_bending(A, B, D)
    with np.errstate(invalid="ignore"):  # bending that gives way by itself has no depth
        shortest = np.sqrt(12 * np.minimum(bending[..., 0, 0] / A11, bending[..., 1, 1] / A22))
    skin = bowing.skin
    return WaveStiffness(
        k11x=A11,
        k11y=A66 - 2 * d * B66 / r + d**2 * D66 / r**2,
        k12=A12 + A66 + (a * B12 + (c - d) * B66) / r - c * d * D66 / r**2,
        p0=A12 / r + b * B12 / r**2,
        px=B11 + 0.0,
        py=B12 + 2 * B66 - 2 * d * D66 / r,
        k22x=A66 + 2 * c * B66 / r + c**2 * D66 / r**2,
        k22y=A22 + 2 * a * B22 / r + a**2 * D22 / r**2,
        r0=A22 / r + (a + b) * B22 / r**2 + a * b * D22 / (r2 * r),
        rx=B12 + 2 * B66 + (a * D12 + 2 * c * D66) / r,
        ry=B22 + a * D22 / r,
        s0=A22 / r**2 + 2 * b * B22 / (r2 * r) + b**2 * D22 / (r2 * r2),
        sx=2 * B12 / r + 2 * b * D12 / r**2,
        sy=2 * B22 / r + 2 * b * D22 / r**2,
        sxx=D11 + 0.0,
        sxy=2 * D12 + 4 * D66,
        syy=D22 + 0.0,
        shear_x=np.minimum(shear[0], _RIGID),
        shear_y=np.minimum(shear[1], _RIGID),
        radius=r,
        compliance=bowing.lost * r**2 / skin,
        pocket=bowing.pocket,
        skin=skin,
        skin_poisson=bowing.poisson,
        skin_along=skin / A11,
        skin_round=skin / A22,
        # Axial stress before buckling: free to contract round the tube.
        high_along=theory.depth * (B11 - A12 * B12 / A22) / (free * r),
        deep_along=theory.depth * D11 / (free * r**2),
        high_shear=theory.depth * B66 / (A66 * r),
        deep_shear=theory.depth * D66 / (A66 * r**2),
        free_11=bending[..., 0, 0],
        free_12=bending[..., 0, 1] + 2 * bending[..., 2, 2],
        free_22=bending[..., 1, 1],
        free_66=bending[..., 2, 2],
        shortest=shortest,
        steepness=_steepness(A, B, D),
        in_plane=theory.in_plane,
        depth=theory.depth,
    )


def _steepness(A: Array, B: Array, D: Array) -> Quantity:
    """Power of a wave's length that its load changes by at most; see `wave_laws.least_near`.

    Strain energy e'G e with axial parts times s^2 and hoop parts as they were: its change with
    ln s is 2 (1 +- q) times itself at most, q = 1/sqrt(1 - c^2), c the largest correlation of an
    axial with a hoop strain in G (canonical, of membrane strain and curvature). Work takes s^2 of
    axial load, s of shear flow, nothing of lateral pressure, so 4 q holds for all; a quarter more
    for the skin's bow and for layers that stretch.
    """
    A11, A12, A22 = A[..., 0, 0], A[..., 0, 1], A[..., 1, 1]
    B11, B12, B22 = B[..., 0, 0], B[..., 0, 1], B[..., 1, 1]
    D11, D12, D22 = D[..., 0, 0], D[..., 0, 1], D[..., 1, 1]
    axial, hoop = A11 * D11 - B11 * B11, A22 * D22 - B22 * B22
    # Axial^-1 cross and hoop^-1 cross, of which the product has the squared correlations.
    p, q = (D11 * A12 - B11 * B12) / axial, (D11 * B12 - B11 * D12) / axial
    r, s = (A11 * B12 - B11 * A12) / axial, (A11 * D12 - B11 * B12) / axial
    t, u = (D22 * A12 - B22 * B12) / hoop, (D22 * B12 - B22 * D12) / hoop
    v, w = (A22 * B12 - B22 * A12) / hoop, (A22 * D12 - B22 * B12) / hoop
    trace = p * t + q * v + r * u + s * w
    both = (p * s - q * r) * (t * w - u * v)
    largest = (trace + np.sqrt(np.maximum(trace * trace - 4 * both, 0.0))) / 2
    return 5 / np.sqrt(np.clip(1 - largest, 1e-6, 1.0))
