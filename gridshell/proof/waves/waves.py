"""Waves of a tube of unit cells: buckling loads, and what a mode looks like.

Every mode of a tube of equal cells is a wave: from cell to cell it only turns its phase (Bloch's
theorem), by k times the cell's length along and n times its angle round. Each cell of these
patterns is its own mirror image along the axis, so the waves with +k and -k of one load add up to
one that is round at both ends and free to move along there: k = m pi/L gives the modes of a tube
of length L between such ends exactly, with every rib in place.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.types import Array, IntArray
from gridshell.proof.waves.cell import TubeCell
from gridshell.proof.waves.loads import LoadedTube, factored

GENERAL_SHARE = 0.5  # a mode is general when this much of its motion is the smooth wave


@dataclass(frozen=True)
class WaveMode:
    """One buckling wave.

    Attributes:
        load: N (compression), Pa (pressure), N m (torsion).
        m: half waves along (wave number over pi/L; need not be whole for torsion).
        n: waves round that dominate the motion of a general mode.
        share: of the skin's radial motion that is the smooth wave, 0 to 1.
        shape: displacement of the cell (unknowns,), complex.
        phase: turns over the cell along and round, rad.
    """

    load: float
    m: float
    n: int
    share: float
    shape: Array
    phase: tuple[float, float]

    @property
    def is_general(self) -> bool:
        """Whether the whole wall waves, rather than skin pockets or ribs between nodes."""
        return self.share >= GENERAL_SHARE


def largest_ratios(work: Array, stiffness: Array, m: float, n: int) -> tuple[Array, Array]:
    """Eigenvalues and vectors of work over stiffness, the largest last.

    Args:
        work: per unit load, (k, k).
        stiffness: of the same shapes, positive, (k, k).
        m: half waves along, for the message.
        n: waves round, likewise.

    Raises:
        InputError: rounding has left the shapes without stiffness: nothing can be said.
    """
    from scipy.linalg import LinAlgError, eigh

    try:
        value, vector = eigh(work, stiffness)
    except (LinAlgError, ValueError) as error:
        raise InputError(
            f"prove --whole: the wave with {m:g} half waves along and {n} round has no stiffness "
            "that rounding leaves certain (skin or ribs very thin against the radius); take "
            "'gridshell prove FILE --full', or a thicker skin"
        ) from error
    return value, vector


@dataclass(frozen=True)
class SmoothWave:
    """Shapes of the cell under smooth forces; see `WaveTube.smooth`.

    Attributes:
        m: half waves along.
        n: waves round.
        phase: turns over the cell along and round, rad.
        shapes: displacements of the cell, (unknowns, 3), complex.
        stiffness: energies of pairs of shapes, (3, 3), N m.
    """

    m: float
    n: int
    phase: tuple[float, float]
    shapes: Array
    stiffness: Array


class WaveTube(LoadedTube):
    """A tube made of one kind of cell: its buckling waves in each state of stress."""

    def __init__(self, model: TubeCell, length: float) -> None:
        super().__init__(model, length)
        self._smooth_waves: dict[tuple[float, int], SmoothWave] = {}

    def phases(self, m: float, n: float) -> tuple[float, float]:
        """Turns over one cell of m half waves along the tube and n waves round it, rad."""
        return (m * np.pi / self.length * self.model.cell.along_axis,
                n * 2 * np.pi / self.cells_round)

    def smooth(self, m: float, n: int) -> SmoothWave:
        """The cell moved by the smooth wave (m, n): three shapes, and their stiffness (kept)."""
        key = (float(m), int(n))
        if n < 0 and key not in self._smooth_waves:
            self._smooth_waves[key] = self._mirrored(self.smooth(m, -n))
        if key not in self._smooth_waves:
            phase = self.phases(m, n)
            tie = self.ties.matrix(*phase)
            k = (tie.conj().T @ self.model.stiffness @ tie).tocsc()
            forces = tie.conj().T @ self._wave_forces(phase)
            shapes = tie @ factored(k).solve(np.asarray(forces, dtype=k.dtype))
            self._smooth_waves[key] = SmoothWave(
                m, n, phase, np.asarray(shapes),
                shapes.conj().T @ (self.model.stiffness @ shapes),
            )
        return self._smooth_waves[key]

    @cached_property
    def _mirror(self) -> Array:
        """Where each unknown finds itself when the cell is mirrored in the hoop direction."""
        from scipy.spatial import cKDTree

        where, component = np.asarray(self.model.basis.doflocs), self.model.component
        span = self.model.cell.round_hoop
        apart = component * 10 * max(span, self.model.cell.along_axis)
        tree = cKDTree(np.vstack([where, apart]).T)
        flipped = np.vstack([where[0], span - where[1], where[2], apart])
        distance, found = tree.query(flipped.T)
        if distance.max() > 1e-6 * span:
            raise RuntimeError("the cell is not its own mirror image")
        return np.asarray(found)

    def _mirrored(self, wave: SmoothWave) -> SmoothWave:
        """The wave that leans the other way: cell, shapes and all seen in a mirror."""
        signs = np.where(self.model.component == 1, -1.0, 1.0)[:, None]
        turn = np.exp(-1j * wave.phase[1])
        flip = np.array([1.0, -1.0, 1.0])  # the hoop force itself changes sign
        shapes = turn * signs * wave.shapes[self._mirror] * flip
        stiffness = wave.stiffness * np.outer(flip, flip)
        return SmoothWave(wave.m, -wave.n, (wave.phase[0], -wave.phase[1]), shapes, stiffness)

    def _wave_forces(self, phase: tuple[float, float]) -> Array:
        """Body forces axial, hoop and outward, each the smooth wave, (unknowns, 3)."""
        cell, where = self.model.cell, np.asarray(self.model.basis.doflocs)
        wave = np.exp(1j * (phase[0] * where[0] / cell.along_axis
                            + phase[1] * where[1] / cell.round_hoop))
        wave = wave * self.model.lumped
        return np.stack([wave * (self.model.component == k) for k in range(3)], axis=1)

    def general(self, matrix: Any, m: float, n: int) -> WaveMode:
        """General instability in one wave, as if skin and ribs did not buckle by themselves.

        Ritz's method over the shapes that the cell takes when the smooth wave is forced on it
        along the axis, round and outward: every rib, fillet and the give of the skin between
        ribs are in them. An upper bound; `modes` gives the exact load, in which pockets near
        their own buckling help.
        """
        wave = self.smooth(m, n)
        g = wave.shapes.conj().T @ (matrix @ wave.shapes)
        value, vector = largest_ratios(-g, wave.stiffness, m, n)
        load = 1 / float(value[-1]) if value[-1] > 0 else np.inf
        return WaveMode(load, m, n, 1.0, wave.shapes @ vector[:, -1], wave.phase)

    def torsional(self, matrix: Any, m: float, n: int) -> WaveMode:
        """General instability in torsion: two helices of equal height that cancel at the ends.

        cos((l + h) x - n t) - cos((l - h) x - n t), h = pi/L, l = m h: the same stand-in for the
        real ends as in the formula (`gridshell.tube.buckling.waves.torsion_load`), an upper bound.
        """
        from scipy.linalg import block_diag, null_space

        best: WaveMode | None = None
        for turn in (1, -1):  # which way the helix leans
            pair = [self.smooth(m + 1, turn * n), self.smooth(m - 1, turn * n)]
            heights = [self._height(wave) for wave in pair]
            free = null_space(np.concatenate([heights[0], -heights[1]])[None, :])
            k = block_diag(*(wave.stiffness for wave in pair))
            g = block_diag(*(wave.shapes.conj().T @ (matrix @ wave.shapes) for wave in pair))
            value, vector = largest_ratios(
                -free.conj().T @ g @ free, free.conj().T @ k @ free, m, turn * n)
            if value[-1] > 0 and (best is None or 1 / value[-1] < best.load):
                part = (free @ vector[:, -1])[:3]
                best = WaveMode(1 / float(value[-1]), m, n, 1.0, pair[0].shapes @ part,
                            self.phases(m, turn * n))
        if best is None:
            raise RuntimeError("no torsional wave buckles")
        return best

    def _height(self, wave: SmoothWave) -> Array:
        """Mean outward height of each shape of a smooth wave, (3,)."""
        on, x, y = self._skin
        cell = self.model.cell
        phase = np.exp(-1j * (wave.phase[0] * x / cell.along_axis
                              + wave.phase[1] * y / cell.round_hoop))
        area = self._tributary
        return np.asarray((area * phase) @ wave.shapes[on] / area.sum())

    def modes(self, matrix: Any, m: float, n: int, count: int = 1) -> list[WaveMode]:
        """Lowest buckling loads of one phase, for a stress matrix of unit load, local ones too.

        Args:
            matrix: from `TubeCell.stress_matrix` (real state).
            m: half waves along.
            n: waves round; n, n + cells round, and so on share a phase and are all found.
            count: how many.
        """
        import scipy.sparse.linalg as sparse

        phase = self.phases(m, n)
        tie = self.ties.matrix(*phase)
        k = (tie.conj().T @ self.model.stiffness @ tie).tocsc()
        g = (tie.conj().T @ matrix @ tie).tocsr()
        factor = factored(k)
        inverse = sparse.LinearOperator(k.shape, matvec=factor.solve, dtype=k.dtype)
        size = k.shape[0]
        start = np.random.default_rng(0).standard_normal(size) + 0j
        value, vector = sparse.eigsh(
            -g, k=count, M=k, Minv=inverse, which="LA", v0=start, tol=1e-4,
            ncv=max(20, 4 * count),
        )
        order = np.argsort(-value)
        found = []
        for index in order:
            if value[index] <= 0:
                continue
            shape = np.asarray(tie @ vector[:, index])
            wave, share = self._share(shape, phase, n)
            found.append(WaveMode(1 / float(value[index]), m, wave, share, shape, phase))
        return found

    @cached_property
    def _skin(self) -> tuple[IntArray, Array, Array]:
        """Radial unknowns on the smooth face: index and place (x, y)."""
        model = self.model
        height = -model.cell.side * model.cell.thickness / 2
        where = np.asarray(model.basis.doflocs)
        on = np.flatnonzero(
            (np.abs(where[2] - height) < 1e-6 * model.cell.thickness) & (model.component == 2)
        )
        return on, where[0, on], where[1, on]

    def skin_motion(self, mode: WaveMode) -> tuple[Array, Array]:
        """Places (points, 2) in the cell, axial and hoop, and complex outward motion of the skin.

        Turned so that the smooth wave of the mode is real at the cell's corner.
        """
        on, x, y = self._skin
        cell = self.model.cell
        phase = np.exp(-1j * (mode.phase[0] * x / cell.along_axis
                              + mode.phase[1] * y / cell.round_hoop))
        height = mode.shape[on]
        mean = np.sum(self._tributary * height * phase)
        if np.abs(mean) > 0:
            height = height * (np.conj(mean) / np.abs(mean))
        return np.stack([x, y], axis=-1), height

    def _share(self, shape: Array, phase: tuple[float, float], n: int) -> tuple[int, float]:
        """Which wave round it is, and the share of it in the radial motion of the skin."""
        on, x, y = self._skin
        cell = self.model.cell
        w = shape[on]
        # The mesh crowds at the ribs, so weigh by tributary area.
        area = self._tributary
        best = (n, 0.0)
        total = float(np.sum(area * np.abs(w) ** 2))
        for turn in (-1, 0, 1):
            angle = phase[1] + turn * 2 * np.pi
            wave = np.exp(1j * (phase[0] * x / cell.along_axis + angle * y / cell.round_hoop))
            mean = np.sum(area * w * wave.conj()) / np.sum(area)
            share = float(np.abs(mean) ** 2 * np.sum(area) / total)
            if share > best[1]:
                best = (abs(n + turn * self.cells_round), share)
        return best

    @cached_property
    def _tributary(self) -> Array:
        """Area of the smooth face that each of its radial unknowns stands for."""
        model = self.model
        basis, _ = model.face()
        on = self._skin[0]
        number = np.full(model.count, -1)
        number[on] = np.arange(len(on))
        area = np.zeros(len(on))
        dofs = np.asarray(basis.element_dofs)
        size = np.sum(np.asarray(basis.dx), axis=1)
        for k in range(dofs.shape[0]):
            there = number[dofs[k]]
            hit = there >= 0
            np.add.at(area, there[hit], size[hit] / 8)
        return area
