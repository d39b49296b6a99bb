"""The grid beside plain walls of equal mass, of equal bending stiffness, of equal buckling load."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from gridshell.define.possible import THINNEST_SKIN
from gridshell.define.schema import field_rules
from gridshell.define.tables.design import Case, Design, Ribs, with_values
from gridshell.define.types import Quantity
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties as resolve
from gridshell.tube.assess import assess_cases, assess_tube
from gridshell.tube.result import CaseResult, Check, TubeResult
from gridshell.tube.section.lands import tube_stiffness
from gridshell.wall.assess import assess_wall

THICKEST_SHARE = 0.45  # of the outside radius; a thicker plain wall is not a tube any more


@dataclass(frozen=True)
class Contender:
    """One wall in the comparison.

    Attributes:
        name: the grid, or the plain wall and what it has in common with the grid.
        tube: its assessment under the design's own cases.
        thickness: of the plain wall, or skin and ribs together for the grid, m.
        buckling_load: axial compression at which it first buckles in any way, knockdowns included,
            N.
        buckling_mode: which way.
        pressure: the check of buckling under external pressure on the wall.
        knockdown: factor in ``buckling_load``: it is that much of the load of perfect theory.
    """

    name: str
    tube: TubeResult
    thickness: Quantity
    buckling_load: Quantity
    buckling_mode: str
    pressure: Check
    knockdown: Quantity

    @property
    def crushing_pressure(self) -> Quantity:
        """External pressure on the wall at which it buckles, knockdown included, Pa."""
        return self.pressure.allowable

    @property
    def wall_bending(self) -> Quantity:
        """Hoop bending stiffness of the wall, free to stretch, N m: what resists dents."""
        wall = self.tube.wall
        return wall.free_bending[..., 1, 1]


@dataclass(frozen=True)
class WallComparison:
    """The grid beside plain walls.

    Attributes:
        contenders: the grid first, then the plain walls.
        missing: plain walls that do not exist, and why.
    """

    contenders: tuple[Contender, ...]
    missing: tuple[str, ...]

    @property
    def verdict(self) -> str:
        """Whether the grid beats the plain wall of the same mass, in one sentence."""
        grid = self.contenders[0]
        plain = next((c for c in self.contenders if "equal mass" in c.name), None)
        if plain is None:
            return "no plain wall of equal mass to compare with"
        stiffer = float(grid.tube.stiffness.EI / plain.tube.stiffness.EI)
        stronger = float(grid.buckling_load / plain.buckling_load)
        crushed = float(grid.crushing_pressure / plain.crushing_pressure)
        firmer = float(grid.wall_bending / plain.wall_bending)
        factor = float(grid.knockdown / plain.knockdown)
        return (
            f"against the plain wall of equal mass this wall has {stronger:.2f} times the buckling "
            f"load in compression, {crushed:.2f} times the crushing pressure, {firmer:.2f} times "
            f"the stiffness against dents, and {stiffer:.2f} times the tube's bending stiffness; "
            f"of the {stronger:.2f} times, perfect theory gives {stronger / factor:.2f} and the "
            f"knockdown factors {factor:.2f} ({float(grid.knockdown):.2f} against "
            f"{float(plain.knockdown):.2f})"
        )


def column_support(design: Design) -> str:
    """How the tube is held as a column: the weakest support of its compressed load cases."""
    held = {case.support for case in design.case if np.any(np.asarray(case.compression) > 0)}
    return "cantilever" if "cantilever" in held else "none"


_PRESSURE = Case(name="unit pressure", pressure=1.0, pressure_on_ends=False, factor=1.0)


def _compression(design: Design) -> Case:
    """A unit of axial compression on a column held as the design's own compressed cases are."""
    return Case(name="unit compression", compression=1.0, factor=1.0,
                support=column_support(design))


def first_buckling(design: Design, properties: Properties) -> Check:
    """The lowest buckling check in pure axial compression; its allowable as a force, N.

    Found as the load at which the worst stability check of a unit load case reaches margin zero,
    with the axis straight: all of them grow in proportion to the load. The column is held as in
    the design's own compressed load cases (see `column_support`), and its name says how.

    Args:
        design: one design.
        properties: of the material.
    """
    case = _compression(design)
    alone = with_values(design, {"case": (case,), "tube.straightness": 0.0})
    return _first("force", assess_tube(alone, properties).cases[0])


