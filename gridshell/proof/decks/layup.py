"""Three plies with the A, B, D of a ribbed wall, for programs that know no general section."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array, Quantity

_FACES, _INNER = 12, 10  # of the grids of faces that are tried


@dataclass(frozen=True)
class Layup:
    """Plies from the lowest z up, each orthotropic in plane stress with its axes along the tube.

    Attributes:
        bottom: z of the lowest face, m.
        thickness: of each ply, m, (3,).
        stiffness: plane-stress stiffness of each ply, Pa, (3, 3, 3).
    """

    bottom: float
    thickness: Array
    stiffness: Array

    @property
    def matrices(self) -> tuple[Array, Array, Array]:
        """A, B, D of the plies, N/m, N, N m."""
        z = self.bottom + np.concatenate([[0.0], np.cumsum(self.thickness)])
        A, B, D = (np.einsum("k,kij->ij", np.diff(z**n) / n, self.stiffness) for n in (1, 2, 3))
        return A, B, D

    def constants(self, ply: int) -> tuple[float, float, float, float]:
        """E along, E round (Pa), Poisson's ratio of pulling along, G (Pa) of a ply."""
        q = self.stiffness[ply]
        return (float(q[0, 0] - q[0, 1] ** 2 / q[1, 1]), float(q[1, 1] - q[0, 1] ** 2 / q[0, 0]),
                float(q[0, 1] / q[1, 1]), float(q[2, 2]))


def layup(wall: tuple[Array, Array, Array]) -> Layup:
    """Three plies that reproduce A, B, D exactly, each of them with positive stiffness.

    Three plies of given faces have as many entries as A, B, D: a linear system. The faces are
    those, of a grid about the wall's own depth, that leave the softest ply as stiff as can be.

    Args:
        wall: A, B, D, each (3, 3), N/m, N, N m, balanced (no 16 and 26 entries).

    Raises:
        InputError: no three plies of positive stiffness have these A, B, D.
    """
    A, B, D = wall
    # Faces in units of the wall's own: where its stress lies on the mean, and how far it spreads.
    middle = float((B[0, 0] + B[1, 1]) / (A[0, 0] + A[1, 1]))
    spread = float(np.sqrt(max((D[0, 0] + D[1, 1]) / (A[0, 0] + A[1, 1]) - middle**2, 0.0)))
    if not spread > 0:
        raise InputError("A, B, D of the wall are those of no plies: its bending stiffness is nil")
    grid, inner = np.linspace(0.3, 8.0, _FACES), np.linspace(0.04, 0.96, _INNER)
    low, high, one, two = (part.ravel() for part in np.meshgrid(
        grid, grid, inner, inner, indexing="ij"))
    keep = two > one + 0.02
    low, high, one, two = low[keep], high[keep], one[keep], two[keep]
    faces = np.stack([-low, -low + one * (low + high), -low + two * (low + high), high], axis=1)
    softest = _softest(_plies(faces, wall, middle, spread), A)
    best = faces[int(np.argmax(softest))]
    # Four digits, which every format has room for; the plies make up for what that moves.
    bottom, thick = _short(middle + spread * best[0]), _short(spread * np.diff(best))
    z = (np.concatenate([[0.0], np.cumsum(thick)]) + bottom - middle) / spread
    plies = _plies(z[None], wall, middle, spread)
    if not _softest(plies, A)[0] > 0:
        raise InputError(
            "no three plies of positive stiffness have the A, B, D of this wall")
    return Layup(float(bottom), thick, plies[0] / spread)


def _plies(
    faces: Array, wall: tuple[Array, Array, Array], middle: float, spread: float
) -> Array:
    """Stiffness of the plies between faces (k, 4), in units of ``spread`` from ``middle`` on."""
    A, B, D = wall
    moments = np.stack(
        [np.diff(faces**n, axis=1) / n for n in (1, 2, 3)], axis=1)  # (k, 3, plies)
    wanted = np.stack([
        A, (B - middle * A) / spread, (D - 2 * middle * B + middle**2 * A) / spread**2])
    return np.asarray(np.linalg.solve(moments, wanted.reshape(1, 3, 9)).reshape(-1, 3, 3, 3))


def _softest(plies: Array, A: Array) -> Array:
    """Lowest eigenvalue of any ply over the wall's own stiffness, (k,)."""
    size = np.array([A[0, 0], A[1, 1], A[2, 2]]) ** -0.5
    return np.asarray(np.linalg.eigvalsh(plies * np.outer(size, size)).min(axis=(1, 2)))


def _short(value: Quantity) -> Array:
    return np.array([float(f"{one:.3e}") for one in np.ravel(value)]).reshape(np.shape(value))
