"""Buckling loads of designs that differ little from each other: only the waves that matter.

The full search looks at hundreds of waves for each design. Tubes drawn about one design buckle in
the same few, and where a wave outside the list would just win, it wins by almost nothing. The list
comes from a full search of a first lot, and an independent second lot measures what it misses.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from gridshell.define.types import Array
from gridshell.tube.buckling.general import wave_law
from gridshell.tube.buckling.torsion import first_term, series_load
from gridshell.tube.buckling.wave_stiffness import WaveStiffness
from gridshell.tube.buckling.waves import LowestWave, compression_load, flattened, pressure_load
from gridshell.tube.result import BucklingLoads
from gridshell.wall.assess import Wall

KINDS = ("compression", "lateral", "hydrostatic", "torsion")

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
        for number in counts:
            # Neighbors that never won in the first lot would win by almost nothing.
            of_torsion.append((float(np.median(m[n == number])), float(number)))
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
    flat = flattened(wave_law(wall), shape)
    length = np.broadcast_to(np.asarray(wall.design.tube.length, float), shape)
    law = flat.with_each(lambda value: value[:, None])
    half = np.pi / length[:, None]
    laws: dict[str, Callable[[WaveStiffness, Array, Array], Array]] = {
        "compression": compression_load,
        "lateral": lambda law, x, y: pressure_load(law, x, y, 0.0),
        "hydrostatic": lambda law, x, y: pressure_load(law, x, y, 1.0),
    }
    found: dict[str, LowestWave] = {}
    for kind, listed in waves.waves.items():
        if kind == "torsion":
            values = np.stack([
                series_load(flat, length, np.full(shape, n), np.full(shape, first_term(m)))
                for m, n in listed
            ], axis=-1)
        else:
            along, y = listed[:, 0] * half, (listed[:, 1] / law.radius) ** 2
            values = laws[kind](law, along**2, y)
        found[kind] = _lowest(values, listed)
    return BucklingLoads(**found)
