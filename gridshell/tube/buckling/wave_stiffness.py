"""Stiffness of one buckling or vibration wave of a cylinder with a full A, B, D wall.

A wave u = U cos(lx) cos(n t), v = V sin(lx) sin(n t), w = W sin(lx) cos(n t), with l = m pi/L and t
the angle round the tube, is exact for ends that stay round but are free to move along. Its strain
energy is a 3x3 matrix in (U, V, W); the axial amplitude, which no load acts on, is taken out, and a
2x2 matrix in (V, W) is left. See the README of this folder for the strains and their source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from gridshell.define.types import Array, Quantity


@dataclass(frozen=True)
class Theory:
    """Which curvature terms a shell theory keeps.

    The hoop curvature of a wave is (a n V + (n^2 + b) W)/R^2 and its twist
    (2 l n W + c l V + d n U/R)/R.

    Attributes:
        name: as shown in results.
        a, b: terms of V and W in the hoop curvature.
        c, d: terms of V and U in the twist.
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


LINE_ELEMENT = Theory("line-element", 0.0, -1.0, 1.0, 1.0, 1.0, 1.0)
SANDERS = Theory("Sanders", 1.0, 0.0, 1.5, 0.5, 1.0)
DONNELL = Theory("Donnell", 0.0, 0.0, 0.0, 0.0, 0.0)
THEORIES = {theory.name: theory for theory in (LINE_ELEMENT, SANDERS, DONNELL)}


def lowest_root(a: Quantity, b: Array, c: Array) -> Array:
    """Smallest positive load of a T^2 - b T + c = 0, c > 0; infinite where there is none."""
    with np.errstate(invalid="ignore", divide="ignore"):
        root = 2 * c / (b + np.sqrt(np.maximum(b * b - 4 * a * c, 0.0)))
        return np.where((root > 0) & np.isfinite(root), root, np.inf)


