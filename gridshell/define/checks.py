"""Checks between fields: each value alone may be fine and the design still impossible."""

from __future__ import annotations

import math

from gridshell.define.constants import CELL_PATTERNS
from gridshell.define.errors import DefinitionError, Problem
from gridshell.define.tables.body import check_body
from gridshell.define.tables.chill import check_chill
from gridshell.define.tables.design import Design
from gridshell.define.tables.joints import check_joints
from gridshell.define.tables.mold import mold_of
from gridshell.define.tables.scatter import check_scatter
from gridshell.define.tables.target import check_target
from gridshell.define.types import Quantity

THINNEST_MEAN_RADIUS_RATIO = 2.0  # radius over wall depth below which this is not a shell at all
THINNEST_SKIN = 2e4  # radius over skin thickness: foil thinner than that does not stand
LONGEST_TUBE = 2000.0  # length over radius
LEAST_RIB = 1e-6  # m
MOST_CELLS = 500_000  # of a whole tube; more is a slip in the spacing


def unit_cell_misplaced(design: Design) -> str | None:
    """Why a design can't take the stiffness of a solid cell at all; None if it can."""
    ribs = design.ribs
    if ribs.pattern not in CELL_PATTERNS:
        return (f"pattern {ribs.pattern!r} has no solid cell; take it out, or use one of "
                f"{', '.join(CELL_PATTERNS)}")
    if ribs.formula != "fat":
        return (f"stands beside ribs.formula {ribs.formula!r}; take one of the two out, since a "
                "solid cell replaces the formula")
    return None


def _mm(value: Quantity) -> str:
    return f"{float(value) * 1e3:g} mm"


def check_design(design: Design) -> list[Problem]:
    """Every contradiction between the fields of one (scalar) design."""
    problems: list[Problem] = []
    tube, skin, ribs = design.tube, design.skin, design.ribs
    outside = tube.outside_diameter / 2
    if skin.thickness >= outside:
        problems.append(Problem(
            "skin.thickness",
            f"{_mm(skin.thickness)} leaves no bore; must be below the outside radius "
            f"{_mm(outside)}",
        ))
        return problems
    if outside / skin.thickness > THINNEST_SKIN:
        problems.append(Problem(
            "skin.thickness",
            f"{_mm(skin.thickness)} on a radius of {_mm(outside)} is too thin; must be at least "
            f"{_mm(outside / THINNEST_SKIN)}",
        ))
    if tube.length > LONGEST_TUBE * outside:
        problems.append(Problem(
            "tube.length",
            f"{_mm(tube.length)} is too long for an outside diameter of "
            f"{_mm(tube.outside_diameter)}; must be at most {_mm(LONGEST_TUBE * outside)}",
        ))
    if problems:
        return problems
    if design.has_ribs:
        problems += _check_ribs(design)
        if problems:
            return problems
    elif ribs.family:
        problems.append(Problem("ribs.family", "a plain wall has none; set another pattern"))
    why = None if ribs.solid_cell is None else unit_cell_misplaced(design)
    if why is not None:
        problems.append(Problem("ribs.solid_cell", why))
    depth = skin.thickness + design.rib_height
    if outside < THINNEST_MEAN_RADIUS_RATIO * depth:
        problems.append(Problem(
            "ribs.height" if design.has_ribs else "skin.thickness",
            f"wall {_mm(depth)} deep on a radius of {_mm(outside)} is not a shell; skin and ribs "
            f"together must be below {_mm(outside / THINNEST_MEAN_RADIUS_RATIO)}",
        ))
        return problems
    circumference = 2 * math.pi * design.skin_radius
    if tube.segments * tube.seam_land >= circumference / 2:
        problems.append(Problem(
            "tube.seam_land",
            f"{tube.segments} lands of {_mm(tube.seam_land)} cover half of the circumference "
            f"{_mm(circumference)}; must be below "
            f"{_mm(circumference / 2 / tube.segments)}",
        ))
    if 2 * tube.end_land >= design.section_length:
        problems.append(Problem(
            "tube.end_land",
            f"two lands of {_mm(tube.end_land)} leave nothing of a section "
            f"{_mm(design.section_length)} long",
        ))
    if not problems and design.has_ribs:
        problems += _check_cells(design, circumference)
    for index, case in enumerate(design.case, start=1):
        if case.support == "none" and (case.transverse or case.acceleration):
            problems.append(Problem(
                f"case[{index}].support",
                "missing; a transverse force or acceleration needs one of cantilever, "
                "simply-supported, free-free",
            ))
    if design.mold is not None:
        try:
            mold_of(design)
        except DefinitionError as error:
            problems += error.problems
    seen: set[str] = set()
    for index, case in enumerate(design.case, start=1):
        if case.name in seen:
            problems.append(Problem(
                f"case[{index}].name", f"{case.name!r} is used twice; names must differ"
            ))
        seen.add(case.name)
    if design.target is not None:
        problems += check_target(design.target)
    if design.scatter is not None:
        problems += check_scatter(design.scatter)
    if design.chill is not None:
        problems += check_chill(design.chill)
    if design.body is not None:
        problems += check_body(design.body)
    if design.joints is not None:
        problems += check_joints(design.joints)
    return problems


