"""Buckling loads of designs that differ little from each other: only the waves that matter.

The full search looks at hundreds of waves for each design. Tubes drawn about one design buckle in
the same few, and where a wave outside the list would just win, it wins by almost nothing. The list
comes from a full search of a first lot, and an independent second lot measures what it misses.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.tube.result import BucklingLoads
from gridshell.tube.shell import WaveStiffness, wave_stiffness
from gridshell.tube.waves import LowestWave, compression_load, pressure_load, torsion_load
from gridshell.wall.wall import Wall

KINDS = ("compression", "lateral", "hydrostatic", "torsion")
_TORSION_NUMBERS = 7  # axial wave numbers kept for each n: they vary continuously
_WIDENED = 0.01


@dataclass(frozen=True)
class WaveList:
    """Waves worth looking at: for each kind of load, (k, 2) of m and n."""

    waves: dict[str, Array]


def list_waves(found: BucklingLoads) -> WaveList:
    """The waves that a full search of many designs found."""
    waves: dict[str, Array] = {}
    for kind in KINDS:
        lowest = getattr(found, kind)
        if lowest is None:
            continue
        m, n = np.ravel(lowest.m), np.ravel(lowest.n)
        known = np.isfinite(np.ravel(lowest.load))
        m, n = m[known], n[known]
        if kind != "torsion":
            # With its neighbors: a wave that wins once in a thousand draws is next to one that
            # wins often.
            near = [(i, j) for i in (-1.0, 0.0, 1.0) for j in (-1.0, 0.0, 1.0)]
            listed = np.unique(np.stack([m, n], axis=-1), axis=0)[:, None, :] + np.array(near)
            listed = np.unique(listed.reshape(-1, 2), axis=0)
            # m counts half waves, from one; n = 1 is the column, which has a check of its own.
            good = (listed[:, 0] >= 1) & (listed[:, 1] >= 0) & (listed[:, 1] != 1)
            waves[kind] = listed[good]
            continue
        of_torsion: list[tuple[float, float]] = []
        counts = np.unique(n)
        for number in np.unique(np.concatenate([counts - 1, counts, counts + 1])):
            if number < 2:
                continue
            own = m[np.abs(n - number) <= 1]
            ends = own.min() * (1 - _WIDENED), own.max() * (1 + _WIDENED)
            of_torsion += [(value, number) for value in np.linspace(*ends, _TORSION_NUMBERS)]
        waves[kind] = np.array(of_torsion)
    return WaveList(waves)


def _lowest(values: Array, waves: Array) -> LowestWave:
    best = np.argmin(values, axis=-1)
    load = np.take_along_axis(values, best[..., None], axis=-1)[..., 0]
    # A listed wave is inside the range that was searched, so never on its edge.
    return LowestWave(load, waves[best, 0], waves[best, 1], np.zeros(load.shape, bool))


def listed_loads(wall: Wall, waves: WaveList) -> BucklingLoads:
    """Lowest load of each kind over the listed waves.

    Args:
        wall: many walls, one axis.
        waves: from `list_waves`.
    """
    shape = np.broadcast_shapes(
        wall.A.shape[:-2], np.shape(wall.grid.radius), np.shape(wall.design.tube.length)
    ) or (1,)

    def column(value: Quantity) -> Array:
        return np.broadcast_to(np.asarray(value, float), shape)[..., None]

    A, B, D = (
        np.broadcast_to(matrix, (*shape, 3, 3))[..., None, :, :]
        for matrix in wall.curved
    )
    radius = column(wall.grid.radius)
    half = np.pi / column(wall.design.tube.length)
    along, around = (column(part) for part in wall.transverse_shear)
    law = wave_stiffness(A, B, D, radius, shear=(along, around))
    laws: dict[str, Callable[[WaveStiffness, Array, Array], Array]] = {
        "compression": compression_load,
        "lateral": lambda law, x, y: pressure_load(law, x, y, 0.0),
        "hydrostatic": lambda law, x, y: pressure_load(law, x, y, 1.0),
    }
    found: dict[str, LowestWave] = {}
    for kind, listed in waves.waves.items():
        along, y = listed[:, 0] * half, (listed[:, 1] / radius) ** 2
        if kind == "torsion":
            values = torsion_load(law, along, y, half)
        else:
            values = laws[kind](law, along**2, y)
        found[kind] = _lowest(values, listed)
    return BucklingLoads(**found)
