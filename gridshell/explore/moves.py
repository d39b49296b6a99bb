"""What one step of each slider does to margin and mass, and where whole cells change."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from gridshell.define.checks import check_design
from gridshell.define.schema import field_rules
from gridshell.define.tables.design import Design, with_values
from gridshell.define.units import convert, parse_quantity
from gridshell.explore.controls import Controls, positions
from gridshell.report.numbers import shown
from gridshell.tube.assess import assess_tube
from gridshell.wall.geometry.lattice import Lattice, lattice

_LOOKED_AT = 400  # places along a slider where cells are counted
_MOST_TICKS = 40  # more stand too close to be read


def whole_cells(design: Design, grid: Lattice, controls: Controls) -> dict[str, dict[str, Any]]:
    """For each slider that is rounded to whole cells: what is built, and where that changes.

    Returns:
        path -> ``built`` in words, ``same`` if that is what was asked, ``ticks`` in its unit.
    """
    used = {"ribs.spacing": 0, "ribs.hoop_spacing": 1}
    found = {}
    for slider in controls.sliders:
        if slider.path not in used or design.ribs.pattern not in slider.patterns:
            continue
        if design.ribs.pattern != "orthogrid" and slider.path == "ribs.hoop_spacing":
            continue
        rounding = grid.rounding[used[slider.path]]
        places, meters = slider.places(_LOOKED_AT)
        many = lattice(with_values(design, {slider.path: meters}))
        cells = np.broadcast_to(many.cells_round * 1e6 + many.cells_along, places.shape)
        ticks = (places[1:] + places[:-1])[np.diff(cells) != 0] / 2
        asked, built = (convert(float(v), "length", slider.unit)
                        for v in (rounding.stated, rounding.used))
        found[slider.path] = {
            "built": shown(rounding.used, "length", design.units, 3),
            "same": abs(asked - built) < slider.step / 2,
            "ticks": ticks.tolist() if len(ticks) <= _MOST_TICKS else [],
        }
    return found


def moves(design: Design, controls: Controls) -> list[dict[str, Any]]:
    """What one step up and down of each slider does to margin and mass; what moves most first.

    Args:
        design: one design.
        controls: whose sliders are moved.
    """
    steps = [
        (slider, sign) for slider in controls.sliders
        if design.ribs.pattern in slider.patterns for sign in (1, -1)
    ]
    stated = {slider.path: positions(controls, design)[slider.path] for slider, _ in steps}
    changed = []
    for slider, sign in steps:
        value = stated[slider.path] + sign * slider.step
        rules = field_rules(Design, slider.path)
        changed.append((slider.path, parse_quantity(f"{value!r} {slider.unit}", rules["kind"])))
    possible = [not check_design(with_values(design, {path: value})) for path, value in changed]
    kept = [one for one, well in zip(changed, possible, strict=True) if well]
    columns = {
        path: np.array([_field(design, path), *(
            value if other == path else _field(design, path) for other, value in kept)])
        for path in stated
    }
    tube = assess_tube(with_values(design, columns))
    count = len(kept) + 1
    mass = np.broadcast_to(tube.mass, (count,))
    lowest = np.broadcast_to(tube.margin, (count,))
    rows: dict[str, dict[str, Any]] = {slider.path: {"path": slider.path} for slider, _ in steps}
    place = 0
    for (slider, sign), well in zip(steps, possible, strict=True):
        if not well:
            continue
        place += 1
        change = float(lowest[place]) - float(lowest[0])  # NaN where there is no load case
        rows[slider.path]["up" if sign > 0 else "down"] = {
            "mass": float(mass[place] - mass[0]),
            "margin": change if math.isfinite(change) else None,
            "text": _move_text(change, float(mass[place] - mass[0]), design.units),
        }

    def weight(row: dict[str, Any]) -> list[float]:
        """By margin; by mass where no margin moves."""
        ways = [row[way] for way in ("up", "down") if way in row]
        return [max((abs(way[key] or 0.0) for way in ways), default=0.0)
                for key in ("margin", "mass")]

    return sorted(rows.values(), key=weight, reverse=True)


def _move_text(change: float, mass: float, system: str) -> str:
    weight = shown(abs(mass), "mass", system, 2)
    said = "" if not math.isfinite(change) else f"margin {change:+.2g}, "
    return f"{said}mass {'-' if mass < 0 else '+'}{weight}"


def _field(design: Design, path: str) -> float:
    table, _, name = path.partition(".")
    return float(getattr(getattr(design, table), name))
