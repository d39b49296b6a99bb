"""Compiled search over waves for many designs.

Numba compiles the functions of `wave_laws` as they stand; see `gridshell.define.machine_code`.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

from gridshell.define.compiling import column_reader
from gridshell.define.machine_code import ARRAY, WHOLE, MachineCode
from gridshell.define.types import Array
from gridshell.tube.buckling import wave_laws
from gridshell.tube.buckling.wave_stiffness import WaveStiffness

_FIELDS = len(WaveStiffness._fields)
_COMPRESSION, _HYDROSTATIC = wave_laws.COMPRESSION, wave_laws.HYDROSTATIC
_HALF = wave_laws.HALF
_LINE = wave_laws.TERMS + 4

# Laws of one wave become part of the loop that calls them: only then is it made of vector
# instructions.
_LAWS: tuple[Callable[..., Any], ...] = (
    wave_laws.lowest_root, wave_laws.condensed, wave_laws.axial_strain, wave_laws.layer_work,
    wave_laws.skin_bowing, wave_laws.compression_load, wave_laws.pressure_load,
    wave_laws.helix, wave_laws.least_near, wave_laws.bow_relief, wave_laws.stiffest,
    wave_laws.bent_twice, wave_laws.bounded, wave_laws.window, wave_laws.helix_window,
    wave_laws.coupling, wave_laws.factored,
)
_STEPS: tuple[Callable[..., Any], ...] = (
    wave_laws.unbowed, wave_laws.lowest_of_one, wave_laws.largest_eigenvalue,
    wave_laws.series_matrix, wave_laws.two_helices, wave_laws.torsion_of_one,
    wave_laws.lowest_of_many, wave_laws.torsion_of_many,
)


@functools.cache
def register() -> None:
    """Make the laws known to numba."""
    from numba.extending import overload, register_jitable

    for function in _LAWS:
        register_jitable(forceinline=True)(function)
    for function in _STEPS:
        register_jitable(function)
    read = column_reader()

    @overload(wave_laws.design_of)
    def _design_of(table: Any, i: Any) -> Callable[..., Any]:
        def row(table: Any, i: Any) -> Any:
            return WaveStiffness(*read(table.T, i, _FIELDS))

        return row

    @overload(wave_laws.loads_along)
    def _loads_along(
        w: Any, kind: Any, half: Any, y: Any, first: Any, step: Any, loads: Any
    ) -> Any:
        # One plain loop for each law, which the compiler turns into vector instructions.
        def along(w: Any, kind: Any, half: Any, y: Any, first: Any, step: Any, loads: Any) -> None:
            if kind == _COMPRESSION:
                for i in range(len(loads)):
                    x = (first + step * i) * half
                    loads[i] = wave_laws.compression_load(w, x * x, y)
            else:
                hydrostatic = 1.0 if kind == _HYDROSTATIC else 0.0
                for i in range(len(loads)):
                    x = (first + step * i) * half
                    loads[i] = wave_laws.pressure_load(w, x * x, y, hydrostatic)

        return along

    @overload(wave_laws.helices_along)
    def _helices_along(
        w: Any, half: Any, y: Any, first: Any, step: Any, energy: Any, work: Any
    ) -> Any:
        def along(
            w: Any, half: Any, y: Any, first: Any, step: Any, energy: Any, work: Any
        ) -> None:
            for i in range(len(energy)):
                energy[i], work[i] = wave_laws.helix(w, (first + step * i) * half, y)

        return along


def _lowest_text() -> Callable[..., Any]:
    from numba import carray

    register()
    search = wave_laws.lowest_of_many

    def lowest(
        table: Any, kind: Any, length: Any, found: Any, scratch: Any, count: Any
    ) -> None:
        search(
            carray(table, (count, _FIELDS)), kind, carray(length, (count,)),
            carray(found, (3, count)), carray(scratch, (2, 2 * wave_laws.LOTS)))

    return lowest


def _torsion_text() -> Callable[..., Any]:
    from numba import carray

    register()
    search = wave_laws.torsion_of_many

    def torsion(
        table: Any, length: Any, found: Any, energy: Any, work: Any, square: Any, other: Any,
        low: Any, count: Any,
    ) -> None:
        search(
            carray(table, (count, _FIELDS)), carray(length, (count,)), carray(found, (3, count)),
            (carray(energy, (_LINE,)), carray(work, (_LINE,)), carray(square, (_HALF, _HALF)),
             carray(other, (_HALF, _HALF)), carray(low, (_HALF, _HALF))))

    return torsion


_LOWEST = MachineCode(
    "gridshell.tube.buckling.lowest", (ARRAY, WHOLE, ARRAY, ARRAY, ARRAY, WHOLE),
    _lowest_text)
_TORSION = MachineCode(
    "gridshell.tube.buckling.torsion", (ARRAY,) * 8 + (WHOLE,), _torsion_text)


def lowest_of_many(table: Array, kind: int, length: Array, found: Array, scratch: Array) -> None:
    """`wave_laws.lowest_of_many`, compiled."""
    _LOWEST(table, kind, length, found, scratch, len(table))


def torsion_of_many(
    table: Array, length: Array, found: Array, scratch: tuple[Array, ...]
) -> None:
    """`wave_laws.torsion_of_many`, compiled."""
    _TORSION(table, length, found, *scratch, len(table))


def load() -> None:
    """Have both searches ready, compiled if they never were."""
    _LOWEST.load()
    _TORSION.load()
