"""What the page shows for one design: numbers, comparison, section and the map about it."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from scipy.optimize import brentq

from gridshell.define.checks import check_design
from gridshell.define.errors import InputError
from gridshell.define.schema import field_rules
from gridshell.define.tables.design import Design, with_values
from gridshell.define.types import Array
from gridshell.define.units import parse_quantity
from gridshell.explore.controls import Controls, positions
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties as resolve
from gridshell.mold.checks.result import VERDICTS
from gridshell.mold.checks.run import mold_checks
from gridshell.report.numbers import margin, shown
from gridshell.report.text.tube import CAUTION, tube_json
from gridshell.report.text.wall import rounding_lines
from gridshell.report.verdict import (
    FAILS,
    Finding,
    Verdict,
    joints_finding,
    judge,
    mold_finding,
    range_finding,
    structure_finding,
    unchecked_finding,
)
from gridshell.study.compare import first_buckling, plain_design, pressure_buckling
from gridshell.tube.assess import assess_tube
from gridshell.tube.result import TubeResult
from gridshell.wall.assess import Wall, assess_wall

_THICKEST = 0.45  # of the outside radius; a thicker plain wall is not a tube any more


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
    system, wall = design.units, tube.wall
    buckles = first_buckling(design, properties)
    crushed = pressure_buckling(design, properties)
    lowest = float(tube.margin)
    numbers = {
        "mass": (tube.mass, "mass", 4),
        "EI": (tube.stiffness.EI, "stiffness", 4),
        "GJ": (tube.stiffness.GJ, "stiffness", 4),
        "buckling_load": (buckles.allowable, "force", 4),
        "crushing_pressure": (crushed.allowable, "pressure", 4),
        "wall_bending": (
            wall.free_bending[..., 1, 1], "moment", 4),
        "frequency": (tube.frequencies["free-free"], "frequency", 3),
        "depth": (wall.depth, "length", 3),
    }
    bent = [case.beam.deflection for case in tube.cases if case.beam is not None]
    if bent:
        numbers["deflection"] = (max(map(float, bent)), "length", 3)
    si: dict[str, Any] = {key: float(value) for key, (value, *_) in numbers.items()}
    texts = {
        key: shown(value, kind, system, count) for key, (value, kind, count) in numbers.items()
    }
    si["margin"] = lowest if math.isfinite(lowest) else None
    texts["margin"] = margin(lowest) if tube.cases else "no case"
    worst = min(tube.cases, key=lambda case: float(case.margin), default=None)
    texts["governing"] = "no load case" if worst is None else str(worst.governing)
    texts["case"] = "" if worst is None else worst.name
    # Where it is held decides the load of a column, so the mode never stands without it.
    held = "".join(f", {note}" for note in buckles.notes[:1] if buckles.name.startswith("column"))
    texts["buckling_mode"] = f"{buckles.name}{held}"
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
    now = _column(design, known, tube)
    beside = None if plain is None else _column(plain, known, assess_tube(plain, known))
    missing = (
        "" if plain is not None else "no plain wall is as heavy" if design.has_ribs
        else "this wall is plain"
    )
    return {
        "tube": tube_json(tube),
        "now": now,
        "plain": beside,
        "plain_missing": missing,
        "against": _against_plain(now, beside, missing),
        "section": section(built),
        "cells": _cells(built),
        "verdict": _structure(tube).to_dict(),
    }


def _structure(tube: TubeResult) -> Verdict:
    """The verdict but for what takes too long to follow a slider; see `mold_advice`."""
    return judge((structure_finding(tube), unchecked_finding(tube), range_finding(tube)))


def _against_plain(now: dict[str, Any], plain: dict[str, Any] | None, missing: str) -> str:
    """Whether the grid pays, in one line: each strength over that of the plain wall."""
    if plain is None:
        return missing
    shares = [
        f"{name} x{now['si'][key] / plain['si'][key]:.2f}" for key, name in (
            ("buckling_load", "buckling load"), ("crushing_pressure", "external pressure"),
            ("wall_bending", "dents"), ("EI", "EI"))
    ]
    return "against a plain wall of equal mass: " + ", ".join(shares)


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


def mold_advice(design: Design) -> dict[str, Any]:
    """What the checks of the mold say, the worst first, and what the verdict still lacks.

    ``findings`` are those on the mold, if the definition states [mold], and on the joints, if it
    states [body]; ``refused`` says why there is no mold.
    """
    findings: list[Finding | None] = []
    if design.body is not None:
        findings.append(joints_finding(design, None))
    try:
        found = mold_checks(design)
    except InputError as error:
        if design.mold is not None:
            findings.append(Finding("mold", FAILS, str(error)))
        return {"checks": [], "refused": str(error), "findings": _listed_findings(findings)}
    if design.mold is not None:
        findings.append(mold_finding(design, found))
    checks = sorted(found.checks, key=lambda c: VERDICTS.index(c.verdict))
    return {
        "refused": "", "findings": _listed_findings(findings),
        "checks": [
            {"name": check.name, "verdict": check.verdict, "advice": check.advice}
            for check in checks
        ],
    }


def _listed_findings(findings: list[Finding | None]) -> list[dict[str, Any]]:
    return [dict(vars(one)) for one in findings if one is not None]


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
        change = float(lowest[place] - lowest[0])
        rows[slider.path]["up" if sign > 0 else "down"] = {
            "mass": float(mass[place] - mass[0]),
            "margin": change if math.isfinite(change) else None,
            "text": _move_text(change, float(mass[place] - mass[0]), design.units),
        }

    def weight(row: dict[str, Any]) -> float:
        return max([abs(row[way]["margin"] or 0.0) for way in ("up", "down") if way in row] or [0])

    return sorted(rows.values(), key=weight, reverse=True)


def _move_text(change: float, mass: float, system: str) -> str:
    weight = shown(abs(mass), "mass", system, 2)
    said = "" if not math.isfinite(change) else f"margin {change:+.2g}, "
    return f"{said}mass {'-' if mass < 0 else '+'}{weight}"


def _field(design: Design, path: str) -> float:
    table, _, name = path.partition(".")
    return float(getattr(getattr(design, table), name))


def _check_rows(tube: TubeResult, system: str) -> list[dict[str, Any]]:
    return [
        {
            "case": case.name, "name": check.name, "margin": margin(float(check.margin)),
            "holds": bool(float(check.margin) >= 0),
            "use": _use(float(check.margin)),
            "allowable": shown(check.allowable, check.kind, system),
            "applied": shown(check.applied, check.kind, system),
            "notes": [*check.notes, f"knockdown {float(check.knockdown):.3g}: {check.source}"],
        }
        for case in tube.cases for check in case.checks
    ]


def _use(margin_of_safety: float) -> float | None:
    """Share of the allowable that is used at the design factor; null if it is not known."""
    return None if math.isnan(margin_of_safety) else 1 / (1 + margin_of_safety)


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