def _check_ribs(design: Design) -> list[Problem]:
    ribs = design.ribs
    problems: list[Problem] = []
    for name in ("height", "width"):
        value = getattr(ribs, name)
        if not value > 0 and ribs.pattern != "families":
            problems.append(Problem(f"ribs.{name}", "missing or zero; must be above 0 m"))
        elif 0 < value < LEAST_RIB:
            problems.append(Problem(
                f"ribs.{name}", f"{_mm(value)} is too small; must be at least {_mm(LEAST_RIB)}"
            ))
    needed = {
        "isogrid": ("spacing",), "orthogrid": ("spacing", "hoop_spacing"),
        "diagonal": ("spacing", "angle"), "families": (),
    }[ribs.pattern]
    for name in ("spacing", "hoop_spacing", "angle"):
        if name in needed and getattr(ribs, name) is None:
            problems.append(Problem(f"ribs.{name}", f"missing; pattern {ribs.pattern!r} needs it"))
        if name not in needed and getattr(ribs, name) is not None:
            problems.append(Problem(f"ribs.{name}", f"pattern {ribs.pattern!r} does not use it"))
    if ribs.pattern == "families":
        if not ribs.family:
            problems.append(Problem("ribs.family", "missing; write each as [[ribs.family]]"))
        for index, family in enumerate(ribs.family, start=1):
            for name in ("height", "width"):
                if not (getattr(family, name) or getattr(ribs, name)):
                    problems.append(Problem(
                        f"ribs.family[{index}].{name}",
                        f"missing; give it here or as ribs.{name}",
                    ))
    elif ribs.family:
        problems.append(Problem("ribs.family", "used by pattern 'families' only"))
    if ribs.pattern != "isogrid" and ribs.orientation != "hoop":
        problems.append(Problem("ribs.orientation", "used by pattern 'isogrid' only"))
    if problems:
        return problems
    return _check_rib_sizes(design)


