"""One solid cell of the tube on its true radius, ready for waves: stiffness, stresses, their work.

A tube of equal cells is known from one of them. This module builds the whole cell from the quarter
of `cell_mesh`, its matrices before any tie between opposite sides, and the stress of every
load of the tube. Components are axial, hoop, outward at every point of the cylinder, so turning
from cell to cell needs no rotation.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from gridshell.define.types import Array, IntArray
from gridshell.proof.cell.geometry import Cell, Resolution
from gridshell.proof.cell.homogenize import dof_components, elasticity, finite_elements
from gridshell.proof.cell.mesh import quarter_cell

# Corners of a hexahedron in skfem's order as (i, j, k), and where a mirror image finds them.
_BITS = np.array([[0, 0, 0], [0, 0, 1], [0, 1, 0], [1, 0, 0],
                  [0, 1, 1], [1, 0, 1], [1, 1, 0], [1, 1, 1]])
_FLIPPED = np.array([np.flatnonzero((_BITS == np.abs(row - [1, 0, 0])).all(1))[0]
                     for row in _BITS])
_CHUNK = 200  # elements treated at once, to keep memory small


@dataclass(frozen=True)
class StressState:
    """Stress of one load, at the quadrature points, and what goes with it.

    Attributes:
        stress: (elements, points, 6) xx, yy, zz, yz, xz, xy, Pa; complex for bending (times
            exp(i theta of the cell), real part).
        follower: pressure on the smooth face that turns with it, Pa (0 for dead loads).
        total: the load itself: N, N m or Pa.
    """

    stress: Array
    follower: float
    total: float


class TubeCell:
    """Finite-element model of one whole cell of a tube.

    Attributes:
        cell: dimensions.
        count: unknowns before ties.
        points: (3, n) places of the mesh corners: axial, hoop arc at the middle surface, height.
    """

    def __init__(self, cell: Cell, modulus: float, poisson: float, size: Resolution) -> None:
        """Build mesh and stiffness.

        Raises:
            MissingPackage: scikit-fem is not installed.
            InputError: the cell can't be meshed.
        """
        skfem = finite_elements()
        self.cell, self.modulus, self.poisson = cell, modulus, poisson
        self.points, corners = _whole_cell(cell, size)
        self.mesh = skfem.MeshHex(self.points, corners)
        self.basis = skfem.Basis(
            self.mesh, skfem.ElementVector(skfem.ElementHexS2()), intorder=4
        )
        self.count = int(self.basis.N)
        self._dofs = np.asarray(self.basis.element_dofs)
        self._c = elasticity(modulus, poisson)
        place = np.asarray(self.basis.global_coordinates())
        self.y, self.z = place[1], place[2]  # (elements, points)
        self._g = 1 + self.z / cell.radius
        self.volume = np.asarray(self.basis.dx) * self._g
        shapes = [entry[0] for entry in self.basis.basis]
        self._value = np.stack([np.asarray(s) for s in shapes])  # (60, 3, elements, points)
        self._grad = np.stack([s.grad for s in shapes])  # (60, 3, 3, elements, points)
        self.component = dof_components(self.basis)

    @cached_property
    def lumped(self) -> Array:
        """Volume that each unknown stands for, m3."""
        part = np.einsum("ncem,em->ne", self._value, self.volume)
        found = np.zeros(self.count)
        np.add.at(found, self._dofs, part)
        return found

    def slopes(self, part: slice) -> Array:
        """True displacement gradients of the shape functions, (e, q, 9, 60), row 3*comp + dir."""
        grad, value = self._grad[:, :, :, part], self._value[:, :, part]
        g, bend = self._g[part], 1 / self.cell.radius
        h = grad.copy()
        h[:, 0, 1] /= g
        h[:, 1, 1] = (h[:, 1, 1] + value[:, 2] * bend) / g
        h[:, 2, 1] = (h[:, 2, 1] - value[:, 1] * bend) / g
        return np.ascontiguousarray(
            h.reshape(len(h), 9, *g.shape).transpose(2, 3, 1, 0)
        )

    @staticmethod
    def strains(slopes: Array) -> Array:
        """Six engineering strains from the nine gradients, along axis -2."""
        rows = [(0,), (4,), (8,), (5, 7), (2, 6), (1, 3)]
        return np.stack([sum(slopes[..., k, :] for k in row) for row in rows], axis=-2)

    def _parts(self) -> list[slice]:
        return [slice(first, first + _CHUNK) for first in range(0, len(self.y), _CHUNK)]

    def _gather(self, blocks: list[Array]) -> Any:
        from scipy.sparse import coo_matrix

        entries = np.concatenate(blocks)  # (elements, 60, 60)
        dofs = self._dofs.T
        rows = np.broadcast_to(dofs[:, :, None], entries.shape).ravel()
        columns = np.broadcast_to(dofs[:, None, :], entries.shape).ravel()
        return coo_matrix(
            (entries.ravel(), (rows, columns)), shape=(self.count, self.count)
        ).tocsr()

    @cached_property
    def stiffness(self) -> Any:
        """Stiffness matrix of the free cell."""
        blocks = []
        for part in self._parts():
            b = self.strains(self.slopes(part))
            cb = np.einsum("ij,eqjn->eqin", self._c, b) * self.volume[part][..., None, None]
            blocks.append(_contract(b, cb))
        return self._gather(blocks)

    def stress_matrix(self, state: StressState) -> Any:
        """Second variation of the work of a stress state: positive where tension stiffens.

        Integral of stress_ij u_k,i u_k,j, and of the follower pressure its second-order volume
        p (w^2 + v^2 + w v,t - v w,t + 2 r w u,x)/r over the smooth face: the enclosed volume
        of the deformed cylinder to second order, with what is constant at the ends left out.
        """
        index = np.array([[0, 5, 4], [5, 1, 3], [4, 3, 2]])
        blocks = []
        for part in self._parts():
            h = self.slopes(part)
            tensor = state.stress[part][..., index] * self.volume[part][..., None, None]
            moved = np.empty(h.shape, dtype=tensor.dtype)
            for k in range(3):
                rows = slice(3 * k, 3 * k + 3)
                moved[:, :, rows] = np.einsum("eqij,eqjn->eqin", tensor, h[:, :, rows])
            blocks.append(_contract(h, moved))
        matrix = self._gather(blocks)
        if state.follower:
            matrix = matrix + state.follower * self._face_volume
        return matrix

    def face(self) -> tuple[Any, float]:
        """Facet basis of the smooth face (no ribs) and its radius."""
        skfem = finite_elements()
        height = -self.cell.side * self.cell.thickness / 2
        on_face = self.mesh.facets_satisfying(
            lambda x: np.abs(x[2] - height) < 1e-6 * self.cell.thickness, boundaries_only=True
        )
        basis = skfem.FacetBasis(
            self.mesh, skfem.ElementVector(skfem.ElementHexS2()), facets=on_face, intorder=4
        )
        return basis, self.cell.radius + height

    @cached_property
    def _face_volume(self) -> Any:
        """Second variation of the enclosed volume of the smooth face, m per unit (u, v)."""
        skfem = finite_elements()
        basis, radius = self.face()
        scale = self.cell.radius  # y is arc at this radius: d/dtheta = scale d/dy

        @skfem.BilinearForm
        def volume(a: Any, b: Any, w: Any) -> Any:
            def half(p: Any, q: Any) -> Any:
                u, dq = np.asarray(p), q.grad
                return (
                    u[2] * np.asarray(q)[2] + u[1] * np.asarray(q)[1]
                    + u[2] * dq[1, 1] * scale - u[1] * dq[2, 1] * scale
                    + 2 * radius * u[2] * dq[0, 0]
                )
            return (half(a, b) + half(b, a)) / (2 * scale)

        return volume.assemble(basis).tocsr()

    def push(self) -> Array:
        """Load vector of unit outward pressure on the smooth face, N/Pa."""
        skfem = finite_elements()
        basis, radius = self.face()

        @skfem.LinearForm
        def work(v: Any, w: Any) -> Any:
            return np.asarray(v)[2] * radius / self.cell.radius

        return np.asarray(work.assemble(basis))

    def stress_of(self, displacement: Array, given: Array) -> Array:
        """Stress (elements, points, 6) of a displacement plus a given strain."""
        found = np.empty((*self.y.shape, 6), dtype=displacement.dtype)
        for part in self._parts():
            b = self.strains(self.slopes(part))
            found[part] = np.einsum("eqin,en->eqi", b, displacement[self._dofs.T[part]])
        return (found + given) @ self._c

    def load_of(self, given: Array) -> Array:
        """Nodal forces that hold a given strain, less sign: the right side of a static solve."""
        force = np.zeros(self.count, dtype=given.dtype)
        weighted = (given @ self._c) * self.volume[..., None]
        for part in self._parts():
            b = self.strains(self.slopes(part))
            local = np.einsum("eqin,eqi->en", b, weighted[part])
            np.add.at(force, self._dofs.T[part], local)
        return -force

    def energy(self, stress: Array, strain: Array) -> float:
        """Integral of stress times strain over the cell, N m."""
        return float(np.real(np.sum(np.conj(strain) * stress * self.volume[..., None])))

    def mean_stress(self, stress: Array, component: int) -> float:
        """Mean over the length of the cell of the force that a stress makes on a section, N."""
        return float(np.sum(np.real(stress[..., component]) * self.volume)) / self.cell.along_axis


def _contract(b: Array, cb: Array) -> Array:
    """Sum over points and rows of b (e, q, r, n) times cb (e, q, r, m): (e, n, m)."""
    e, q, r, n = b.shape
    return np.matmul(b.reshape(e, q * r, n).transpose(0, 2, 1), cb.reshape(e, q * r, n))


def _whole_cell(cell: Cell, size: Resolution) -> tuple[Array, IntArray]:
    points, corners = quarter_cell(cell, size)
    half = np.array([cell.along_axis, cell.round_hoop, 0.0])[:, None]
    blocks = []
    for flip_x in (False, True):
        for flip_y in (False, True):
            moved, order = points.copy(), np.arange(8)
            for axis, flip in ((0, flip_x), (1, flip_y)):
                if flip:
                    moved[axis] = half[axis] - moved[axis]
            if flip_x != flip_y:  # a mirror image: keep the corners right-handed
                order = _FLIPPED
            blocks.append((moved, corners[order]))
    return _join(blocks, 1e-6 * min(cell.along_axis, cell.round_hoop, cell.thickness))


def _join(blocks: list[tuple[Array, IntArray]], tolerance: float) -> tuple[Array, IntArray]:
    from scipy.spatial import cKDTree

    points = np.concatenate([p.T for p, _ in blocks])
    starts = np.cumsum([0] + [p.shape[1] for p, _ in blocks[:-1]])
    corners = np.concatenate(
        [c + start for (_, c), start in zip(blocks, starts, strict=True)], axis=1
    )
    first = np.array([min(near) for near in cKDTree(points).query_ball_point(points, tolerance)])
    kept, number = np.unique(first, return_inverse=True)
    return points[kept].T.copy(), number[corners]