@dataclass(frozen=True)
class WaveStiffness:
    """Coefficients of the wave matrix as polynomials in x = l^2 and y = (n/R)^2.

    Built once per wall, then evaluated on any grid of waves. Shapes (designs, 1, 1).
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
    soft: Quantity
    pocket: Quantity
    skin: Quantity
    skin_poisson: Quantity
    skin_along: Quantity
    skin_round: Quantity
    theory: Theory

    def with_each(self, change: Callable[[Array], Quantity]) -> WaveStiffness:
        """The same law with every coefficient changed alike (picked from, reshaped)."""
        values: dict[str, Any] = {
            name: change(np.asarray(value, float)) for name, value in self.coefficients().items()
        }
        return replace(self, **values)

    def coefficients(self) -> dict[str, Quantity]:
        """All but the theory, by name."""
        return {f.name: getattr(self, f.name) for f in fields(self) if f.name != "theory"}

    def stretch_along(self, x: Array, y: Array, moved: Array, bent: Quantity) -> Array:
        """Axial strain of a wave over its height, 1/m, sign reversed; ``moved`` is y k23/k22."""
        along = self.px * x + self.py * y
        along *= bent
        along += self.p0
        along -= self.k12 * moved
        along *= x
        along /= self.k11x * x + self.k11y * y
        return along

    def work_along(self, x: Array, y: Array, moved: Array, bent: Quantity) -> Array:
        """Work of axial stress in its layers over that of V^2 + W^2 in the skin's middle surface.

        The load works on the whole gradient of an axial fiber, its stretch too (Green's strain).
        A layer at z moves by V (1 + z/R) + n C z/R round the tube, C = bent W. Mean and mean square
        of z under axial stress come from A, B, D, free to contract round the tube.

        Args:
            x, y: squared wave numbers.
            moved: y k23/k22, that is -V/W times n/R of the wave. bent: from `condensed`.
        """
        number = y * self.radius**2
        if self.theory.depth == 0:
            return np.ones_like(number * moved)
        # v^2 and n v, v = V/W.
        product = -moved * self.radius
        with np.errstate(invalid="ignore", divide="ignore"):
            square = np.where(number > 0, product * product / number, 0.0)
        more = square * (2 * self.high_along + self.deep_along)
        more += 2 * product * bent * (self.high_along + self.deep_along)
        more += number * bent * bent * self.deep_along
        stretch = self.stretch_along(x, y, moved, bent)
        stretch *= stretch
        # In rings (n = 0) the two modes of the root are strangers: left to the plain work.
        stretch *= number > 0
        stretch /= x
        more += stretch
        return 1 + more / (1 + square)

    def bowed(
        self, x: Array, y: Array, matrix: tuple[Array, Array, Array, Quantity], share: Quantity
    ) -> Array:
        """Load of a wave whose skin bows between the ribs, over that of one whose skin does not.

        The skin between the ribs moves by s more than the ribs. It is pressed by its share of the
        load that the wave carries and held by its own hoop force N/R and by a spring. With unit
        height of the ribs, energy k + 2 q s + c s^2 and work 1 + share (2 s + s^2) have a lowest
        quotient below k (all here times the softness 1/c); V, which balances the hoop forces, is
        taken out of c.

        Args:
            x, y: squared wave numbers. matrix: from `condensed`.
            share: of the load that presses on the skin.
        """
        k22, k23, k33, bent = matrix
        balance = y / k22
        moved = balance * k23
        held = k33 - moved * k23
        along = self.skin_poisson * self.stretch_along(x, y, moved, bent)
        # Force of the skin per s: hoop strain plus Poisson's ratio times the axial one.
        pull = self.skin / self.radius
        press = pull * (1 / self.radius - moved - along)
        # A wave hardly longer than the pockets finds no pocket to press on evenly.
        short = x + y / 4
        short *= self.pocket * (4 / np.pi**2)
        soft = self.soft / (1 + short * short)
        spring = 1 - soft * (balance * (pull * pull))
        lower = held * spring
        lower -= soft * (press * press)
        press *= -2
        press += held
        press *= share * soft
        press += spring
        first = share * (1 - share) * soft
        return lowest_root(first, press, lower) / held

    def condensed(self, x: Array, y: Array) -> tuple[Array, Array, Array, Quantity]:
        """Stiffness in (V, W) with the axial amplitude taken out.

        Args:
            x: squared axial wave number l^2, 1/m2.
            y: squared hoop wave number (n/R)^2, 1/m2.
        Returns:
            k22, k23/(n/R), k33: so that the matrix is [[k22, N k23], [N k23, k33]], N = n/R; and
            the share of W that bends the wall (the rest shears it).
        """
        # Sums of a term in x and one in y are written so that each term stays small: x has one
        # axis of waves, y the other, and only their sums fill the whole net.
        bend = self.px * x + self.py * y
        ratio = x / (self.k11x * x + self.k11y * y)
        coupling = ratio * self.k12
        k22 = self.k22x * x + self.k22y * y
        k22 -= (y * self.k12) * coupling
        if self.rigid_in_shear:
            along = bend + self.p0
            k23 = (self.rx * x + self.r0) + self.ry * y
            k23 -= coupling * along
            k33 = x * (self.sx + self.sxx * x) + (self.s0 + y * (self.sy + self.syy * y))
            k33 += (self.sxy * x) * y
            along *= along
            along *= ratio
            k33 -= along
            return k22, k23, k33, 1.0
        # The deflection C that bends the wall is an unknown of its own; W - C is shear. Pairs of
        # unknowns below, the axial amplitude taken out of each; then C is taken out as well.
        vc = self.rx * x + self.ry * y
        vc -= coupling * bend
        shared = ratio * bend
        wc = (self.sx / 2) * x + (self.sy / 2) * y
        wc -= shared * self.p0
        cc = (self.sxx * x) * x + (self.syy * y) * y
        cc += (self.sxy * x) * y
        shared *= bend
        cc -= shared
        shear = self.shear_x * x + self.shear_y * y
        both = cc + shear
        bent = shear / both
        slip = vc / both
        vc *= slip
        vc *= y
        k22 -= vc
        slip *= shear - wc
        slip += self.r0
        coupling *= self.p0
        slip -= coupling
        cc += wc
        cc += wc
        cc *= shear
        wc *= wc
        cc -= wc
        cc /= both
        ratio *= -(self.p0**2)
        ratio += self.s0
        ratio += cc
        return k22, slip, ratio, bent

    @property
    def bows(self) -> bool:
        """Whether the skin bows between the ribs."""
        return bool(np.any(np.asarray(self.soft) > 0))

    @property
    def rigid_in_shear(self) -> bool:
        """Whether transverse shear is left out."""
        return bool(np.all(np.isinf(self.shear_x)))


def wave_stiffness(
    A: Array, B: Array, D: Array, radius: Quantity, theory: Theory = LINE_ELEMENT,
    shear: tuple[Quantity, Quantity] = (np.inf, np.inf),
    lost: Quantity = 0.0, skin: Quantity = 1.0, poisson: Quantity = 0.0, pocket: Quantity = 0.0,
) -> WaveStiffness:
    """Coefficients of the wave matrix of a wall on a cylinder.

    Coupling of stretching and bending with shear and twist (16 and 26 terms) is left out: it is
    zero for every balanced pattern.

    With the theory "Donnell" the condensed matrix reproduces NASA/SP-8007-2020/REV 2,
    Eq. 52-59 (the same terms as in its 1968 edition).

    Args:
        A, B, D: (..., 3, 3), N/m, N, N m, about the reference surface.
        radius: of the reference surface, m.
        theory: which curvature terms to keep.
        shear: transverse shear stiffness of the wall along and round the tube, N/m; infinite
            leaves its shear out, as the published equations do.
        lost: share of the skin's hoop stiffness that bowing between the ribs takes
            (`gridshell.wall.stiffness.skin_bowing`); 0 leaves it out.
        skin: stretching stiffness E t/(1 - v^2) of the skin alone, N/m.
        poisson: of the skin. pocket: its area between ribs, m2.
    """
    a, b, c, d = theory.a, theory.b, theory.c, theory.d
    r = radius
    A11, A12, A22, A66 = A[..., 0, 0], A[..., 0, 1], A[..., 1, 1], A[..., 2, 2]
    B11, B12, B22, B66 = B[..., 0, 0], B[..., 0, 1], B[..., 1, 1], B[..., 2, 2]
    D11, D12, D22, D66 = D[..., 0, 0], D[..., 0, 1], D[..., 1, 1], D[..., 2, 2]
    free = A11 - A12 * A12 / A22
    return WaveStiffness(
        k11x=A11,
        k11y=A66 - 2 * d * B66 / r + d**2 * D66 / r**2,
        k12=A12 + A66 + (a * B12 + (c - d) * B66) / r - c * d * D66 / r**2,
        p0=A12 / r + b * B12 / r**2,
        px=B11 + 0.0,
        py=B12 + 2 * B66 - 2 * d * D66 / r,
        k22x=A66 + 2 * c * B66 / r + c**2 * D66 / r**2,
        k22y=A22 + 2 * a * B22 / r + a**2 * D22 / r**2,
        r0=A22 / r + (a + b) * B22 / r**2 + a * b * D22 / r**3,
        rx=B12 + 2 * B66 + (a * D12 + 2 * c * D66) / r,
        ry=B22 + a * D22 / r,
        s0=A22 / r**2 + 2 * b * B22 / r**3 + b**2 * D22 / r**4,
        sx=2 * B12 / r + 2 * b * D12 / r**2,
        sy=2 * B22 / r + 2 * b * D22 / r**2,
        sxx=D11 + 0.0,
        sxy=2 * D12 + 4 * D66,
        syy=D22 + 0.0,
        shear_x=shear[0],
        shear_y=shear[1],
        radius=r,
        soft=lost * r**2 / skin,
        pocket=pocket,
        skin=skin,
        skin_poisson=poisson,
        skin_along=skin / A11,
        skin_round=skin / A22,
        # Axial stress before buckling: free to contract round the tube.
        high_along=theory.depth * (B11 - A12 * B12 / A22) / (free * r),
        deep_along=theory.depth * D11 / (free * r**2),
        high_shear=theory.depth * B66 / (A66 * r),
        deep_shear=theory.depth * D66 / (A66 * r**2),
        theory=theory,
    )
