"""``[joints]``: seams along the tube, joints between sections, and the bond in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from gridshell.define.errors import Problem, Problems
from gridshell.define.schema import choice, count, quantities, quantity, read_checked, table

SEAM_KINDS = ("butt", "lap", "strip")
END_KINDS = ("butt", "sleeve", "inner-ring")


@dataclass(frozen=True, kw_only=True)
class Bond:
    """``[joints.bond]``: the layer that holds two pieces together. Left out: fused, no layer."""

    thickness: float = quantity(
        "length", "thickness of the layer; 0 is fused: as stiff as the wall", default=0.0,
        least=0.0
    )
    modulus: float = quantity(
        "pressure", "Young's modulus of the layer; the wall's if left out", default=None, above=0.0
    )
    poisson: float = quantity(
        "ratio", "Poisson's ratio of the layer", default=0.4, above=-1.0, below=0.5
    )
    shear_strength: float = quantity(
        "pressure", "shear stress the bond may reach; half the wall's strength if left out",
        default=None, above=0.0
    )
    peel_strength: float = quantity(
        "pressure", "tension across the bond it may reach; half the wall's strength if left out",
        default=None, above=0.0
    )


@dataclass(frozen=True, kw_only=True)
class Seam:
    """``[joints.seam]``: the seams along the tube, one for each of tube.segments."""

    kind: str = choice(SEAM_KINDS, "butt: edge to edge; lap: overlapping; strip: butt with a "
                       "cover strip on one side", default="butt")
    overlap: float = quantity(
        "length", "lap: overlap; strip: width bonded on each side of the seam", default=None,
        above=0.0
    )
    thickness: float = quantity(
        "length", "wall at the seam; skin and rib height if left out (a solid land)", default=None,
        above=0.0
    )
    strip_thickness: float = quantity(
        "length", "strip: its thickness; the skin's if left out", default=None, above=0.0
    )
    angles: tuple[float, ...] | None = quantities(
        "angle", "where the first seam of each section lies from the bending plane; staggered by "
        "half a segment from section to section if left out", default=None
    )


@dataclass(frozen=True, kw_only=True)
class EndJoint:
    """``[joints.end]``: the joint between two cast sections."""

    kind: str = choice(END_KINDS, "butt: end to end; sleeve: a ring outside; inner-ring: a ring "
                       "inside", default="butt")
    engagement: float = quantity(
        "length", "length of the ring in (or on) each section", default=None, above=0.0
    )
    ring_thickness: float = quantity(
        "length", "thickness of the sleeve or ring; the wall's at the end if left out",
        default=None, above=0.0
    )
    ring_modulus: float = quantity(
        "pressure", "Young's modulus of the ring; the wall's if left out", default=None, above=0.0,
        unit="GPa",
    )
    thickness: float = quantity(
        "length", "wall at the joint; skin and rib height if left out (a solid land)", default=None,
        above=0.0
    )
    held_by: str = choice(("bond", "bolts"), "what carries the load", default="bond")
    bolts: int = count("bolts or pins round each end", default=0, least=0, most=200)
    bolt_diameter: float = quantity("length", "bolt or pin diameter", default=None, above=0.0)
    bolt_modulus: float = quantity(
        "pressure", "Young's modulus of the bolts", default=200e9, above=0.0, unit="GPa"
    )
    bolt_shear_strength: float = quantity(
        "pressure", "shear strength of the bolts", default=400e6, above=0.0
    )
    bearing_ratio: float = quantity(
        "ratio", "bearing strength of the wall over its tensile strength (1.5: common practice, "
        "no source)", default=1.5, above=0.0, most=5.0,
    )
    edge_distance: float = quantity(
        "length", "hole center to the end of the wall; half the engagement if left out",
        default=None, above=0.0
    )
    clearance: float = quantity(
        "length", "free play along the axis at the joint", default=0.0, least=0.0
    )


@dataclass(frozen=True, kw_only=True)
class Joints:
    """``[joints]``."""

    bond: Bond = table(Bond, "the bond", default=Bond())
    seam: Seam = table(Seam, "seams along the tube", default=Seam())
    end: EndJoint = table(EndJoint, "joints between sections", default=EndJoint())


def check_joints(joints: Joints) -> list[Problem]:
    """Every contradiction between the fields of ``[joints]``."""
    problems = Problems()
    seam, end = joints.seam, joints.end
    if seam.kind != "butt" and seam.overlap is None:
        problems.add("joints.seam.overlap", f"missing; kind {seam.kind!r} needs it")
    if seam.kind != "strip" and seam.strip_thickness is not None:
        problems.add("joints.seam.strip_thickness", "used by kind 'strip' only")
    if end.kind != "butt" and end.engagement is None:
        problems.add("joints.end.engagement", f"missing; kind {end.kind!r} needs it")
    if end.held_by == "bolts":
        if end.kind == "butt":
            problems.add("joints.end.held_by", "a butt joint has no ring to bolt to")
        if end.bolts < 3:
            problems.add("joints.end.bolts", f"{end.bolts} is too few; at least 3")
        if end.bolt_diameter is None:
            problems.add("joints.end.bolt_diameter", "missing; bolts need it")
    if (joints.bond.thickness > 0) and joints.bond.modulus is None:
        problems.add("joints.bond.modulus", "missing; a layer of glue needs it")
    return problems


def read_joints(stated: Mapping[str, Any] | Joints | None) -> Joints:
    """``[joints]`` from the parsed table; plain fused butt joints when there is none.

    Raises:
        DefinitionError: with every problem found.
    """
    return read_checked(Joints, stated, "joints", check_joints)
