"""The map: any number of the definition against any other, colored by what comes out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.possible import possible
from gridshell.define.tables.design import Design
from gridshell.define.types import Array
from gridshell.define.units import convert
from gridshell.explore.axes import WHOLE, Axis, placed, shown_at
from gridshell.mold.checks.run import mold_checks
from gridshell.report.verdict import FAILS, mold_finding
from gridshell.tube.assess import assess_tube
from gridshell.tube.result import TubeResult

# name -> what people call it; the mold's verdict is asked for a row at a time, see `mold_row`.
COLORS = {
    "margin": "margin of cases", "mass": "mass", "stiffness": "EI per mass",
    "frequency": "first bending frequency, free-free", "mold": "mold checks",
}
_WORD = "<U80"  # names of checks are shorter
_UNITS = {
    "metric": {"mass": "g", "stiffness": "N m2/kg", "frequency": "Hz"},
    "inch": {"mass": "lb", "stiffness": "lbf in2/lb", "frequency": "Hz"},
}


def chart(
    design: Design, across: Axis, up: Axis, count: int, bound: bool = True
) -> dict[str, Any]:
    """Mass, lowest margin, governing check, EI per mass and frequency over two numbers.

    Where the wall lies outside of the unit cells that the formula was held to, and holds by the
    formula but not by the lower bound of its stiffness, the margin is that of the bound: the
    verdict on such a design is that it is not shown to hold.

    Args:
        design: one design; where it stands on the two axes does not matter.
        across: the axis across.
        up: the axis upwards.
        count: designs along each axis.
        bound: whether to ask for that bound, which takes as long as the map itself; without it
            ``formula_only`` says whether some design holds by the formula alone.

    Returns:
        axes in the units shown; ``set``, where the design stands on them; rows along ``up``,
        columns along ``across``; null where a design is impossible (ribs that close the pockets,
        too few cells round).

    Raises:
        InputError: twice the same axis.
    """
    _differ(across, up)
    (first, columns), (second, rows) = across.places(count), up.places(count)
    grid = {path: values.ravel() for path, values in zip(
        (across.path, up.path), np.meshgrid(columns, rows), strict=True)}
    size = len(first) * len(second)
    found = _Found.of(size)
    for some in _together(grid, [axis for axis in (across, up) if axis.singly], size):
        _assess(design, grid, some, found, bound)
    unit = _UNITS[design.units]
    if design.units == "inch":
        found.stiffness *= convert(1.0, "stiffness", "lbf in^2") / convert(1.0, "mass", "lb")
    square = (len(second), len(first))
    names, governing = np.unique(found.governing, return_inverse=True)
    known = names != ""  # sorted first
    return {
        "across": _described(across, first), "up": _described(up, second),
        "set": {axis.path: shown_at(design, axis) for axis in (across, up)},
        "governing": (governing - int(not known.all())).reshape(square).tolist(),
        "names": [str(name) for name in names[known]], "units": unit, "mass_unit": unit["mass"],
        "formula_only": found.formula_only,
        "mold_only": [axis.path for axis in (across, up) if axis.of_mold],
        **{key: _listed(getattr(found, key).reshape(square))
           for key in ("mass", "margin", "stiffness", "frequency")},
    }


@dataclass
class _Found:
    """What a map shows, design by design; NaN where a design is impossible."""

    mass: Array
    margin: Array
    stiffness: Array
    frequency: Array
    governing: np.ndarray
    formula_only: bool = False

    @classmethod
    def of(cls, size: int) -> _Found:
        mass, margin, stiffness, frequency = (np.full(size, np.nan) for _ in range(4))
        return cls(mass, margin, stiffness, frequency, governing=np.full(size, "", _WORD))


def _together(grid: dict[str, Array], single: list[Axis], size: int) -> Iterator[np.ndarray]:
    """Designs that one call takes as arrays: those that share every number taken singly."""
    if not single:
        yield np.arange(size)
        return
    keys = np.stack([grid[axis.path] for axis in single], axis=1)
    _, member = np.unique(keys, axis=0, return_inverse=True)
    member = member.ravel()
    for number in range(member.max() + 1):
        yield np.flatnonzero(member == number)


def _assess(
    design: Design, grid: dict[str, Array], some: np.ndarray, found: _Found, bound: bool
) -> None:
    """Work out some designs of a map in one call."""
    values: dict[str, Any] = {}
    for path, numbers in grid.items():
        if path.startswith("mold."):
            continue  # nothing here depends on it
        mine = numbers[some]
        if mine.size and np.all(mine == mine[0]):
            values[path] = int(mine[0]) if path in WHOLE else float(mine[0])
        else:
            values[path] = mine
    good = np.broadcast_to(possible(placed(design, values)), some.shape)
    if not good.any():
        return
    kept = {path: value if np.ndim(value) == 0 else value[good] for path, value in values.items()}
    with np.errstate(all="ignore"):  # what no formula reaches stays unknown
        try:
            tube = assess_tube(placed(design, kept))
        except InputError:
            if any(np.ndim(value) for value in kept.values()):
                raise
            return  # one design that a file could not state either
        rows = some[good]
        found.mass[rows] = tube.mass
        found.stiffness[rows] = tube.stiffness.EI / tube.mass
        found.frequency[rows] = tube.frequencies["free-free"]
        if not tube.cases:
            return
        found.margin[rows], found.governing[rows], _ = worst_of(tube, rows.size)
        # Where only the formula says that it holds, the bound decides.
        beyond = np.broadcast_to(tube.wall.outside_map, rows.shape) & (found.margin[rows] >= 0)
        if beyond.any() and not bound:
            found.formula_only = True
        elif beyond.any():
            kept = {path: value if np.ndim(value) == 0 else value[beyond]
                    for path, value in kept.items()}
            least, names, _ = worst_of(
                assess_tube(placed(design, kept), least=True), int(beyond.sum()))
            lower = ~(least >= 0)
            found.margin[rows[beyond][lower]] = least[lower]
            found.governing[rows[beyond][lower]] = names[lower]


def _differ(across: Axis, up: Axis) -> None:
    if across.path == up.path:
        raise InputError("axis: the two axes must differ")


def _described(axis: Axis, places: Array) -> dict[str, Any]:
    return {"path": axis.path, "label": axis.label, "unit": axis.unit, "values": places.tolist()}


def mold_row(design: Design, across: Axis, up: Axis, count: int, row: int) -> list[str]:
    """What the verdict says of the mold along one row of a map; empty where nothing stands.

    Each takes a good tenth of a second, so a map of them comes a row at a time.

    Args:
        design: one design.
        across: the axis across.
        up: the axis upwards.
        count: designs along each axis.
        row: which, from below; none beyond the last.

    Raises:
        InputError: twice the same axis, or no such row.
    """
    _differ(across, up)
    if not 0 <= row < count:
        raise InputError(f"row: must be 0 to {count - 1}")
    columns, rows = across.places(count)[1], up.places(count)[1]
    if row >= len(rows):
        return []
    words = []
    for place in columns:
        one = placed(design, {axis.path: int(value) if axis.whole else float(value)
                              for axis, value in ((across, place), (up, rows[row]))})
        if not bool(possible(one)):
            words.append("")
            continue
        try:
            found = mold_finding(
                one, None if one.mold is not None else mold_checks(one, advise=False))
        except InputError:
            found = None
        words.append(FAILS if found is None else found.word)
    return words


def worst_of(tube: TubeResult, count: int) -> tuple[Array, np.ndarray, np.ndarray]:
    """Lowest margin, the check that governs and its case, design by design; what is not known
    comes first.

    Args:
        tube: so many designs under one case at least.
        count: designs.
    """
    margins = np.stack([np.broadcast_to(case.margin, (count,)) for case in tube.cases])
    by_case = np.stack([np.broadcast_to(case.governing, (count,)) for case in tube.cases])
    chosen = np.argmin(np.where(np.isnan(margins), -np.inf, margins), axis=0)
    every = np.arange(count)
    return margins[chosen, every], by_case[chosen, every], chosen


def _listed(values: Array) -> list[list[float | None]]:
    """Rows of rounded numbers; null where one is not known."""
    found = np.round(values, 6).astype(object)
    found[~np.isfinite(values)] = None
    listed: list[list[float | None]] = found.tolist()
    return listed
