"""Lowest buckling load of each kind over every whole wave, for one design or many.

One search (`wave_laws.lowest_of_one`, `torsion_of_one`) for both: run as plain Python for a few
designs, which starts at once, and compiled for many. A wave is passed over only where its bending
and shear energy alone exceed a load already found (`wave_laws.window`), or where a neighbor's
load leaves it none below (`wave_laws.least_near`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.machine_code import loaded
from gridshell.define.memory import keep_freed_memory
from gridshell.define.types import Quantity
from gridshell.tube.buckling import compiled, wave_laws
from gridshell.tube.buckling.wave_stiffness import WaveStiffness

LOADS = ("compression", "lateral", "hydrostatic", "torsion")
_MANY_DESIGNS = 50  # from which loading machine code pays


@dataclass(frozen=True)
class LowestWave:
    """Lowest load and its wave.

    Attributes:
        load: per length of circumference (compression, torsion) N/m, or pressure Pa.
        m: half waves along (for torsion: mean axial wave number times L/pi).
        n: waves round.
        on_edge: True where the load is that of ever shorter waves, in which the wall only shears
            across its depth (`crimping`): ribs that shear so easily have no lowest wave.
        gain: load over that of ends that are free to move along and to turn.
    """

    load: Quantity
    m: Quantity
    n: Quantity
    on_edge: Quantity
    gain: Quantity = 1.0

    @property
    def description(self) -> str:
        """The wave of a single load in words.

        >>> LowestWave(1.0, 1.0, 3.0, False).description
        '1 half wave along, 3 round'
        """
        along = f"{float(self.m):.3g}"
        ends = f", ends clamped ({float(self.gain):.2f} of free ends)" if self.gain != 1 else ""
        return (f"{along} half wave{'' if along == '1' else 's'} along, {float(self.n):.0f} round"
                + ends)


def lowest_wave(load: str, law: WaveStiffness, length: Quantity) -> LowestWave:
    """`lowest_waves` of one load."""
    return lowest_waves((load,), law, length)[load]


def lowest_waves(
    needed: Sequence[str], law: WaveStiffness, length: Quantity
) -> dict[str, LowestWave]:
    """Lowest loads of perfect theory over every whole wave.

    Compression: m >= 1 and n = 0, 2, 3, ... (n = 1 is the column, a check of its own). Pressure:
    n >= 2. Torsion: n >= 2, a series along the tube for each n that can win.

    Args:
        needed: which of `LOADS`.
        law: wave matrix of one wall or many.
        length: of the tube, m.

    Returns:
        Loads of the shape of ``law`` and ``length`` together. A wall whose stiffness is not
        positive definite gets a load of zero or below, or what is not a number: never a high one.
    """
    shape = np.broadcast_shapes(law.shape, np.shape(length))
    table = law.table(shape)
    span = np.broadcast_to(np.asarray(length, float), shape).ravel().copy()
    search: Any = compiled if len(table) > _MANY_DESIGNS or loaded() else wave_laws
    # Bending that gives way by itself has no wave that costs energy; no load is without end.
    stable = (law.free_11 > 0) & (law.free_22 > 0) & (
        law.free_12 > -np.sqrt(np.maximum(law.free_11 * law.free_22, 0.0)))
    waves = {}
    for load in needed:
        found = np.empty((3, len(table)))
        with np.errstate(all="ignore"):
            if load == "torsion":
                search.torsion_of_many(table, span, found, wave_laws.scratch_of_torsion())
            else:
                search.lowest_of_many(
                    table, LOADS.index(load), span, found, wave_laws.scratch_of_loads())
        best, m, n = (part.reshape(shape) for part in found)
        best = np.where(stable, np.where(np.isinf(best), np.nan, best), 0.0)
        limit = np.broadcast_to(crimping(load, law), shape)
        edge: Any = best > limit
        waves[load] = LowestWave(np.where(edge, limit, best)[()], m[()], n[()], edge[()])
    return waves


def ready_for_many() -> None:
    """Load what many designs are worked with, and keep memory for their arrays.

    Before the first of several lots, in every process that takes part: the last digits of a formula
    are others when compiled, and the same design should get the same digits anywhere.
    """
    compiled.load()
    keep_freed_memory()


def crimping(load: str, law: WaveStiffness) -> Quantity:
    """Load of waves ever shorter, in which the wall only shears across its depth or in its plane.

    Bending of a short wave costs no less than shear, S_x l^2 + S_y N^2, over the work of the load.

    Args:
        load: one of `LOADS`.
        law: wave matrix of one wall or many.
    """
    along, around = law.shear_x, law.shear_y
    if law.in_plane:
        along = np.minimum(along, law.k22x / law.in_plane)
    if load == "compression":
        return along
    if load == "torsion":
        return np.sqrt(law.shear_x) * np.sqrt(law.shear_y)
    limit = around / law.radius
    return limit if load == "lateral" else np.minimum(limit, 2 * along / law.radius)


def lowest_two_helices(law: WaveStiffness, length: float) -> LowestWave:
    """Lowest shear flow of two helices that cancel at both ends, of any mean wave number.

    Args:
        law: wave matrix of one wall.
        length: of the tube, m.
    """
    half, shortest = np.pi / length, float(law.shortest)
    n = np.arange(2.0, max(np.pi * float(law.radius) / shortest, 3.0) + 1)[:, None]
    y = (n / law.radius) ** 2
    m = 0.5 * max(2 * length / shortest, 4.0) ** np.linspace(0, 1, 400)
    with np.errstate(all="ignore"):
        for _ in range(3):  # closer round the best of each n
            loads = wave_laws.torsion_load(law, m * half, y, half)
            best = np.argmin(loads, axis=1)[:, None]
            m = np.broadcast_to(m, loads.shape)
            low, high = (
                np.take_along_axis(m, np.clip(best + step, 0, m.shape[1] - 1), axis=1)
                for step in (-1, 1)
            )
            found = np.take_along_axis(m, best, axis=1)
            m = low + (high - low) * np.linspace(0, 1, 41)
    i = int(np.argmin(loads.min(axis=1)))
    return LowestWave(loads.min(), found[i, 0], n[i, 0], False)
