"""Every limit of a sizing as a number of one kind: the slack, ln(value/bound) or its negative.

Margins, limits of the tube and limits of making all end here, so the solver, the optimality check
and the search for conflicts treat them alike.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.files.unit_cell_match import refuse_unit_cell
from gridshell.define.possible import THINNEST_MEAN_RADIUS_RATIO
from gridshell.define.tables.design import Design
from gridshell.define.tables.mold import mold_of
from gridshell.define.tables.target import Target
from gridshell.define.types import Array, Quantity
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties as resolve
from gridshell.study.size.candidates import WallChoice
from gridshell.study.size.making import MakingMargins
from gridshell.tube.buckling.general import ribs_per_half_wave
from gridshell.tube.result import TubeResult
from gridshell.wall.assess import assess_wall
from gridshell.wall.geometry.mass import at_radius, pocket_outline_at
from gridshell.wall.geometry.pattern import pocket_shapes
from gridshell.wall.geometry.pockets import inscribed_radius
from gridshell.wall.stiffness.verified_range import MAPPED

IDLE = 20.0  # slack of a check that nothing loads
LEAST, MOST = "least", "most"
WIDEST = MAPPED["rib width / node distance"][1]
SKIN_TO_WIDTH = MAPPED["skin thickness / rib width"]
# Ribs may overlap and leave less than no pocket.
MAKING = "mold."  # keys of limits that the making asks for begin with it
_SIGNED = ("target.least_pocket", "ribs.corner_radius")


@dataclass(frozen=True)
class SizeLimit:
    """One limit.

    Attributes:
        key: stable name, for programs.
        text: for people.
        sense: 'least' or 'most'.
        bound: SI.
        kind: of quantity (a key of `units.KINDS`).
        hard: True where relaxing it means nothing (a tube that is no tube any more).
    """

    key: str
    text: str
    sense: str
    bound: float
    kind: str
    hard: bool = False

    def relaxed(self, slack: float) -> float:
        """The bound at which a slack (negative where unmet) becomes zero."""
        return self.bound * math.exp(slack if self.sense == LEAST else -slack)


@dataclass(frozen=True)
class Task:
    """What is to be sized: the stated design, its target, material, and limits from the mold.

    Attributes:
        design: as stated.
        target: its ``[target]`` or the defaults.
        properties: of the material at the temperature of use.
        min_width: of ribs, with the tool of a milled mold.
        max_mass: kg, or None.
        margins: demands of the making on the dimensions; None: not looked at.
    """

    design: Design
    target: Target
    properties: Properties
    min_width: float
    max_mass: float | None
    margins: MakingMargins | None = None


def make_task(
    design: Design, properties: Properties | None = None, margins: MakingMargins | None = None
) -> Task:
    """Gather what sizing needs.

    Raises:
        InputError: nothing to size for, the material can't be resolved, ``ribs.solid_cell``, or a
            least dimension that the diameter has no room for.
    """
    refuse_unit_cell(design, "a search for a size changes it")
    target = design.target if design.target is not None else Target()
    if properties is None:
        properties = resolve(design.material, design.folder)
    width = float(target.least_rib_width)
    mold = mold_of(design)
    if design.mold is not None and mold.process == "mill":
        width = max(width, float(mold.tool_diameter))
    _refuse_beyond_the_tube(design, target, width)
    mass = target.largest_mass
    if target.aim == "stiffness" and mass is None:
        mass = float(assess_wall(design, properties).tube_mass)
    wanted = (
        target.least_bending_stiffness, target.least_axial_stiffness,
        target.least_torsional_stiffness, target.least_frequency,
    )
    if target.aim == "mass" and not design.case and all(value is None for value in wanted):
        raise InputError(
            "case: nothing to size for; state a [[case]], or a stiffness or frequency in [target]"
        )
    return Task(
        design, target, properties, width, None if mass is None else float(mass), margins)


def _refuse_beyond_the_tube(design: Design, target: Target, width: float) -> None:
    """Refuse least dimensions that leave no shell at the design's diameter."""
    outside = float(design.tube.outside_diameter) / 2
    deepest = outside / THINNEST_MEAN_RADIUS_RATIO
    wanted = [("least_skin", float(target.least_skin), deepest)]
    if set(target.walls) != {"plain"}:
        height = 0.0 if target.least_rib_height is None else float(target.least_rib_height)
        wanted += [("least_rib_height", height, deepest), ("least_rib_width", width, outside)]
    for key, least, most in wanted:
        if least >= most:
            raise InputError(
                f"target.{key}: {least * 1e3:g} mm leaves no shell at an outside radius of "
                f"{outside * 1e3:g} mm; must be below {most * 1e3:g} mm")


