"""What the page shows for one design: numbers, comparison, section and the map about it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import brentq

from gridshell.define.checks import check_design
from gridshell.define.errors import InputError
from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Array
from gridshell.explore.controls import Controls
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties as resolve
from gridshell.mold.checks.result import VERDICTS
from gridshell.mold.checks.run import mold_checks
from gridshell.report.numbers import margin, shown
from gridshell.report.text.tube import CAUTION, tube_json
from gridshell.report.text.wall import rounding_lines
from gridshell.study.compare import first_buckling, plain_design
from gridshell.tube.assess import assess_tube
from gridshell.tube.result import CaseResult, TubeResult
from gridshell.wall.assess import Wall, assess_wall

_THICKEST = 0.45  # of the outside radius; a thicker plain wall is not a tube any more


@dataclass(frozen=True)
class Worst:
    """The load case with the lowest margin.

    Attributes:
        case: its name.
        check: that governs it.
        margin: of that check.
    """

    case: str
    check: str
    margin: float


def worst_case(cases: Sequence[CaseResult]) -> Worst | None:
    """The governing case of one design; None without load cases."""
    if not cases:
        return None
    lowest = min(cases, key=lambda case: float(case.margin))
    return Worst(lowest.name, str(lowest.governing), float(lowest.margin))


def plain_of_equal_mass(design: Design, properties: Properties) -> Design | None:
    """The same tube with a plain wall of the same mass; None where no wall is as heavy.

    Args:
        design: one design.
        properties: of its material.
    """
    goal = float(assess_wall(design, properties).tube_mass)
    limit = float(design.tube.outside_diameter) / 2 * _THICKEST

    def gap(thickness: float) -> float:
        return float(assess_wall(plain_design(design, thickness), properties).tube_mass) / goal - 1

    if gap(limit) < 0:
        return None
    return plain_design(design, float(brentq(gap, limit * 1e-5, limit, xtol=1e-12, rtol=1e-12)))


def _column(design: Design, properties: Properties, tube: TubeResult) -> dict[str, Any]:
    """One column of the table: this design, a plain wall or a pinned one, SI and as shown."""
    system, worst = design.units, worst_case(tube.cases)
    buckles = first_buckling(design, properties)
    depth = float(tube.wall.depth)
    numbers = {
        "mass": (float(tube.mass), "mass"),
        "EI": (float(tube.stiffness.EI), "stiffness"),
        "buckling_load": (float(buckles.allowable), "force"),
        "depth": (depth, "length"),
    }
    si: dict[str, Any] = {key: value for key, (value, _) in numbers.items()}
    texts = {key: shown(value, kind, system) for key, (value, kind) in numbers.items()}
    texts["depth"] = shown(depth, "length", system, 3)
    finite = worst is not None and math.isfinite(worst.margin)
    si["margin"] = worst.margin if worst is not None and finite else None
    texts["margin"] = margin(worst.margin) if worst is not None else "no case"
    texts["governing"] = worst.check if worst is not None else "no load case"
    texts["case"] = worst.case if worst is not None else ""
    texts["buckling_mode"] = buckles.name
    return {"si": si, "text": texts}


def answer(design: Design) -> dict[str, Any]:
    """What must follow a slider at once: SI numbers as `gridshell tube --json` gives them, the
    same as shown, the plain wall of equal mass, and the section.

    Raises:
        InputError: the material has no data at the temperature.
    """
    known = resolve(design.material, design.folder)
    tube = assess_tube(design, known)
    plain = plain_of_equal_mass(design, known) if design.has_ribs else None
    built = tube.wall
    return {
        "tube": tube_json(tube),
        "now": _column(design, known, tube),
        "plain": None if plain is None else _column(plain, known, assess_tube(plain, known)),
        "plain_missing": (
            "" if plain is not None else "no plain wall is as heavy" if design.has_ribs
            else "this wall is plain"
        ),
        "section": section(built),
        "cells": _cells(built),
    }


def details(design: Design) -> dict[str, Any]:
    """What may follow when the slider rests: every check, and what limits the formulas."""
    known = resolve(design.material, design.folder)
    tube = assess_tube(design, known)
    return {
        "checks": _check_rows(tube, design.units),
        "notes": [*tube.notes, *known.notes],
        "rounding": rounding_lines(tube.wall, design.units),
        "cautions": [CAUTION, *known.cautions],
    }


def mold_advice(design: Design) -> list[dict[str, str]]:
    """What the checks of the mold say, the worst first; empty where no mold can be made.

    Raises:
        InputError: what ``[mold]`` states does not fit.
    """
    if design.ribs.pattern == "families":
        return []
    checks = sorted(mold_checks(design).checks, key=lambda c: VERDICTS.index(c.verdict))
    return [
        {"name": check.name, "verdict": check.verdict, "advice": check.advice}
        for check in checks
    ]


def _check_rows(tube: TubeResult, system: str) -> list[dict[str, Any]]:
    return [
        {
            "case": case.name, "name": check.name, "margin": margin(float(check.margin)),
            "holds": bool(not float(check.margin) < 0),
            "allowable": shown(check.allowable, check.kind, system),
            "applied": shown(check.applied, check.kind, system),
            "notes": [*check.notes, f"knockdown {float(check.knockdown):.3g}: {check.source}"],
        }
        for case in tube.cases for check in case.checks
    ]


def _cells(built: Wall) -> str:
    grid = built.grid
    if not built.sections:
        return "plain wall"
    system = built.design.units
    if grid.pattern == "families":
        return f"{len(grid.families)} families of ribs"
    return (
        f"{int(grid.cells_round)} x {int(grid.cells_along)} cells of "
        f"{shown(grid.cell_width, 'length', system, 3)} x "
        f"{shown(grid.cell_height, 'length', system, 3)} in each of "
        f"{grid.segments * grid.sections} panels"
    )


def section(built: Wall) -> dict[str, Any]:
    """Section across one pitch of the first family, to scale: outline in m, and its sizes.

    z grows outwards; the section runs from the middle of a pocket over a rib to the next middle.
    """
    design, system = built.design, built.design.units
    skin = float(design.skin.thickness)
    stiff = built.A[..., 0, 0] + built.A[..., 1, 1]
    found: dict[str, Any] = {
        "skin": skin, "neutral": float((built.B[..., 0, 0] + built.B[..., 1, 1]) / stiff),
        "skin_text": shown(skin, "length", system, 3), "ribbed": bool(built.sections),
        "equivalent": (
            f"stretches and bends like a plain wall of "
            f"{shown(built.equivalent.thickness, 'length', system, 3)} and "
            f"{shown(built.equivalent.modulus, 'pressure', system, 3)}; weighs as one of "
            f"{shown(built.volume_per_area, 'length', system, 3)}"
        ),
    }
    if not built.sections:
        half = 4 * skin
        found["outline"] = [[-half, -skin / 2], [half, -skin / 2], [half, skin / 2],
                            [-half, skin / 2]]
        return found
    rib, line, side = built.sections[0], built.grid.families[0], built.side
    pitch, height = float(line.pitch), float(rib.height)
    tip, root = float(rib.tip_width), float(rib.root_width)
    flank = _flank(root / 2, tip / 2, height, min(float(design.ribs.root_fillet), height))
    right = [[x, skin / 2 + up] for x, up in flank]
    upper = [[pitch, skin / 2]]
    upper += [[pitch / 2 + x, z] for x, z in right]
    upper += [[pitch / 2 - x, z] for x, z in reversed(right)]
    upper += [[0.0, skin / 2]]
    points = [[0.0, -skin / 2], [pitch, -skin / 2], *upper]
    found["outline"] = [[x - pitch / 2, side * z] for x, z in points]
    found.update({
        "side": side, "pitch": pitch, "height": height, "tip": tip, "root": root,
        "pitch_text": shown(pitch, "length", system, 3),
        "height_text": shown(height, "length", system, 3),
        "tip_text": shown(tip, "length", system, 3),
        "root_text": shown(root, "length", system, 3),
        "family": line.name,
    })
    return found


def _flank(half_root: float, half_tip: float, height: float, fillet: float) -> list[list[float]]:
    """Points (x, up) of the right flank from the skin over the fillet to the tip."""
    if fillet <= 0:
        return [[half_root, 0.0], [half_tip, height]]
    inner = math.pi / 2 + math.atan2(half_root - half_tip, height)  # between skin and flank
    center = half_root + fillet / math.tan(inner / 2)
    turn = np.linspace(-math.pi / 2, -math.pi / 2 - (math.pi - inner), 7)
    arc = np.stack([center + fillet * np.cos(turn), fillet + fillet * np.sin(turn)], axis=-1)
    arc = arc[arc[:, 1] < height]
    return [*arc.tolist(), [half_tip, height]]


def chart(design: Design, controls: Controls, count: int) -> dict[str, Any]:
    """The map: mass, lowest margin and governing check over rib height and spacing.

    Args:
        design: one design; its height and spacing do not matter.
        controls: whose ranges the map covers.
        count: designs along each axis.

    Returns:
        axes in the units shown; rows by spacing, columns by height; null where a design is
        impossible (ribs that close the pockets, too few cells round).

    Raises:
        InputError: the wall has no ribs with one spacing.
    """
    if not design.has_ribs or design.ribs.pattern == "families":
        raise InputError("ribs.pattern: only a grid with a rib spacing has a map")
    by_path = {slider.path: slider for slider in controls.sliders}
    tall, wide = by_path["ribs.height"], by_path["ribs.spacing"]
    meters = 0.0254 if tall.unit == "in" else 1e-3
    heights = np.linspace(tall.low, tall.high, count)
    spacings = np.linspace(wide.low, wide.high, count)
    possible = _possible(design, heights * meters, spacings * meters)
    row, column = np.nonzero(possible)
    masses = np.full(possible.shape, np.nan)
    margins = np.full(possible.shape, np.nan)
    governing = np.full(possible.shape, -1)
    names: list[str] = []
    if row.size:
        many = with_values(design, {
            "ribs.height": heights[column] * meters, "ribs.spacing": spacings[row] * meters,
        })
        tube = assess_tube(many)
        masses[row, column] = tube.mass
        if tube.cases:
            margins[row, column] = tube.margin
            names, which = _governing(tube, row.size)
            governing[row, column] = which
    return {
        "heights": heights.tolist(), "spacings": spacings.tolist(), "unit": tall.unit,
        "mass": _listed(masses), "margin": _listed(margins), "governing": governing.tolist(),
        "names": names, "mass_unit": "lb" if design.units == "inch" else "g",
    }


def _possible(design: Design, heights: Array, spacings: Array) -> np.ndarray:
    """Which pairs make a design without contradiction (spacings, heights)."""
    def holds(height: float, spacing: float) -> bool:
        return not check_design(
            with_values(design, {"ribs.height": height, "ribs.spacing": spacing})
        )

    return np.array([[holds(float(h), float(s)) for h in heights] for s in spacings])


def _governing(tube: TubeResult, count: int) -> tuple[list[str], np.ndarray]:
    """Names of the checks that govern somewhere, and which does for each design."""
    margins = np.stack([np.broadcast_to(case.margin, (count,)) for case in tube.cases])
    by_case = np.stack([np.broadcast_to(case.governing, (count,)) for case in tube.cases])
    chosen = by_case[np.argmin(margins, axis=0), np.arange(count)]
    names, which = np.unique(chosen, return_inverse=True)
    return [str(name) for name in names], which


def _listed(values: Array) -> list[list[float | None]]:
    return [
        [round(v, 6) if math.isfinite(v) else None for v in row] for row in values.tolist()
    ]
