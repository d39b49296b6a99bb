"""``[target]``: what 'gridshell size' looks for, and the limits of making it.

Every default is a stated assumption for casting in a printed mold; a user should replace it by what
their own nozzle, tool, melt and mold allow.
"""

from __future__ import annotations

from dataclasses import dataclass

from gridshell.define.constants import SIDES, SUPPORTS
from gridshell.define.errors import Problem, Problems
from gridshell.define.schema import choice, count, field_rules, names, quantities, quantity
from gridshell.define.units import KINDS

AIMS = ("mass", "stiffness")
WALLS = ("isogrid-hoop", "isogrid-axial", "orthogrid", "diagonal", "plain")


@dataclass(frozen=True)
class Target:
    """``[target]``: aim, limits of the tube, limits of making. Left out means no such limit."""

    aim: str = choice(
        AIMS, "'mass': the lightest tube; 'stiffness': the stiffest in bending at largest_mass",
        default="mass",
    )
    margin: float = quantity(
        "ratio", "least margin of every check of every load case", default=0.0, least=0.0,
        most=100.0,
    )
    walls: tuple[str, ...] = names(
        "walls to try; isogrid-hoop has ribs round the tube, isogrid-axial along it",
        default=WALLS, options=WALLS,
    )
    sides: tuple[str, ...] | None = names(
        "sides for the ribs to try; left out: the side in [ribs]", default=None, options=SIDES
    )

    largest_mass: float = quantity(
        "mass", "mass of the tube at most; with aim 'stiffness' left out: that of the tube as "
        "stated", default=None, above=0.0
    )
    least_bending_stiffness: float = quantity(
        "stiffness", "EI of the tube at least", default=None, above=0.0
    )
    least_axial_stiffness: float = quantity(
        "force", "EA of the tube at least", default=None, above=0.0
    )
    least_torsional_stiffness: float = quantity(
        "stiffness", "GJ of the tube at least", default=None, above=0.0
    )
    largest_deflection: float = quantity(
        "length", "deflection at most, in every load case that states a support", default=None,
        above=0.0
    )
    least_frequency: float = quantity(
        "frequency", "first bending frequency at least", default=None, above=0.0
    )
    frequency_support: str = choice(
        SUPPORTS, "how the tube is held for that frequency", default="free-free"
    )
    largest_depth: float = quantity(
        "length", "skin and ribs together at most", default=None, above=0.0
    )

    least_skin: float = quantity(
        "length", "skin at least: what the melt still fills", default=0.8e-3, above=0.0
    )
    largest_skin: float = quantity("length", "skin at most", default=None, above=0.0)
    least_rib_width: float = quantity(
        "length", "rib width at the tip at least: nozzle, melt, or the tool that cuts the groove "
        "of a milled mold (mold.tool_diameter counts too)", default=1.2e-3, above=0.0
    )
    largest_rib_width: float = quantity(
        "length", "rib width at the tip at most", default=None, above=0.0
    )
    least_rib_height: float = quantity("length", "rib height at least", default=None, above=0.0)
    largest_rib_height: float = quantity("length", "rib height at most", default=None, above=0.0)
    largest_slenderness: float = quantity(
        "ratio", "rib height over its width at the tip, at most: fills, and peels from the mold",
        default=5.0, above=0.0, most=100.0,
    )
    least_slenderness: float = quantity(
        "ratio", "rib height over its width at the tip, at least: shallower ribs leave the range "
        "of the formulas for ribs", default=1.0, above=0.0, most=100.0,
    )
    least_pocket: float = quantity(
        "length", "diameter of the circle that fits in a pocket at least: tool or finger room",
        default=6e-3, above=0.0
    )
    least_cells_round: int = count(
        "whole cells round one segment at least", default=3, least=1, most=100_000
    )
    largest_cells_round: int | None = count(
        "whole cells round one segment at most", default=None, least=1, most=100_000
    )
    least_cells_along: int = count(
        "whole cells along one section at least", default=1, least=1, most=100_000
    )
    largest_cells_along: int | None = count(
        "whole cells along one section at most", default=None, least=1, most=100_000
    )
    angles: tuple[float, ...] = quantities(
        "angle", "diagonal ribs only: least and largest angle from the axis",
        default=(0.3490658503988659, 1.2217304763960306), length=2, above=0.0,
        below=1.5707963267948966
    )
    least_ribs_per_wave: float = quantity(
        "ratio", "rib spacings in a half wave of general buckling at least: with fewer, smeared "
        "ribs mislead; 0 lifts the limit", default=2.0, least=0.0, most=100.0,
    )
    step: float = quantity(
        "length", "dimensions are rounded to whole steps", default=1e-4, above=0.0
    )


_PAIRS = (
    ("least_skin", "largest_skin"),
    ("least_rib_width", "largest_rib_width"),
    ("least_rib_height", "largest_rib_height"),
    ("least_slenderness", "largest_slenderness"),
    ("least_cells_round", "largest_cells_round"),
    ("least_cells_along", "largest_cells_along"),
)


def check_target(target: Target) -> list[Problem]:
    """Contradictions within ``[target]`` that no design could mend."""
    problems = Problems()
    for low, high in _PAIRS:
        least, most = getattr(target, low), getattr(target, high)
        if least is not None and most is not None and least > most:
            rules = field_rules(Target, high)
            unit = f" {KINDS[rules['kind']][0]}".rstrip() if "kind" in rules else ""
            problems.add(f"target.{high}", f"{most:g}{unit} is below target.{low}, {least:g}{unit}")
    if target.angles[0] > target.angles[1]:
        problems.add("target.angles", "must be the least and then the largest")
    for name in ("walls", "sides"):
        given = getattr(target, name)
        if given is not None and not given:
            problems.add(f"target.{name}", "is empty; name at least one")
        elif given is not None and len(set(given)) < len(given):
            problems.add(f"target.{name}", "names one twice")
    return problems