def _log(ratio: Quantity, signed: bool) -> Quantity:
    """Natural logarithm; of what may be negative, carried on as its tangent below one half."""
    if not signed:
        return np.log(ratio)
    return np.where(ratio > 0.5, np.log(np.maximum(ratio, 0.5)), np.log(0.5) + 2 * ratio - 1)


def pocket_circle(tube: TubeResult) -> Quantity:
    """Diameter of the largest circle in a whole pocket, at its floor or mouth, m."""
    design, grid = tube.design, tube.wall.grid
    corners = pocket_shapes(grid)[0].corners
    smallest: Quantity = np.inf
    for depth in (0.0 * design.ribs.height, design.ribs.height):
        radius, inset, _ = pocket_outline_at(design, grid, depth)
        room = inscribed_radius(at_radius(corners, radius, grid.radius))
        smallest = np.minimum(smallest, 2 * (room - inset))
    return smallest


def _tube_limits(task: Task, tube: TubeResult) -> list[tuple[SizeLimit, Quantity]]:
    target, stiffness = task.target, tube.stiffness
    outside = float(task.design.tube.outside_diameter) / 2
    support = target.frequency_support
    rows: list[tuple[str, str, str, float | None, str, Quantity]] = [
        ("largest_mass", "mass", MOST, task.max_mass, "mass", tube.mass),
        ("least_bending_stiffness", "bending stiffness EI", LEAST,
         target.least_bending_stiffness, "stiffness", stiffness.EI),
        ("least_axial_stiffness", "axial stiffness EA", LEAST, target.least_axial_stiffness,
         "force", stiffness.EA),
        ("least_torsional_stiffness", "torsional stiffness GJ", LEAST,
         target.least_torsional_stiffness, "stiffness", stiffness.GJ),
        ("least_frequency", f"first frequency, {support}", LEAST, target.least_frequency,
         "frequency", tube.frequencies[support]),
        ("largest_depth", "depth of skin and ribs", MOST, target.largest_depth, "length",
         tube.wall.depth),
        ("least_skin", "skin at least", LEAST, target.least_skin, "length",
         tube.design.skin.thickness),
        ("largest_skin", "skin at most", MOST, target.largest_skin, "length",
         tube.design.skin.thickness),
    ]
    listed = [
        (SizeLimit(f"target.{key}", text, sense, float(bound), kind), value)
        for key, text, sense, bound, kind, value in rows if bound is not None
    ]
    shell = SizeLimit("geometry.depth", "wall no deeper than half the radius", MOST,
                  outside / THINNEST_MEAN_RADIUS_RATIO, "length", hard=True)
    listed.append((shell, tube.wall.depth))
    if target.largest_deflection is not None:
        for case in tube.cases:
            if case.beam is not None:
                listed.append((
                    SizeLimit(f"target.largest_deflection.{case.name}", f"{case.name}: deflection",
                          MOST, float(target.largest_deflection), "length"),
                    case.beam.deflection,
                ))
    return listed