def _check_rib_sizes(design: Design) -> list[Problem]:
    ribs, tube = design.ribs, design.tube
    problems: list[Problem] = []
    outside = tube.outside_diameter / 2
    height = design.rib_height
    if height + design.skin.thickness >= outside:
        return [Problem(
            "ribs.height",
            f"{_mm(height)} with the skin fills the outside radius {_mm(outside)}",
        )]
    circumference = 2 * math.pi * design.skin_radius
    stated = [("ribs.spacing", ribs.spacing), ("ribs.hoop_spacing", ribs.hoop_spacing)]
    stated += [
        (f"ribs.family[{index}].spacing", family.spacing)
        for index, family in enumerate(ribs.family, start=1)
    ]
    for path, spacing in stated:
        if spacing is None:
            continue
        limit = design.section_length if path == "ribs.hoop_spacing" else circumference / 3
        along = path == "ribs.hoop_spacing"
        what = "the section length" if along else "a third of the circumference"
        if spacing > limit:
            problems.append(Problem(
                path, f"{_mm(spacing)} is too wide; must be at most {what}, {_mm(limit)}"
            ))
    if ribs.pattern == "families":
        for index, family in enumerate(ribs.family, start=1):
            tall = ribs.height if family.height is None else family.height
            wide = ribs.width if family.width is None else family.width
            problems += _check_room(
                design, f"ribs.family[{index}].width", wide, tall, family.spacing
            )
        return problems
    if ribs.pattern == "isogrid":
        # The pocket triangle's inscribed circle has radius a*sqrt(3)/6; half a rib eats into it.
        room = ribs.spacing / math.sqrt(3)
    elif ribs.pattern == "orthogrid":
        room = min(ribs.spacing, ribs.hoop_spacing)
    else:
        room = ribs.spacing
    return problems + _check_room(design, "ribs.width", ribs.width, height, room)


def _check_room(
    design: Design, path: str, width: Quantity, height: Quantity, room: Quantity
) -> list[Problem]:
    """Whether ribs, corner radii and fillets leave a pocket that is ``room`` wide between lines."""
    ribs = design.ribs
    # Width at the root: the draft widens a rib on both flanks.
    root = width + 2 * height * math.tan(ribs.draft)
    if root >= room:
        return [Problem(
            path,
            f"ribs {_mm(root)} wide at the root (width plus draft) close the pockets; the root "
            f"must be below {_mm(room)}",
        )]
    problems: list[Problem] = []
    largest = (room - root) / 2
    for name in ("corner_radius", "root_fillet"):
        if getattr(ribs, name) > largest:
            problems.append(Problem(
                f"ribs.{name}",
                f"{_mm(getattr(ribs, name))} does not fit the pocket; must be at most "
                f"{_mm(largest)}",
            ))
    if ribs.root_fillet > height > 0:
        problems.append(Problem(
            "ribs.root_fillet",
            f"{_mm(ribs.root_fillet)} is taller than the rib; must be at most {_mm(height)}",
        ))
    return problems


def _check_cells(design: Design, circumference: Quantity) -> list[Problem]:
    """Whether a whole cell fits between the lands, and the number of cells is not absurd."""
    ribs, tube = design.ribs, design.tube
    wide = circumference / tube.segments - tube.seam_land
    high = design.section_length - 2 * tube.end_land
    if ribs.pattern == "families":
        width = height = min(family.spacing for family in ribs.family)
        fits: list[tuple[str, str, Quantity, Quantity]] = []
    else:
        row = math.sqrt(3) / 2
        if ribs.pattern == "isogrid":
            size = (1.0, row) if ribs.orientation == "hoop" else (row, 1.0)
            width, height = ribs.spacing * size[0], ribs.spacing * size[1]
        elif ribs.pattern == "orthogrid":
            width, height = ribs.spacing, ribs.hoop_spacing
        else:
            width, height = ribs.spacing / math.cos(ribs.angle), ribs.spacing / math.sin(ribs.angle)
        along = "ribs.hoop_spacing" if ribs.pattern == "orthogrid" else "ribs.spacing"
        fits = [("ribs.spacing", "round", width, wide), (along, "along", height, high)]
    problems = [
        Problem(
            path,
            f"a cell is {_mm(cell)} {way} the tube, but a panel between lands only {_mm(panel)}; "
            f"make the spacing smaller",
        )
        for path, way, cell, panel in fits
        if cell > 1.5 * panel  # up to there, rounding to one cell is reported with the result
    ]
    cells = circumference / width * tube.length / height
    if cells > MOST_CELLS:
        problems.append(Problem(
            "ribs.spacing" if fits else "ribs.family",
            f"makes {cells:.3g} cells; a tube has at most {MOST_CELLS:,}",
        ))
    return problems
