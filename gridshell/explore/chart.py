"""The map: any number that can be moved against any other, colored by what comes out."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.possible import possible
from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Array
from gridshell.define.units import convert
from gridshell.explore.controls import Controls, Slider
from gridshell.mold.checks.result import VERDICTS
from gridshell.mold.checks.run import mold_checks
from gridshell.tube.assess import assess_tube
from gridshell.tube.result import TubeResult

# name -> what people call it; the mold's verdict is asked for a row at a time, see `mold_row`.
COLORS = {
    "margin": "lowest margin", "mass": "mass", "stiffness": "EI per mass",
    "frequency": "first bending frequency, free-free", "mold": "mold checks",
}
_UNITS = {
    "metric": {"mass": "g", "stiffness": "N m2/kg", "frequency": "Hz"},
    "inch": {"mass": "lb", "stiffness": "lbf in2/lb", "frequency": "Hz"},
}


def axes_of(design: Design, controls: Controls) -> list[Slider]:
    """The sliders that a map of this design may run over."""
    return [slider for slider in controls.sliders if design.ribs.pattern in slider.patterns]


def _axis(design: Design, controls: Controls, path: str, count: int) -> tuple[Slider, Array, Array]:
    """A slider, its places in the unit shown, and the same in SI.

    Raises:
        InputError: no such slider for this pattern.
    """
    known = {slider.path: slider for slider in axes_of(design, controls)}
    if path not in known:
        raise InputError(f"axis: {path!r} can't be mapped; known: {', '.join(known)}")
    return known[path], *known[path].places(count)


def chart(
    design: Design, controls: Controls, count: int, across: str = "ribs.height",
    up: str = "ribs.spacing",
) -> dict[str, Any]:
    """Mass, lowest margin, governing check, EI per mass and frequency over two numbers.

    Args:
        design: one design; where it stands on the two axes does not matter.
        controls: whose ranges the map covers.
        count: designs along each axis.
        across: path of the slider across.
        up: path of the slider upwards.

    Returns:
        axes in the units shown; rows along ``up``, columns along ``across``; null where a design
        is impossible (ribs that close the pockets, too few cells round).

    Raises:
        InputError: an axis that this pattern does not have, or twice the same.
    """
    if across == up:
        raise InputError("axis: the two axes must differ")
    first, shown_across, si_across = _axis(design, controls, across, count)
    second, shown_up, si_up = _axis(design, controls, up, count)
    columns, rows = (a.ravel() for a in np.meshgrid(si_across, si_up))
    fits = np.broadcast_to(possible(with_values(design, {across: columns, up: rows})), rows.shape)
    values = {key: np.full(rows.shape, np.nan) for key in ("mass", "margin", "stiffness",
                                                            "frequency")}
    governing = np.full(rows.shape, -1)
    names: list[str] = []
    if fits.any():
        tube = assess_tube(with_values(design, {across: columns[fits], up: rows[fits]}))
        number = int(fits.sum())
        values["mass"][fits] = tube.mass
        values["stiffness"][fits] = tube.stiffness.EI / tube.mass
        values["frequency"][fits] = tube.frequencies["free-free"]
        if tube.cases:
            values["margin"][fits] = tube.margin
            names, governing[fits] = _governing(tube, number)
    unit = _UNITS[design.units]
    if design.units == "inch":
        values["stiffness"] *= convert(1.0, "stiffness", "lbf in^2") / convert(1.0, "mass", "lb")
    square = (count, count)
    return {
        "across": _described(first, shown_across), "up": _described(second, shown_up),
        "governing": governing.reshape(square).tolist(), "names": names, "units": unit,
        "mass_unit": unit["mass"],
        **{key: _listed(array.reshape(square)) for key, array in values.items()},
    }


def _described(slider: Slider, places: Array) -> dict[str, Any]:
    return {"path": slider.path, "label": slider.label, "unit": slider.unit,
            "values": places.tolist()}


def mold_row(
    design: Design, controls: Controls, count: int, row: int, across: str, up: str
) -> list[str]:
    """The worst word of the mold's checks along one row of a map; empty where nothing stands.

    Each takes a good tenth of a second, so a map of them comes a row at a time.

    Raises:
        InputError: as `chart`.
    """
    _, _, si_across = _axis(design, controls, across, count)
    _, _, si_up = _axis(design, controls, up, count)
    if not 0 <= row < count:
        raise InputError(f"row: must be 0 to {count - 1}")
    words = []
    for place in si_across:
        one = with_values(design, {across: float(place), up: float(si_up[row])})
        if not bool(possible(one)):
            words.append("")
            continue
        try:
            found = [check.verdict for check in mold_checks(one).checks]
        except InputError:
            found = [VERDICTS[0]]
        words.append(min(found, key=VERDICTS.index))
    return words


def _governing(tube: TubeResult, count: int) -> tuple[list[str], np.ndarray]:
    """Names of the checks that govern somewhere, and which does for each design."""
    margins = np.stack([np.broadcast_to(case.margin, (count,)) for case in tube.cases])
    by_case = np.stack([np.broadcast_to(case.governing, (count,)) for case in tube.cases])
    margins = np.where(np.isnan(margins), -np.inf, margins)
    chosen = by_case[np.argmin(margins, axis=0), np.arange(count)]
    names, which = np.unique(chosen, return_inverse=True)
    return [str(name) for name in names], which


def _listed(values: Array) -> list[list[float | None]]:
    return [
        [round(v, 6) if math.isfinite(v) else None for v in row] for row in values.tolist()
    ]
