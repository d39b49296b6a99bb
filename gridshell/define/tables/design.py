"""The design as the user states it: frozen tables, SI, every number a scalar or an array.

A field may be one number or an array of many designs; the mechanics broadcasts over it. The
names of the tables and keys here are the names in the definition file.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from gridshell.define.constants import PATTERNS, ROOM_TEMPERATURE, SIDES, SUPPORTS, WALL_ENDS
from gridshell.define.errors import Problem
from gridshell.define.schema import (
    choice,
    count,
    flag,
    free,
    quantity,
    table,
    tables,
    text,
)
from gridshell.define.tables.as_built import AsBuilt
from gridshell.define.tables.body import Body
from gridshell.define.tables.chill import Chill
from gridshell.define.tables.joints import Joints
from gridshell.define.tables.mold import Mold
from gridshell.define.tables.scatter import Scatter
from gridshell.define.tables.target import Target
from gridshell.define.types import Quantity

LONGEST_LOAD = 1e10  # s, three hundred years; a longer one is a slip


@dataclass(frozen=True)
class Material:
    """``[material]``: a library name or a material file, and any property given here instead."""

    name: str = text("name of a library material, or a name of your own when a file is given")
    file: str | None = text(
        "material file (as 'gridshell coupon' writes it), beside this file", default=None
    )
    temperature: Quantity = quantity(
        "temperature", "temperature of use", default=ROOM_TEMPERATURE, above=0.0, most=2000.0
    )
    load_duration: Quantity = quantity(
        "time", "how long loads stay on, for creep and loss of strength", default=None, above=0.0,
        most=LONGEST_LOAD, unit="s",
    )
    modulus: Quantity = quantity(
        "pressure", "Young's modulus, instead of the library's", default=None, least=1.0,
        most=2e12, unit="GPa",
    )
    poisson: Quantity = quantity(
        "ratio", "Poisson's ratio, instead of the library's", default=None, above=-1.0, below=0.5
    )
    density: Quantity = quantity(
        "density", "density, instead of the library's", default=None, least=0.01, most=3e4
    )
    strength: Quantity = quantity(
        "pressure", "stress the material may reach in a short test, instead of the library's",
        default=None, above=0.0, most=1e11
    )
    creep_factor: Quantity = quantity(
        "ratio", "share of the modulus that remains under loads that stay on, instead of the "
        "library's; 1: none is lost", default=None, above=0.0, most=1.0,
    )
    strength_per_decade: Quantity = quantity(
        "ratio", "share of the strength that remains for each tenfold of time under load, instead "
        "of the library's; 1: none is lost", default=None, above=0.0, most=1.0,
    )
    properties: Mapping[str, Any] | None = free(
        "any other property of the library, instead of the library's", default=None
    )


@dataclass(frozen=True)
class Tube:
    """``[tube]``: the whole tube, its cast lengths and the solid lands they are joined by."""

    outside_diameter: Quantity = quantity(
        "length", "largest diameter of the tube, over the ribs if they are outside", least=1e-3,
        most=100.0
    )
    length: Quantity = quantity("length", "whole length", least=1e-3, most=1000.0)
    sections: int = count("cast lengths joined end to end", default=1, least=1, most=1000)
    segments: int = count(
        "pieces round the tube (2 = half shells); 1 = no seam", default=1, least=1, most=24
    )
    seam_land: Quantity = quantity(
        "length", "width of the solid land along each seam", default=0.0, least=0.0
    )
    end_land: Quantity = quantity(
        "length", "width of the solid land at each end of a section", default=0.0, least=0.0
    )
    ends: str = choice(
        WALL_ENDS, "how the wall is held at its ends, for buckling of the wall: simply-supported "
        "(round, free to move along and to turn) or clamped (built into stiff plates all round)",
        default="simply-supported",
    )
    straightness: Quantity = quantity(
        "ratio", "bow of the axis over the length before any load; 0.002 is the tolerance of EN "
        "10210-2 for hollow sections (from memory)", default=0.002, least=0.0, most=0.1,
    )


@dataclass(frozen=True)
class Skin:
    """``[skin]``: the plain wall under the ribs."""

    thickness: Quantity = quantity("length", "skin thickness", least=1e-6, most=1.0)


@dataclass(frozen=True)
class RibFamily:
    """``[[ribs.family]]``: one set of parallel ribs of a pattern of your own."""

    angle: Quantity = quantity(
        "angle", "angle from the tube's axis", least=-1.5707963268, most=1.5707963268
    )
    spacing: Quantity = quantity("length", "perpendicular distance between ribs", least=1e-5)
    height: Quantity = quantity(
        "length", "rib height, if not that of [ribs]", default=None, least=1e-6
    )
    width: Quantity = quantity(
        "length", "rib width at the tip, if not that of [ribs]", default=None, least=1e-6
    )


@dataclass(frozen=True)
class Ribs:
    """``[ribs]``: pattern and section of the ribs."""

    pattern: str = choice(PATTERNS, "rib pattern")
    orientation: str = choice(
        ("hoop", "axial"), "isogrid only: which way one of its three families runs",
        default="hoop",
    )
    side: str = choice(SIDES, "side of the skin the ribs stand on",
                       default="inside")
    height: Quantity = quantity("length", "rib height above the skin", default=0.0, least=0.0)
    width: Quantity = quantity("length", "rib width at the tip", default=0.0, least=0.0)
    draft: Quantity = quantity(
        "angle", "draft of each rib flank", default=0.0, least=0.0, below=0.7853981634
    )
    spacing: Quantity = quantity(
        "length", "isogrid: rib length from node to node; orthogrid: distance between axial ribs; "
        "diagonal: perpendicular distance between ribs", default=None, above=0.0
    )
    hoop_spacing: Quantity = quantity(
        "length", "orthogrid only: distance between hoop ribs", default=None, above=0.0
    )
    angle: Quantity = quantity(
        "angle", "diagonal only: angle of the ribs from the tube's axis", default=None, above=0.0,
        below=1.5707963268
    )
    corner_radius: Quantity = quantity(
        "length", "radius in plan of the pocket corners at the skin", default=0.0, least=0.0
    )
    root_fillet: Quantity = quantity(
        "length", "fillet between rib and skin", default=0.0, least=0.0
    )
    formula: str = choice(
        ("fat", "thin"),
        "smearing: 'thin' is the handbook's (ribs are bars), 'fat' adds what wide ribs, nodes and "
        "fillets do to the skin",
        default="fat",
    )
    solid_cell: str | None = text(
        "stiffness of the solid cell instead of the formula's: the file that 'gridshell prove FILE "
        "--save' wrote, beside this file", default=None,
    )
    family: tuple[RibFamily, ...] = tables(
        RibFamily, "pattern 'families' only: each set of parallel ribs"
    )
    smallest_pocket: Quantity = quantity(
        "area", "pockets cut by a border to less than this area are left solid", default=0.0,
        least=0.0
    )


LARGEST_LOAD = 1e12  # N, N m or Pa; a larger one is a slip

@dataclass(frozen=True)
class Case:
    """``[[case]]``: loads that act at once. Compression is positive; loads are unfactored."""

    name: str = text("name of the load case", longest=60)
    compression: Quantity = quantity(
        "force", "axial compression (negative: tension)", default=0.0, least=-LARGEST_LOAD,
        most=LARGEST_LOAD
    )
    moment: Quantity = quantity(
        "moment", "bending moment at the worst section", default=0.0, least=0.0, most=LARGEST_LOAD
    )
    shear: Quantity = quantity(
        "force", "shear force at the worst section", default=0.0, least=0.0, most=LARGEST_LOAD
    )
    torque: Quantity = quantity("moment", "torque", default=0.0, least=0.0, most=LARGEST_LOAD)
    pressure: Quantity = quantity(
        "pressure", "external less internal pressure (negative: internal pressure)", default=0.0,
        least=-LARGEST_LOAD, most=LARGEST_LOAD, unit="kPa",
    )
    pressure_on_ends: bool = flag(
        "true: the pressure acts on closed ends too (hydrostatic); false: on the wall only",
        default=True,
    )
    support: str = choice(
        ("none", *SUPPORTS), "how the tube is held, under transverse loads and as a column; none "
        "is taken as pinned at both ends", default="none"
    )
    transverse: Quantity = quantity(
        "force", "force across the tube: at the tip of a cantilever, else at mid-length",
        default=0.0, least=0.0, most=LARGEST_LOAD
    )
    acceleration: Quantity = quantity(
        "acceleration", "acceleration across the tube, acting on its own mass", default=0.0,
        least=0.0, most=1e8
    )
    factor: Quantity = quantity(
        "ratio", "design factor on the loads", default=1.4, least=0.01, most=100.0
    )
    temperature_difference: Quantity = quantity(
        "temperature_difference", "temperature of the wall's outer face less that of its inner "
        "face while the loads act", default=0.0, least=-500.0, most=500.0
    )
    duration: Quantity = quantity(
        "time", "how long these loads stay on, for creep of soft polymers; "
        "material.load_duration if left out", default=None, above=0.0, most=LONGEST_LOAD, unit="s",
    )


@dataclass(frozen=True)
class Design:
    """One design, or an array of designs.

    Attributes:
        folder: that files it names are relative to.
        left_out: problems of tables that were left out, since the command does not use them.
    """

    title: str = text("what this is; say so if it is invented")
    material: Material = table(Material, "the material")
    tube: Tube = table(Tube, "the tube")
    skin: Skin = table(Skin, "the skin")
    ribs: Ribs = table(Ribs, "the ribs")
    units: str = choice(("metric", "inch"), "units that results are shown in", default="metric")
    case: tuple[Case, ...] = tables(Case, "load cases")
    mold: Mold | None = table(Mold, "how the molds are made", default=None)
    target: Target | None = table(Target, "what 'size' looks for", default=None)
    scatter: Scatter | None = table(Scatter, "tolerances for 'scatter'", default=None)
    chill: Chill | None = table(Chill, "how the tube is chilled and warms up again", default=None)
    body: Body | None = table(
        Body, "the body that the tube belongs to, for 'loads'", default=None
    )
    joints: Joints | None = table(Joints, "seams and joints between sections", default=None)
    as_built: AsBuilt | None = table(
        AsBuilt, "measured shape of the finished tube, or how round it will be made", default=None
    )
    folder: Path = field(default=Path("."))
    left_out: tuple[Problem, ...] = field(default=())

    @property
    def skin_radius(self) -> Quantity:
        """Radius of the skin's middle surface, m; the reference surface of every formula."""
        outside = self.tube.outside_diameter / 2
        over_ribs = self.rib_height if self.ribs.side == "outside" else 0.0
        return outside - over_ribs - self.skin.thickness / 2

    @property
    def rib_height(self) -> Quantity:
        """Height of the tallest rib, m; zero without ribs."""
        if not self.has_ribs:
            return 0.0
        tallest = self.ribs.height
        if self.ribs.pattern == "families":
            for family in self.ribs.family:
                if family.height is not None:
                    tallest = np.maximum(tallest, family.height)
        return tallest

    @property
    def has_ribs(self) -> bool:
        """Whether the wall has ribs at all."""
        return self.ribs.pattern != "plain"

    @property
    def section_length(self) -> Quantity:
        """Length of one cast section, m."""
        return self.tube.length / self.tube.sections


def with_values(design: Design, values: Mapping[str, Any]) -> Design:
    """The same design with other values, by dotted path such as ``ribs.height``.

    Values are SI numbers, arrays or words; nothing is checked here.
    """
    grouped: dict[str, dict[str, Any]] = {}
    plain: dict[str, Any] = {}
    for path, value in values.items():
        head, _, rest = path.partition(".")
        if rest:
            grouped.setdefault(head, {})[rest] = value
        else:
            plain[head] = value
    for head, changes in grouped.items():
        plain[head] = dataclasses.replace(getattr(design, head), **changes)
    return dataclasses.replace(design, **plain)