def unit_buckling(tube: TubeResult) -> tuple[Check, Check]:
    """`first_buckling`, and the same under external pressure on the wall alone, Pa.

    Under pressure the wall as a whole, a pocket or a rib goes first.

    Args:
        tube: one, assessed.
    """
    force, pressure = assess_cases(tube, (_compression(tube.design), _PRESSURE))
    return _first("force", force), _first("pressure", pressure)


def _first(kind: str, case: CaseResult) -> Check:
    """The stability check that a unit load brings to margin zero first, and that load."""
    checks = [check for check in case.checks if check.subject == "stability"]
    worst = min(checks, key=lambda check: float(np.nan_to_num(check.margin, nan=-np.inf)))
    name = worst.name
    if name == "column buckling":
        name = f"{name}, {worst.notes[0]}"
    return dataclasses.replace(worst, name=name, kind=kind, allowable=float(worst.margin) + 1.0)


def plain_design(design: Design, thickness: Quantity) -> Design:
    """The same tube with a plain wall of a thickness; same outside diameter, of no known shape."""
    plain = dataclasses.replace(design, ribs=Ribs(pattern="plain"), as_built=None)
    return with_values(plain, {"skin.thickness": thickness})


def thickness_of_mass(design: Design, properties: Properties, mass: float) -> float:
    """Thickness of the plain wall with which the tube has a mass, m; infinite if none is so heavy.

    Ring of outer radius R over length L: mass = rho pi L (R^2 - (R - t)^2).

    Args:
        design: one design.
        properties: of the material.
        mass: kg.
    """
    radius = float(design.tube.outside_diameter) / 2
    bore = radius**2 - mass / (np.pi * float(design.tube.length) * float(properties.density))
    # R - sqrt(bore) without the loss of digits of a thin wall.
    return np.inf if bore < 0 else float((radius**2 - bore) / (radius + np.sqrt(bore)))


def _contender(name: str, design: Design, properties: Properties) -> Contender:
    tube = assess_tube(design, properties)
    worst, crushed = unit_buckling(tube)
    return Contender(
        name, tube, thickness=tube.wall.depth, buckling_load=worst.allowable,
        buckling_mode=worst.name, pressure=crushed,
        knockdown=worst.knockdown,
    )


def compare_walls(design: Design, properties: Properties | None = None) -> WallComparison:
    """Compare a design with plain walls of the same outside diameter and material.

    Args:
        design: one design.
        properties: of the material; None: looked up.

    Raises:
        InputError: the material can't be resolved.
    """
    if properties is None:
        properties = resolve(design.material, design.folder)
    known = properties
    grid = _contender("grid" if design.has_ribs else "as defined", design, known)
    limit = float(design.tube.outside_diameter) / 2 * THICKEST_SHARE
    thinnest = max(
        float(design.tube.outside_diameter) / 2 / THINNEST_SKIN,
        field_rules(Design, "skin.thickness")["least"],
    ) * (1 + 1e-9)

    def bending(thickness: float) -> float:
        return float(tube_stiffness(assess_wall(plain_design(design, thickness), known)).EI)

    def buckling(thickness: float) -> float:
        return float(first_buckling(plain_design(design, thickness), known).allowable)

    def equal(law: Callable[[float], float], goal: float) -> float:
        if law(limit) < goal:
            return np.inf
        if law(thinnest) > goal or not goal > 0:
            return 0.0
        return float(brentq(lambda t: law(t) / goal - 1, thinnest, limit, xtol=1e-9, rtol=1e-9))

    contenders, missing = [grid], []
    for name, thickness in (
        ("plain wall, equal mass", thickness_of_mass(design, known, float(grid.tube.mass))),
        ("plain wall, equal EI", equal(bending, float(grid.tube.stiffness.EI))),
        ("plain wall, equal buckling load", equal(buckling, float(grid.buckling_load))),
    ):
        if thickness > limit:
            missing.append(
                f"{name}: none; even a wall of {limit * 1e3:.3g} mm falls short of it"
            )
        elif thickness < thinnest:
            missing.append(f"{name}: none; even a wall of {thinnest * 1e3:.3g} mm is above it")
        else:
            contenders.append(_contender(name, plain_design(design, thickness), known))
    return WallComparison(tuple(contenders), tuple(missing))
