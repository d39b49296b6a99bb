"""General instability of a tube of solid cells in pure bending.

The stress of bending goes with cos(theta), so it couples each wave round with its neighbours
n - 1 and n + 1; waves of different length along stay apart, because the moment is the same in
every section. Ritz's method over the smooth waves of all n up to a limit.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array
from gridshell.proof.waves.waves import WaveTube, largest_ratios


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
    stiffness, work = bending_matrices(tube, m, most_round)
    value, vector = largest_ratios(-work, stiffness, m, most_round)
    best = vector[:, -1]
    blocks = best.reshape(-1, 3)
    energy = np.array([
        np.real(blocks[k].conj() @ stiffness[3 * k:3 * k + 3, 3 * k:3 * k + 3] @ blocks[k])
        for k in range(len(blocks))
    ])
    load = 1 / float(value[-1]) if value[-1] > 0 else np.inf
    return load, np.asarray(energy / energy.sum())
