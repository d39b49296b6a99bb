"""Search for the lowest wave of a tube of unit cells, led by shell theory."""

from __future__ import annotations

import numpy as np

from gridshell.define.types import Array
from gridshell.proof.waves.cell import StressState
from gridshell.proof.waves.waves import WaveMode, WaveTube
from gridshell.tube.buckling.general import resultant
from gridshell.tube.buckling.wave_laws import compression_load, pressure_load, torsion_load
from gridshell.tube.buckling.wave_stiffness import WaveStiffness, wave_stiffness
from gridshell.tube.section.stiffness import BeamStiffness, beam_stiffness


class ShellTheory:
    """The project's shell theory on given A, B, D, in the units of the rows.

    Attributes:
        radius: of the skin's middle surface, m.
        length: of the tube, m.
        law: loads of the waves.
        beam: EA, EI, GJ and shear stiffness of the tube.
    """

    def __init__(self, A: Array, B: Array, D: Array, tube: WaveTube) -> None:
        self.radius, self.length = tube.model.cell.radius, tube.length
        self.law: WaveStiffness = wave_stiffness(A, B, D, self.radius)
        self.beam: BeamStiffness = beam_stiffness(A, B, D, self.radius)

    def load(self, load: str, m: float, n: float) -> float:
        """Perfect load of one wave.

        Args:
            load: one of `gridshell.proof.waves.run.LOADS`.
            m: half waves along.
            n: waves round.

        Returns:
            Load of the whole tube, N, N m or Pa.
        """
        x = np.asarray((m * np.pi / self.length) ** 2)
        y = np.asarray((n / self.radius) ** 2)
        scale = float(resultant(load, self.radius))
        if load in ("compression", "bending"):
            return float(compression_load(self.law, x, y)) * scale
        if load == "torsion":
            return float(torsion_load(self.law, np.sqrt(x), y, np.pi / self.length)) * scale
        return float(pressure_load(self.law, x, y, float(load == "hydrostatic")))


def lowest_mode(
    tube: WaveTube, state: StressState, load: str, m: float, n: int, formula: ShellTheory
) -> tuple[WaveMode, str]:
    """Lowest general mode: for each n near the formula's the formula's best m, then downhill.

    Args:
        tube: the tube of unit cells.
        state: stress of the unit load.
        load: its name.
        m: half waves along that the formula finds.
        n: waves round that the formula finds.
        formula: shell theory on the formula's A, B, D.

    Returns:
        The mode, and its waves in words.
    """
    matrix = tube.model.stress_matrix(state)
    twisted = load == "torsion"
    step = 0.5 if twisted else 1.0
    least = 0 if load == "compression" else 2
    known: dict[tuple[float, int], WaveMode] = {}

    def solve(m: float, n: int) -> WaveMode:
        if (m, n) not in known:
            known[m, n] = (tube.torsional(matrix, m, n) if twisted
                           else tube.general(matrix, m, n))
        return known[m, n]

    best: WaveMode | None = None
    trial = np.arange(step, 4 * m + 6, step)
    for around in range(max(least, n - 1), n + 2):
        if around == 1:
            continue  # the column is a row of its own
        along = min(trial, key=lambda k: formula.load(load, k, around))
        found = solve(float(along), around)
        if best is None or found.load < best.load:
            best = found
    assert best is not None
    while True:
        near = [(best.m + step * i, best.n + j) for i, j in ((1, 0), (-1, 0), (0, 1), (0, -1))]
        near = [(i, j) for i, j in near if i >= step and j >= least and j != 1]
        lower = min((solve(i, j) for i, j in near), key=lambda mode: mode.load)
        if lower.load >= best.load:
            return best, f"{best.m:.3g} along, {best.n} round"
        best = lower
