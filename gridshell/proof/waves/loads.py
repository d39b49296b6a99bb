"""Stress of a tube of unit cells under each load, before it buckles; and its EA, EI and GJ.

Opposite sides of the cell are tied together: with no phase for loads that are the same in every
cell, with a phase of one turn round the tube for bending.
"""

from __future__ import annotations

from functools import cached_property
from typing import Any

import numpy as np

from gridshell.define.types import Array
from gridshell.proof.waves.cell import StressState, TubeCell


class Ties:
    """How the unknowns of opposite sides of the cell hang together."""

    def __init__(self, model: TubeCell) -> None:
        from scipy.spatial import cKDTree

        cell, where = model.cell, np.asarray(model.basis.doflocs)
        span = np.array([cell.along_axis, cell.round_hoop])
        on_far = np.abs(where[:2] - span[:, None]) < 1e-7 * span[:, None]
        step = on_far.astype(int)
        home = where.copy()
        home[:2] -= step * span[:, None]
        # Components apart, so that the nearest place is the same component.
        apart = np.vstack([home, model.component * 10 * span.max()])
        tree = cKDTree(np.vstack([where, model.component * 10 * span.max()])[
            :, ~on_far.any(axis=0)].T)
        masters = np.flatnonzero(~on_far.any(axis=0))
        distance, found = tree.query(apart.T)
        if distance.max() > 1e-6 * span.max():
            raise RuntimeError("opposite sides of the cell do not match")
        self.column = found
        self.masters = masters
        self.step = step
        self.count = len(masters)

    def matrix(self, phase_x: float, phase_y: float) -> Any:
        """Sparse (unknowns, independent unknowns) for given phase turns over the cell."""
        from scipy.sparse import csr_matrix

        value = np.exp(1j * (phase_x * self.step[0] + phase_y * self.step[1]))
        if phase_x == 0 and phase_y == 0:
            value = value.real
        size = len(self.column)
        return csr_matrix((value, (np.arange(size), self.column)), shape=(size, self.count))


class LoadedTube:
    """A tube made of one kind of cell: its stiffness and its states of stress.

    Attributes:
        model: the cell.
        length: of the tube, m.
        ties: between opposite sides of the cell.
        cells_round: cells round the tube.
    """

    def __init__(self, model: TubeCell, length: float) -> None:
        self.model, self.length = model, length
        self.ties = Ties(model)
        self.cells_round = round(2 * np.pi * model.cell.radius / model.cell.round_hoop)

    def _solve(self, force: Array, tie: Any, pinned: Array) -> Array:
        """Static displacement under forces, with some independent unknowns held."""
        k = (tie.conj().T @ self.model.stiffness @ tie).tocsc()
        free = np.setdiff1d(np.arange(k.shape[0]), pinned)
        right = tie.conj().T @ force
        found = np.zeros(k.shape[0], dtype=np.result_type(k.dtype, right.dtype))
        factor = factored(k[free][:, free])
        found[free] = factor.solve(right[free])
        return np.asarray(tie @ found)

    def _pins(self, components: tuple[int, ...]) -> Array:
        return np.array([
            np.flatnonzero(self.model.component[self.ties.masters] == c)[0] for c in components
        ])

    @cached_property
    def _repeating(self) -> Any:
        return self.ties.matrix(0.0, 0.0)

    def _uniform(self, given: Array, force: Array | None = None) -> Array:
        """Stress of a strain (and force) that is the same in every cell."""
        right = self.model.load_of(given)
        if force is not None:
            right = right + force
        moved = self._solve(right, self._repeating, self._pins((0, 1)))
        return self.model.stress_of(moved, given)

    @cached_property
    def _axial(self) -> tuple[Array, float]:
        """Stress of unit axial strain, radius free, and the force of the whole tube, N (EA)."""
        given = np.zeros((*self.model.y.shape, 6))
        given[..., 0] = 1.0
        stress = self._uniform(given)
        return stress, self.model.mean_stress(stress, 0) * self.cells_round

    @property
    def EA(self) -> float:
        """Axial stiffness of the whole tube, N."""
        return self._axial[1]

    def compression(self) -> StressState:
        """Unit axial compression of the whole tube, 1 N."""
        stress, force = self._axial
        return StressState(-stress / force, 0.0, 1.0)

    def pressure(self, on_ends: bool) -> StressState:
        """Unit external pressure, 1 Pa, dead ends free or closed.

        On the face without ribs (inside, as suction, when the ribs are outside): the difference
        is a uniform squeeze of the material by the pressure itself.
        """
        model = self.model
        none = np.zeros((*model.y.shape, 6))
        stress = self._uniform(none, -model.push())
        axial, stiffness = self._axial
        force = model.mean_stress(stress, 0) * self.cells_round
        radius = model.cell.radius - model.cell.side * model.cell.thickness / 2
        wanted = -np.pi * radius**2 if on_ends else 0.0
        return StressState(stress + axial * ((wanted - force) / stiffness), 1.0, 1.0)

    @cached_property
    def _twist(self) -> tuple[Array, float]:
        """Stress of unit twist per length, and the torque (GJ)."""
        model = self.model
        given = np.zeros((*model.y.shape, 6))
        given[..., 5] = model.cell.radius + model.z
        stress = self._uniform(given)
        energy = model.energy(stress, given) * self.cells_round / model.cell.along_axis
        return stress, energy

    @property
    def GJ(self) -> float:
        """Torsional stiffness of the whole tube, N m2."""
        return self._twist[1]

    def torsion(self) -> StressState:
        """Unit torque, 1 N m."""
        stress, stiffness = self._twist
        return StressState(stress / stiffness, 0.0, 1.0)

    @cached_property
    def _bend(self) -> tuple[Array, float]:
        """Complex stress of unit curvature and the moment (EI)."""
        model = self.model
        angle = model.y / model.cell.radius
        given = np.zeros((*model.y.shape, 6), dtype=complex)
        given[..., 0] = (model.cell.radius + model.z) * np.exp(1j * angle)
        tie = self.ties.matrix(0.0, 2 * np.pi / self.cells_round)
        moved = self._solve(model.load_of(given), tie, self._pins((0, 1)))
        stress = model.stress_of(moved, given)
        energy = model.energy(stress, given) * self.cells_round / 2 / model.cell.along_axis
        return stress, energy

    @property
    def EI(self) -> float:
        """Bending stiffness of the whole tube, N m2."""
        return self._bend[1]

    def bending(self) -> StressState:
        """Unit moment, 1 N m; greatest compression at angle zero of cell zero."""
        stress, stiffness = self._bend
        return StressState(-stress / stiffness, 0.0, 1.0)


def factored(matrix: Any) -> Any:
    """Factor of a sparse hermitian positive definite matrix."""
    import scipy.sparse.linalg as sparse

    return sparse.splu(
        matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
