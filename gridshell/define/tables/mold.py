"""``[mold]``: how the molds are made and split, what is on their flanges, and cut-outs in the part.

Sizes without a source are common practice of printing and hobby machining; all can be changed.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from gridshell.define.constants import DIRECT_PROCESSES, PROCESSES
from gridshell.define.errors import Problem, Problems
from gridshell.define.schema import (
    choice,
    count,
    flag,
    quantities,
    quantity,
    read_checked,
    table,
    tables,
    text,
)
from gridshell.define.tables.casting import Casting

if TYPE_CHECKING:
    from gridshell.define.tables.design import Design

THINNEST_FLANGE, THINNEST_WALL = 3e-3, 2e-3  # m, common practice of printing
BETWEEN = 0.5e-3  # m, of flange between a groove and a hole
LOOSEST = 1e-3  # m, on each side; halves do not register any more
CUTOUT_SHAPES = ("round", "rectangle")
CORES = ("rigid", "sliding", "rubber")
THINNEST_RUBBER, RUBBER_SHARE = 5e-3, 1.5  # m, and of the rib height: tears less when peeled


@dataclass(frozen=True)
class Cutout:
    """``[[mold.cutout]]``: a window or vent hole through the wall of the whole tube."""

    shape: str = choice(CUTOUT_SHAPES, "round or rectangle")
    position: float = quantity("length", "of its middle, from the end of the tube", least=0.0)
    angle: float = quantity(
        "angle", "of its middle round the tube, from the first seam", default=0.0
    )
    name: str = text("name", default="cut-out", longest=40)
    diameter: float = quantity("length", "round only", default=None, above=0.0)
    width: float = quantity("length", "rectangle only: round the tube", default=None, above=0.0)
    length: float = quantity("length", "rectangle only: along the tube", default=None, above=0.0)
    corner_radius: float = quantity("length", "rectangle only", default=1e-3, above=0.0)
    land: float = quantity(
        "length", "least width of full wall depth round it; pockets nearer than this are left "
        "solid", default=3e-3, least=0.0
    )
    snap: bool = flag("move it to the middle of the nearest pocket", default=False)


@dataclass(frozen=True)
class Mold:
    """``[mold]``."""

    process: str = choice(
        PROCESSES, "print or mill a mold, or make the part itself: print-part, machine-part",
        default="print",
    )
    shrinkage: float = quantity(
        "ratio", "linear mold shrinkage, (mold - part)/mold; the material's if left out",
        default=None, least=0.0, below=0.2,
    )
    bed: tuple[float, ...] | None = quantities(
        "length", "printer bed or stock: three sides of the largest piece; no splitting if left "
        "out", default=None, length=3, above=0.0
    )
    tool_diameter: float = quantity(
        "length", "mill and machine-part: smallest tool that cuts the grooves or pockets",
        default=3e-3, above=0.0
    )
    wall: float = quantity(
        "length", "least mold between the part and the outside", default=8e-3, above=0.0
    )
    end_wall: float = quantity(
        "length", "mold beyond each end of the part; the core's print seats in it", default=12e-3,
        above=0.0
    )
    end_draft: float = quantity(
        "angle", "lean of the cavity's end walls, so that the part's ends leave them; they come "
        "out dished by this and are faced square", default=math.radians(1.0), least=0.0,
        most=math.radians(10.0),
    )
    flange_width: float = quantity(
        "length", "from the part's edge to the outside", default=24e-3, above=0.0
    )
    flange_thickness: float = quantity("length", "of each half's flange", default=12e-3, above=0.0)
    clearance: float = quantity(
        "length", "slip fit between pieces that slide (core print, dowels, keys, mandrel, ring), "
        "on the radius or on each side", default=0.15e-3, least=0.0, most=5e-3
    )
    fastener_pitch: float = quantity(
        "length", "greatest distance between screws along a flange", default=60e-3, above=0.0
    )
    screw_diameter: float = quantity(
        "length", "clearance hole for the screws (4.5 mm: M4, medium fit of ISO 273)",
        default=4.5e-3, above=0.0
    )
    dowel_diameter: float = quantity("length", "dowel pins", default=6e-3, above=0.0)
    flash_width: float = quantity(
        "length", "flash groove beside the seam; 0 for none", default=2.5e-3, least=0.0
    )
    flash_depth: float = quantity("length", "of the flash groove", default=1.2e-3, above=0.0)
    flash_gap: float = quantity(
        "length", "from the part's edge to the flash groove", default=2.5e-3, above=0.0
    )
    pry_width: float = quantity(
        "length", "slots at the parting for a lever; 0 for none", default=14e-3, least=0.0
    )
    pry_depth: float = quantity("length", "height of the pry slots", default=3e-3, above=0.0)
    core: str = choice(
        CORES, "what forms the ribs: a rigid half, a core in pieces that slide (ribs inside), or "
        "an insert of cast silicone that peels off", default="rigid",
    )
    core_pieces: int | None = count(
        "core = 'sliding': pieces round the core; as few as slide if left out", default=None,
        least=3, most=17,
    )
    core_wall: float = quantity(
        "length", "sliding pieces or rubber insert under the ribs; if left out 30 % of the bore's "
        "radius for pieces, 1.5 rib heights and 5 mm or more for rubber", default=None, above=0.0
    )
    insert_shrinkage: float = quantity(
        "ratio", "core = 'rubber': linear shrinkage of the insert; that of library material "
        "silicone-mold if left out", default=None, least=0.0, below=0.1,
    )
    gates: int | None = count(
        "pour gates through the upper end wall; if left out as few as pass the pour before it "
        "sets", default=None, least=1, most=20,
    )
    gate_diameter: float = quantity(
        "length", "of a gate where it meets the part; if left out 60 % of the wall's depth, or 80 "
        "% where the pour needs it", default=None, above=0.0
    )
    vents: int = count(
        "vents at the high places of the mold as `casting.filled` says that it stands", default=2,
        least=0, most=40,
    )
    vent_diameter: float = quantity("length", "of a vent", default=1.5e-3, above=0.0)
    engraving: float = quantity(
        "length", "height of engraved capitals; 0 for none", default=7e-3, least=0.0
    )
    engraving_depth: float = quantity("length", "of engraved text", default=0.6e-3, above=0.0)
    key_length: float = quantity(
        "length", "of the keys where a mold is split", default=8e-3, above=0.0
    )
    jack_diameter: float = quantity(
        "length", "tapping holes in the mandrel's ends and in the cavity's flanges, to jack the "
        "mandrel out and the halves apart (6.8 mm: M8, from memory)", default=6.8e-3, above=0.0,
    )
    ring_height: float = quantity(
        "length", "how far an end ring reaches over the tube", default=8e-3, above=0.0
    )
    ring_wall: float = quantity(
        "length", "of an end ring, round and at its end", default=6e-3, above=0.0
    )
    mesh_tolerance: float = quantity(
        "length", "how far STL facets may leave the true surface", default=0.05e-3, above=1e-6,
        most=5e-3
    )
    cutout: tuple[Cutout, ...] = tables(
        Cutout, "windows and vent holes in the tube"
    )
    casting: Casting = table(Casting, "how the mold is filled and opened", default=Casting())

    @property
    def gate_count(self) -> int:
        """Gates that are made; one where their number is left open."""
        return self.gates or 1

    @property
    def direct(self) -> bool:
        """Whether the part itself is made, without a mold."""
        return self.process in DIRECT_PROCESSES

    def rubber_wall(self, height: float) -> float:
        """Thickness of a rubber insert under the ribs, m.

        Args:
            height: of the ribs, m.
        """
        if self.core_wall is not None:
            return float(self.core_wall)
        return max(THINNEST_RUBBER, RUBBER_SHARE * height)


def check_mold(mold: Mold) -> list[Problem]:
    """Contradictions between the fields of ``[mold]``."""
    problems = Problems()
    used = mold.flash_gap + mold.flash_width + mold.wall + max(
        2 * mold.screw_diameter, mold.dowel_diameter + 2e-3
    )
    if mold.flange_width < used:
        problems.add(
            "mold.flange_width",
            f"{mold.flange_width * 1e3:g} mm leaves no room for the flash groove, the wall and "
            f"the screws; must be at least {used * 1e3:g} mm")
    def refuse(wrong: bool, field: str, why: str, bound: str, limit: float) -> None:
        """A length that contradicts another, with what would be accepted."""
        if wrong:
            problems.add(
                f"mold.{field}", f"{getattr(mold, field) * 1e3:g} mm {why}; must be {bound} "
                f"{limit * 1e3:g} mm")

    thick = mold.flange_thickness
    hole = max(mold.screw_diameter, mold.dowel_diameter)
    refuse(thick < THINNEST_FLANGE, "flange_thickness", "bends under its screws", "at least",
           THINNEST_FLANGE)
    refuse(mold.wall < THINNEST_WALL, "wall", "is thinner than a mold can be", "at least",
           THINNEST_WALL)
    refuse(mold.end_wall < THINNEST_FLANGE, "end_wall", "is too short for gates and prints",
           "at least", THINNEST_FLANGE)
    refuse(bool(mold.flash_width) and mold.flash_depth >= thick / 2, "flash_depth",
           "cuts too deep into the flange", "below", thick / 2)
    refuse(mold.engraving_depth >= thick / 2, "engraving_depth", "cuts too deep", "below",
           thick / 2)
    refuse(bool(mold.pry_width) and mold.pry_depth > thick / 2, "pry_depth",
           "weakens the flange that it pries on", "at most", thick / 2)
    refuse(mold.fastener_pitch < 1.5 * hole, "fastener_pitch",
           "is closer than the holes of screws and dowels are wide", "at least", 1.5 * hole)
    # The screws stand in the middle of the flange beside the wall, as `layout` places them.
    free = (mold.flange_width + mold.wall) / 2 - hole / 2 - BETWEEN
    refuse(bool(mold.flash_width) and mold.flash_gap + mold.flash_width > free, "flash_gap",
           "with mold.flash_width puts the flash groove over the screws", "at most",
           max(free - mold.flash_width, 0.0))
    if mold.core != "rigid" and mold.direct:
        problems.add("mold.core", f"{mold.core!r} is of a mold, and mold.process "
                     f"{mold.process!r} needs none")
    for field, cores in (("core_pieces", ("sliding",)), ("core_wall", CORES[1:]),
                         ("insert_shrinkage", ("rubber",))):
        if getattr(mold, field) is not None and mold.core not in cores:
            problems.add(
                f"mold.{field}", f"used with mold.core = {' or '.join(map(repr, cores))} only")
    refuse(mold.clearance > LOOSEST, "clearance", "is no fit any more", "at most", LOOSEST)
    refuse(mold.key_length < mold.clearance * 4, "key_length", "is lost in its clearance",
           "at least", 4 * mold.clearance)
    for index, cutout in enumerate(mold.cutout, start=1):
        where = f"mold.cutout[{index}]"
        needed = ("diameter",) if cutout.shape == "round" else ("width", "length")
        problems.check_use(cutout, where, f"a {cutout.shape} cut-out",
                           ("diameter", "width", "length"), needed)
        if cutout.shape == "rectangle" and cutout.width and cutout.length:
            most = min(cutout.width, cutout.length) / 2
            if cutout.corner_radius >= most:
                problems.add(
                    f"{where}.corner_radius", f"{cutout.corner_radius * 1e3:g} mm does not fit; "
                    f"must be below {most * 1e3:g} mm")
    return problems


def read_mold(stated: Mapping[str, Any] | Mold | None) -> Mold:
    """``[mold]`` from the parsed table; all defaults when there is none.

    Raises:
        DefinitionError: with every problem found.
    """
    return read_checked(Mold, stated, "mold", check_mold)


def mold_of(design: Design) -> Mold:
    """``[mold]`` of a design.

    Raises:
        DefinitionError: with every problem found.
    """
    return read_mold(design.mold)
