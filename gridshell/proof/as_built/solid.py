"""One tube with an imposed deviation of shape, shortened until its load no longer rises.

The mesh of `gridshell.proof.mesh` (every rib in place, 20-node bricks) is moved outward by the
deviation, its ends are clamped in rigid plates, and CalculiX moves one plate with large
displacements (step \\*STATIC, NLGEOM). The highest load is that of a parabola through the highest
state and its neighbors.
"""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.material.resolve import properties as resolve
from gridshell.proof.cell.compare import cell_of
from gridshell.proof.decks import inp
from gridshell.proof.mesh import deck
from gridshell.proof.mesh.ends import FullTube
from gridshell.proof.mesh.mesh import TubeMesh, tube_mesh
from gridshell.proof.mesh.run import RESOLUTIONS
from gridshell.proof.waves.run import seamless
from gridshell.wall.assess import assess_wall

Shape = Mapping[tuple[int, int], float]  # (half waves along, waves round) -> amplitude, m


@dataclass(frozen=True)
class PushedTube:
    """Load over shortening of one meshed tube.

    Attributes:
        shortening: of each state, m.
        load: of the whole tube, N.
        unknowns: of the mesh.
        seconds: taken.
    """

    shortening: Array
    load: Array
    unknowns: int
    seconds: float

    @property
    def passed(self) -> bool:
        """Whether a state beyond the highest load was reached."""
        return int(np.argmax(self.load)) < len(self.load) - 1

    @property
    def highest(self) -> float:
        """Highest load before it first falls, N."""
        falls = np.flatnonzero(np.diff(self.load) < 0)
        at = int(falls[0]) if len(falls) else len(self.load) - 1
        if at == 0 or at + 1 >= len(self.load):
            return float(self.load[at])
        x, y = self.shortening[at - 1:at + 2], self.load[at - 1:at + 2]
        a, b, c = np.polyfit(x - x[1], y, 2)
        return float(c - b * b / (4 * a)) if a < 0 else float(y[1])


def bent_mesh(mesh: TubeMesh, shape: Shape) -> TubeMesh:
    """The mesh moved outward by sum a sin(m pi x/L) cos(n t)."""
    x, t = mesh.points[:, 0], mesh.angle
    out = np.zeros(len(x))
    for (m, n), height in shape.items():
        out += height * np.sin(m * np.pi * x / mesh.length) * np.cos(n * t)
    points = mesh.points.copy()
    points[:, 1] += out * np.cos(t)
    points[:, 2] += out * np.sin(t)
    return replace(mesh, points=points)


def push(design: Design, shape: Shape, shortening: float, *, resolution: str = "coarse",
         threads: int = 1) -> PushedTube:
    """Shorten a clamped tube with a deviation of shape; see the head of this module.

    Args:
        design: one design; lands and seams are taken as grid.
        shape: of the deviation.
        shortening: at which the highest load is expected, m; quick up to 0.8 of it, in fine steps
            up to 1.3 of it.
        resolution: of the mesh.
        threads: of the solver.
    """
    started = time.perf_counter()
    design = seamless(design)
    known = resolve(design.material, design.folder)
    built = assess_wall(design, known)
    cell = cell_of(design, built.grid)
    mesh = tube_mesh(cell, float(design.tube.length), RESOLUTIONS[resolution])
    # Angles and ends of the perfect tube: the deviation is zero there.
    tube = FullTube(bent_mesh(mesh, shape), cell, known, threads)
    zero = [(*tube.along[0], 0.0), (*tube.tilt[0], 0.0), (*tube.tilt[1], 0.0)]
    text = tube._model("clamped", True, False, zero)  # the ends of `buckle`
    for until, states in ((0.8, 5), (1.3, 20)):
        step = 1.0 / states
        text += (
            f"*STEP, NLGEOM, INC=300\n*STATIC\n{step:.5f},1.0,{step / 64:.7f},{step:.5f}\n"
            + inp.held([(*tube.along[1], -until * shortening)])
            + "*NODE PRINT, NSET=ENDS\nRF\n*NODE PRINT, NSET=REFS\nU\n*END STEP\n"
        )
    answer = deck.run(text, threads, partial=True)
    right = set(mesh.end(True).tolist())
    loads = [
        -float(force[[int(k) in right for k in nodes], 0].sum())
        for nodes, force in answer.tables("forces")
    ]
    moved = [-float(move[1, 0]) for _, move in answer.tables("displacements")]
    count = min(len(loads), len(moved))
    return PushedTube(
        np.array([0.0, *moved[:count]]), np.array([0.0, *(2 * load for load in loads[:count])]),
        mesh.unknowns, time.perf_counter() - started)


