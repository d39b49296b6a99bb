"""Compiled search over waves for many designs; loaded only when many designs are searched.

Numba compiles the functions of `wave_laws` as they stand; see `gridshell.define.compiling`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from numba.extending import overload, register_jitable

from gridshell.define.compiling import column_reader, compiled
from gridshell.tube.buckling import wave_laws
from gridshell.tube.buckling.wave_stiffness import WaveStiffness

_FIELDS = len(WaveStiffness._fields)
_READ = column_reader()
_COMPRESSION, _HYDROSTATIC = wave_laws.COMPRESSION, wave_laws.HYDROSTATIC

# Laws of one wave become part of the loop that calls them: only then is it made of vector
# instructions.
_LAWS: tuple[Callable[..., Any], ...] = (
    wave_laws.lowest_root, wave_laws.condensed, wave_laws.axial_strain, wave_laws.layer_work,
    wave_laws.skin_bowing, wave_laws.compression_load, wave_laws.pressure_load,
    wave_laws.helix, wave_laws.least_near, wave_laws.bow_relief, wave_laws.stiffest,
    wave_laws.bent_twice, wave_laws.bounded, wave_laws.window, wave_laws.highest_helix,
    wave_laws.coupling, wave_laws.factored,
)
_STEPS: tuple[Callable[..., Any], ...] = (
    wave_laws.unbowed, wave_laws.lowest_of_one, wave_laws.largest_eigenvalue,
    wave_laws.series_matrix, wave_laws.two_helices, wave_laws.torsion_of_one,
    wave_laws.scratch_of_torsion,
)
for _function in _LAWS:
    register_jitable(forceinline=True)(_function)
for _function in _STEPS:
    register_jitable(_function)


@overload(wave_laws.design_of)
def _design_of(table: Any, i: Any) -> Callable[..., Any]:
    def row(table: Any, i: Any) -> Any:
        return WaveStiffness(*_READ(table.T, i, _FIELDS))

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


lowest_of_many = compiled(wave_laws.lowest_of_many)
torsion_of_many = compiled(wave_laws.torsion_of_many)
