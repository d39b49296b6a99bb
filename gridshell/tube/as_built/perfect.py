"""The perfect tube that factors are measured by: its wall, its lowest waves, its short waves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.tube.as_built.shell import Wall6, wall6
from gridshell.tube.buckling.wave_laws import compression_load
from gridshell.tube.buckling.wave_stiffness import SANDERS, WaveStiffness, wave_stiffness
from gridshell.wall.assess import Wall

CLUSTER = 1.10  # waves up to so many times the lowest load are looked at


@dataclass(frozen=True)
class Wave:
    """One whole wave of the perfect tube.

    Attributes:
        m: half waves along.
        n: waves round.
        load: line force over A11.
    """

    m: int
    n: int
    load: float


@dataclass(frozen=True)
class Perfect:
    """The perfect tube under axial compression, ends growing freely.

    Attributes:
        wall: without units.
        waves: the lowest wave of each number of waves round from 2 on, by load.
        rings: half wave of the axisymmetric mode over the radius.
        ring_load: its load over A11.
        skin: thickness of the skin over the radius.
        loads: (m, n + 1) of each whole wave over A11; n = 1 is infinite.
    """

    wall: Wall6
    waves: tuple[Wave, ...]
    rings: float
    ring_load: float
    skin: float
    loads: Array

    @property
    def load(self) -> float:
        """Lowest load of all waves over A11."""
        return min(self.waves[0].load, self.ring_load)

    @property
    def cluster(self) -> tuple[Wave, ...]:
        """Waves within `CLUSTER` of the lowest."""
        return tuple(wave for wave in self.waves if wave.load <= CLUSTER * self.load)


def perfect_of(
    A: Array, B: Array, D: Array, *, radius: float, length: float, skin: float
) -> Perfect:
    """The perfect tube of a wall.

    Args:
        A: (3, 3) N/m.
        B: (3, 3) N.
        D: (3, 3) N m.
        radius: m.
        length: m.
        skin: thickness, m.
    """
    wall = wall6(A, B, D, radius, length)
    law = wave_stiffness(A, B, D, radius, SANDERS)
    rings, ring_load = _rings(law, radius, wall.membrane)
    # No whole wave far shorter than the rings is among the lowest.
    top = int(np.clip(2.5 * np.pi / rings, 6, 120))
    n = np.arange(top + 1)
    m = np.arange(1, int(np.clip(2 * wall.length / rings, 4, 4000)) + 1)
    x = (m * np.pi / length)[:, None] ** 2
    y = (n / radius)[None, :] ** 2
    loads = compression_load(law, x, y) / wall.membrane
    loads[:, 1] = np.inf  # the column, not the wall
    found = [Wave(int(m[loads[:, k].argmin()]), k, float(loads[:, k].min())) for k in n[2:]]
    return Perfect(
        wall, tuple(sorted(found, key=lambda wave: wave.load)), rings, ring_load, skin / radius,
        loads)


def _rings(law: WaveStiffness, radius: float, membrane: float) -> tuple[float, float]:
    """Half wave over the radius and load over A11 of the softest rings in a long tube."""
    k = np.pi / (np.geomspace(0.01, 4.0, 400) * radius)
    load = compression_load(law, k * k, 0.0)
    place = int(np.argmin(load))
    return float(np.pi / k[place] / radius), float(load[place] / membrane)


def perfect_tube(built: Wall) -> Perfect:
    """The perfect tube of one assessed wall: ribs at their own radius.

    Shear of the ribs and bowing of the skin are left out here and are in the load that the factor
    multiplies.
    """
    return perfect_of(
        *built.curved, radius=float(built.grid.radius), length=float(built.design.tube.length),
        skin=float(built.design.skin.thickness))