def _rib_limits(task: Task, tube: TubeResult) -> list[tuple[SizeLimit, Quantity]]:
    target, ribs, grid = task.target, tube.design.ribs, tube.wall.grid
    rows: list[tuple[str, str, str, float | None, str, Quantity]] = [
        ("least_rib_width", "rib width at least", LEAST, task.min_width, "length", ribs.width),
        ("largest_rib_width", "rib width at most", MOST, target.largest_rib_width, "length",
         ribs.width),
        ("least_rib_height", "rib height at least", LEAST, target.least_rib_height, "length",
         ribs.height),
        ("largest_rib_height", "rib height at most", MOST, target.largest_rib_height, "length",
         ribs.height),
        ("largest_slenderness", "rib height over width at most", MOST, target.largest_slenderness,
         "ratio", ribs.height / ribs.width),
        ("least_slenderness", "rib height over width at least", LEAST, target.least_slenderness,
         "ratio", ribs.height / ribs.width),
        ("least_pocket", "circle in a pocket", LEAST, target.least_pocket, "length",
         pocket_circle(tube)),
        ("least_cells_round", "cells round at least", LEAST, target.least_cells_round, "ratio",
         grid.cells_round),
        ("largest_cells_round", "cells round at most", MOST, target.largest_cells_round, "ratio",
         grid.cells_round),
        ("least_cells_along", "cells along at least", LEAST, target.least_cells_along, "ratio",
         grid.cells_along),
        ("largest_cells_along", "cells along at most", MOST, target.largest_cells_along, "ratio",
         grid.cells_along),
    ]
    listed = [
        (SizeLimit(f"target.{key}", text, sense, float(bound), kind), value)
        for key, text, sense, bound, kind, value in rows if bound is not None
    ]
    # Smeared stiffness is fitted to this range of shapes; outside it an optimum would only be an
    # optimum of the extrapolation.
    for sense, bound in zip((LEAST, MOST), SKIN_TO_WIDTH, strict=True):
        listed.append((
            SizeLimit(f"range.skin_to_width.{sense}", f"skin over rib width at {sense} (range of "
                      "the stiffness formulas)", sense, bound, "ratio", hard=True),
            tube.design.skin.thickness / tube.wall.sections[0].root_width,
        ))
    if ribs.formula == "fat":
        # Beyond it nodes are most of the grid, and stiffness may come out above that of all the
        # material laid along the axis.
        listed.append((
            SizeLimit("range.width_to_node", "rib width over node distance at most (range of the "
                  "stiffness formulas)", MOST, WIDEST, "ratio", hard=True),
            ribs.width / tube.wall.node_distance,
        ))
    rounding = 2 * max(float(ribs.corner_radius), float(ribs.root_fillet))
    if rounding > target.least_pocket:
        listed.append((
            SizeLimit("ribs.corner_radius", "corner radius and root fillet fit the pocket", LEAST,
                  rounding, "length", hard=True),
            pocket_circle(tube),
        ))
    if ribs.root_fillet > 0:
        listed.append((
            SizeLimit("ribs.root_fillet", "root fillet no taller than the rib", LEAST,
                  float(ribs.root_fillet), "length", hard=True),
            ribs.height,
        ))
    if grid.pattern == "diagonal":
        angle = np.arctan2(grid.cell_width, grid.cell_height)
        for sense, bound in zip((LEAST, MOST), target.angles, strict=True):
            listed.append((
                SizeLimit(f"target.angles.{sense}", f"angle of the ribs at {sense}", sense,
                      float(bound), "angle"), angle,
            ))
    if target.least_ribs_per_wave > 0:
        fewest: Quantity = np.inf
        for wave in (tube.buckling.compression, tube.buckling.lateral, tube.buckling.hydrostatic,
                     tube.buckling.torsion):
            if wave is not None:
                fewest = np.minimum(fewest, ribs_per_half_wave(tube.wall, wave))
        listed.append((
            SizeLimit("target.least_ribs_per_wave", "rib spacings in a buckling half wave", LEAST,
                  float(target.least_ribs_per_wave), "ratio"),
            fewest,
        ))
    return listed


def limits_of(
    task: Task, choice: WallChoice, tube: TubeResult, count: int | None = None
) -> tuple[tuple[SizeLimit, ...], Array]:
    """The limits of assessed designs, and each slack.

    Args:
        task: what is sized.
        choice: the wall.
        tube: assessed designs.
        count: number of designs; None: one.

    Returns:
        limits in fixed order, and slack (count, limits), or (limits,) for one design.
    """
    listed = _tube_limits(task, tube)
    if choice.pattern != "plain":
        listed += _rib_limits(task, tube)
    for case in tube.cases:
        # One design lists its worst check first; the order here must not depend on that.
        for check in sorted(case.checks, key=lambda check: check.name):
            listed.append((
                SizeLimit(f"case.{case.name}.{check.name}", f"{case.name}: {check.name}", LEAST,
                      1 + float(task.target.margin), "ratio"),
                1 + check.margin,
            ))
    for demand in () if task.margins is None else task.margins(tube):
        listed.append((
            SizeLimit(f"{MAKING}{demand.name}", f"mold: {demand.name} ({demand.field})", LEAST,
                      1.0, "ratio", hard=True),
            1 + demand.margin,
        ))
    shape: tuple[int, ...] = () if count is None else (count,)
    slack = np.empty((*shape, len(listed)))
    for place, (limit, value) in enumerate(listed):
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = value / limit.bound if limit.sense == LEAST else limit.bound / value
            signed = limit.key in _SIGNED or limit.key.startswith(MAKING)
            slack[..., place] = _log(np.asarray(ratio, float), signed)
    return tuple(limit for limit, _ in listed), np.clip(
        np.nan_to_num(slack, nan=-IDLE, posinf=IDLE, neginf=-IDLE), -IDLE, IDLE
    )


def objective_of(task: Task, tube: TubeResult) -> Quantity:
    """What is made small: ln mass, or -ln EI."""
    with np.errstate(invalid="ignore", divide="ignore"):
        if task.target.aim == "stiffness":
            value: Quantity = -np.log(tube.stiffness.EI)
        else:
            value = np.log(tube.mass)
    answer: Quantity = np.nan_to_num(np.asarray(value, float), nan=IDLE, posinf=IDLE, neginf=IDLE)
    return answer
