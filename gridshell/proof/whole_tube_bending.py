"""General instability of a tube of solid cells in pure bending.

The stress of bending goes with cos(theta), so it couples each wave round with its neighbours
n - 1 and n + 1; waves of different length along stay apart, because the moment is the same in
every section. Ritz's method over the smooth waves of all n up to a limit.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array
from gridshell.proof.whole_tube_waves import WaveTube
from gridshell.tube.shell import WaveStiffness


def shell_bending_load(law: WaveStiffness, length: float, m: int, most_round: int) -> float:
    """The same by shell theory: moment (N m) at which m half waves along buckle.

    W_n cos(n t), V_n sin(n t), n = 0..most_round; axial amplitudes condensed; the line force
    N cos(t) works as N l^2 (V^2 + W^2) and couples n with n + 1 (D. L. Block, NASA TN D-3351, 1966,
    treats the same problem; title from a list of references, written here from the energy).
    """
    from scipy.linalg import eigh

    n = np.arange(most_round + 1)
    x = (m * np.pi / length) ** 2
    number = n / law.radius
    k22, k23, k33, _ = law.condensed(np.full(len(n), x), number**2)
    size = len(n)
    k = np.zeros((2 * size, 2 * size))  # W first, then V
    k[n, n] = k33 * np.where(n == 0, 2.0, 1.0)  # cos^2 of n = 0 counts twice
    k[size + n, size + n] = k22
    k[n, size + n] = k[size + n, n] = number * k23
    work = np.zeros_like(k)
    for j in range(most_round):
        work[j, j + 1] = work[j + 1, j] = x / 2 * (2.0 if j == 0 else 1.0)
        work[size + j, size + j + 1] = work[size + j + 1, size + j] = (
            law.theory.in_plane * x / 2 * (j > 0)
        )
    keep = np.delete(np.arange(2 * size), size)  # there is no V of n = 0
    value = eigh(work[np.ix_(keep, keep)], k[np.ix_(keep, keep)], eigvals_only=True)
    return float(np.pi * law.radius**2 / value[-1])


def bending_matrices(tube: WaveTube, m: float, most_round: int) -> tuple[Array, Array]:
    """Stiffness and work (per unit moment) over the smooth waves n = -most_round..most_round.

    Both are for the whole ring of cells; a load is 1 over the largest eigenvalue of -work
    against stiffness.
    """
    model, cells = tube.model, tube.cells_round
    numbers = np.arange(-most_round, most_round + 1)
    waves = [tube.smooth(m, int(n)) for n in numbers]
    shapes = np.concatenate([wave.shapes for wave in waves], axis=1)
    class_of = np.repeat(numbers % cells, 3)
    same = class_of[:, None] == class_of[None, :]
    stiffness = np.where(same, shapes.conj().T @ (model.stiffness @ shapes), 0.0) * cells
    bend = model.stress_matrix(tube.bending())  # times exp(i angle of the cell), real part
    up = shapes.conj().T @ (bend @ shapes)
    down = shapes.conj().T @ (bend.conj() @ shapes)
    # Summed over the cells, only phases that differ by one turn of the ring are left.
    rise = (class_of[:, None] - class_of[None, :]) % cells
    work = (np.where(rise == 1, up, 0.0) + np.where(rise == cells - 1, down, 0.0)) * cells / 2
    return stiffness, work


def bending_load(tube: WaveTube, m: float, most_round: int) -> tuple[float, Array]:
    """Lowest moment (N m) with m half waves along, and the amplitudes of its waves.

    Returns:
        The moment, and the share of the strain energy in each wave -most_round..most_round.
    """
    from scipy.linalg import eigh

    stiffness, work = bending_matrices(tube, m, most_round)
    value, vector = eigh(-work, stiffness)
    best = vector[:, -1]
    blocks = best.reshape(-1, 3)
    energy = np.array([
        np.real(blocks[k].conj() @ stiffness[3 * k:3 * k + 3, 3 * k:3 * k + 3] @ blocks[k])
        for k in range(len(blocks))
    ])
    load = 1 / float(value[-1]) if value[-1] > 0 else np.inf
    return load, np.asarray(energy / energy.sum())
