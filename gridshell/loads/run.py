"""`gridshell loads`: everything about the body in one result."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.errors import InputError
from gridshell.define.tables.body import read_body
from gridshell.define.tables.design import Case, Design
from gridshell.define.tables.joints import read_joints
from gridshell.define.tables.mold import mold_of
from gridshell.loads.cases import (
    WorstSection,
    cases_toml,
    event_cases,
    grown_with_body,
    with_cases,
    worst_section,
)
from gridshell.loads.events import EventForces, event_forces
from gridshell.loads.flexible import FlexibleResult, flexible_body
from gridshell.loads.openings import (
    CutoutOutcome,
    JointResult,
    cut_wall,
    cutout_outcomes,
    joint_results,
)
from gridshell.loads.placed import CELLS, PlacedBody, place_body
from gridshell.tube.joints.end import end_compliance, joint_rotation, play_angle
from gridshell.tube.joints.line_forces import JointWall, SectionLoads, joint_wall
from gridshell.tube.joints.of_tube import tube_joints
from gridshell.tube.joints.seam import (
    best_seam_rotation,
    seam_flexibility,
    staggered_rotations,
)
from gridshell.tube.strength.cutouts import (
    WallCutout,
    piecewise_stiffness,
    stated_cutouts,
)

__all__ = [
    "LoadsResult", "TubeNumbers", "cases_toml", "section_loads", "tube_numbers", "with_cases",
]

CAUTIONS = (
    "These figures are an aid to design and no clearance to fly, launch or erect anything.",
    "Rockets: fly under a recognized safety code and the orders of the range safety officer, with "
    "the permits your country asks for; keep the distances of the code.",
    "Test the tube on the ground above its worst load before anyone stands near it; stand clear of "
    "tubes under load, pressure or wind.",
    "Masts: follow local building rules; have the foot and any guys checked by a licensed "
    "engineer where people can come under them.",
)


@dataclass(frozen=True)
class TubeNumbers:
    """The tube as the loads need it, SI.

    Attributes:
        length: m.
        diameter: outside, m.
        radius: of the skin's middle, m.
        mass: of the whole tube, kg.
        EI: N m2.
        GA: shear stiffness, N.
        wall: what the joints need; None: no joint checks.
        seam_wall: the wall beside the seams; None: as ``wall``.
        end_wall: the wall at the joints between sections; None: as ``wall``.
    """

    length: float
    diameter: float
    radius: float
    mass: float
    EI: float
    GA: float
    wall: JointWall | None = None
    seam_wall: JointWall | None = None
    end_wall: JointWall | None = None


def tube_numbers(design: Design) -> TubeNumbers:
    """Mass and stiffness of one design's tube, from `gridshell.tube.assess.assess_tube`.

    Raises:
        InputError: an array of designs.
    """
    from gridshell.tube.assess import assess_tube

    tube = assess_tube(design, needed=())
    if np.ndim(tube.mass) != 0:
        raise InputError("loads: one design at a time; an array of designs was given")
    wall = seam_wall = end_wall = None
    if tube.wall.properties.strength is not None:
        wall = joint_wall(tube.wall, tube.stiffness.EI)
        joints = tube_joints(tube.wall, tube.stiffness)
        seam_wall, end_wall = joints.seam_wall, joints.end_wall
    return TubeNumbers(
        length=float(design.tube.length), diameter=float(design.tube.outside_diameter),
        radius=float(tube.wall.grid.radius), mass=float(tube.mass),
        EI=float(tube.stiffness.EI), GA=float(tube.stiffness.GA), wall=wall,
        seam_wall=seam_wall, end_wall=end_wall,
    )


@dataclass(frozen=True)
class LoadsResult:
    """Loads along the body.

    Attributes:
        title: of the design.
        body: laid out.
        tube: as used.
        events: forces in each.
        worst: section of the tube in each event, same order.
        envelope: name -> (low, high) over the events at every position: compression, shear, moment.
        governing: index of the event with the largest edge line force.
        cases: load cases made from the events.
        flexible: the body as a flexible beam.
        joints: each joint and seam in its worst event, lowest margin first.
        cutouts: each in its worst event, lowest margin first.
        rotations: rotation of each section's seams against the first, rad, bending plane unknown.
        best_rotation: first seam's angle from a known bending plane, its margin and that of the
            worst angle; None without seams.
        notes: on the body.
    """

    title: str
    body: PlacedBody
    tube: TubeNumbers
    events: tuple[EventForces, ...]
    worst: tuple[WorstSection, ...]
    envelope: dict[str, tuple[Any, Any]]
    governing: int
    cases: tuple[Case, ...]
    flexible: FlexibleResult
    joints: tuple[JointResult, ...]
    cutouts: tuple[CutoutOutcome, ...]
    rotations: tuple[float, ...]
    best_rotation: tuple[float, float, float] | None
    notes: tuple[str, ...]


def _thick(wall: JointWall, stated: float | None) -> JointWall:
    """The wall at a joint with the thickness that ``[joints]`` states, if any."""
    return wall if stated is None else dataclasses.replace(wall, thickness=stated)


def section_loads(
    design: Design, tube: TubeNumbers | None = None, cells: int = CELLS,
    cutouts: Sequence[WallCutout] | None = None,
) -> LoadsResult:
    """Forces along the body in every event, the worst section, cases, flexible body and joints.

    Args:
        design: one design with [body].
        tube: its mass and stiffness; None: worked out from the design.
        cells: about how many cells along the body.
        cutouts: openings in the tube, their positions from the tube's fore end; None: those of
            [mold].
    Raises:
        InputError: no [body] or no events, or something that does not fit.
    """
    stated = read_body(design.body)
    if not stated.event:
        raise InputError("body.event: missing; write at least one [[body.event]]")
    joints = read_joints(design.joints)
    tube = tube_numbers(design) if tube is None else tube
    count = int(design.tube.sections) - 1
    body = place_body(stated, tube.length, tube.diameter, tube.mass, cells, count)
    events = tuple(event_forces(body, event) for event in stated.event)
    worst = tuple(worst_section(body, found, tube.radius) for found in events)
    envelope = {
        name: (np.min([getattr(found.forces, name) for found in events], axis=0),
               np.max([getattr(found.forces, name) for found in events], axis=0))
        for name in ("compression", "shear", "moment")
    }
    notes = list(body.notes)
    flexibility, play, GA = 0.0, 0.0, tube.GA
    checked: tuple[JointResult, ...] = ()
    opened: tuple[CutoutOutcome, ...] = ()
    tube_EI = None
    rotations: tuple[float, ...] = ()
    best = None
    segments = int(design.tube.segments)
    if tube.wall is None:
        notes.append("the material's strength is not known: joints were not checked")
    else:
        seam_wall = _thick(tube.seam_wall or tube.wall, joints.seam.thickness)
        end_wall = _thick(tube.end_wall or tube.wall, joints.end.thickness)
        if count:
            flexibility = float(joint_rotation(
                end_compliance(joints.end, joints.bond, end_wall), tube.radius))
            play = float(play_angle(joints.end.clearance, tube.radius))
        if segments > 1:
            angles = 2 * np.pi * np.arange(segments) / segments + np.pi / 4
            added, _ = seam_flexibility(joints.bond, seam_wall, joints.seam, angles)
            GA = float(1 / (1 / GA + added))
            rotations = tuple(staggered_rotations(count + 1, segments).tolist())
        checked = joint_results(body, events, design, joints, (seam_wall, end_wall))
        if cutouts is None:
            cutouts = stated_cutouts(mold_of(design), float(tube.wall.thickness))
        if cutouts:
            opened = cutout_outcomes(body, events, cutouts, tube.wall)
            tube_EI = piecewise_stiffness(
                cutouts, body.mass.stations - body.tube.fore, tube.EI, cut_wall(tube.wall),
            )
    governing = int(np.argmax([max(one.edge_compression, one.edge_tension) for one in worst]))
    if segments > 1 and tube.wall is not None:
        at = worst[governing]
        best = best_seam_rotation(
            joints.seam, joints.bond, _thick(tube.seam_wall or tube.wall, joints.seam.thickness),
            SectionLoads(at.compression, at.moment, at.shear,
                         float(events[governing].event.torque),
                         factor=float(events[governing].event.factor)),
            segments,
        )
    flexible = flexible_body(
        body, events, tube.EI, GA, joint_flexibility=flexibility, play=play, joints=count,
        tube_EI=tube_EI)
    return LoadsResult(
        title=design.title, body=body, tube=tube, events=events, worst=worst, envelope=envelope,
        governing=governing,
        cases=grown_with_body(
            event_cases(body, events, tube.radius),
            {one.name: one.column_factor for one in flexible.events},
            tube.length, tube.EI, GA),
        flexible=flexible,
        joints=checked, cutouts=opened, rotations=rotations, best_rotation=best,
        notes=tuple(notes),
    )
