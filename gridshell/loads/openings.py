"""Joints, seams and cut-outs, each under the forces of the event that is worst for it."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.design import Design
from gridshell.define.tables.joints import Joints
from gridshell.loads.events import EventForces
from gridshell.loads.placed import PlacedBody
from gridshell.tube.joints.end import end_checks
from gridshell.tube.joints.line_forces import JointWall, SectionLoads, edge_line_forces
from gridshell.tube.joints.seam import seam_checks
from gridshell.tube.result import Check
from gridshell.tube.strength.cutouts import (
    CutoutResult,
    CutWall,
    WallCutout,
    assess_cutout,
)


@dataclass(frozen=True)
class JointResult:
    """Checks of one joint or seam in the event that is worst for it.

    Attributes:
        where: which joint or seams.
        position: from the body's fore end, m.
        event: that is worst for it.
        checks: of it in that event.
    """

    where: str
    position: float
    event: str
    checks: tuple[Check, ...]

    @property
    def margin(self) -> float:
        """Lowest margin."""
        return min((float(check.margin) for check in self.checks), default=float("inf"))


@dataclass(frozen=True)
class CutoutOutcome:
    """A cut-out in the event that is worst for it.

    Attributes:
        where: which cut-out.
        event: that is worst for it.
        result: in that event.
    """

    where: str
    event: str
    result: CutoutResult


def _section_loads(found: EventForces, at: int) -> SectionLoads:
    forces, event = found.forces, found.event
    return SectionLoads(
        compression=float(forces.compression[at]), moment=float(abs(forces.moment[at])),
        shear=float(abs(forces.shear[at])), torque=float(event.torque), factor=float(event.factor),
    )


def joint_results(
    body: PlacedBody, events: tuple[EventForces, ...], design: Design, joints: Joints,
    walls: tuple[JointWall, JointWall],
) -> tuple[JointResult, ...]:
    """Every joint between sections, and the seams of every section, in their worst event.

    Args:
        body: laid out.
        events: forces of each.
        design: one design.
        joints: as stated.
        walls: beside the seams, and at the joints between sections.
    """
    sections, segments = int(design.tube.sections), int(design.tube.segments)
    seam_wall, end_wall = walls
    found: list[JointResult] = []

    def worst(where: str, position: float, options: list[JointResult]) -> None:
        if options:
            found.append(min(options, key=lambda one: one.margin))

    for index, place in enumerate(body.joint_positions(sections - 1), start=1):
        at = 2 * body.station(float(place))
        worst("joint", place, [
            JointResult(f"joint {index}", float(place), event.event.name, end_checks(
                joints.end, joints.bond, end_wall, _section_loads(event, side)))
            for event in events for side in (at, at + 1)
        ])
    if segments > 1:
        ends = np.linspace(body.tube.fore, body.tube.aft, sections + 1)
        stated = joints.seam.angles
        for index in range(sections):
            inside = slice(2 * body.station(ends[index]) + 1, 2 * body.station(ends[index + 1]) + 1)
            angles = 2 * np.pi * np.arange(segments) / segments
            # The bending plane is not known unless the file says where the seams lie from it.
            around = (np.linspace(0, np.pi / 2, 91) if stated is None
                      else angles + stated[index % len(stated)])
            options = []
            for event in events:
                f = event.forces
                loads = SectionLoads(
                    moment=float(np.abs(f.moment[inside]).max()),
                    shear=float(np.abs(f.shear[inside]).max()),
                    torque=float(event.event.torque), factor=float(event.event.factor),
                )
                checks = tuple(
                    dataclasses.replace(check, applied=float(np.max(check.applied)),
                                        margin=float(np.min(check.margin)))
                    for check in seam_checks(joints.seam, joints.bond, seam_wall, loads, around)
                )
                middle = float(ends[index] + ends[index + 1]) / 2
                options.append(JointResult(f"seams of section {index + 1}", middle,
                                           event.event.name, checks))
            worst("seam", 0.0, options)
    return tuple(sorted(found, key=lambda one: one.margin))


def cut_wall(wall: JointWall) -> CutWall:
    """The wall round cut-outs: as thick as its line force over the stress of its skin."""
    axial = wall.modulus / wall.stretch if wall.skin_axial is None else wall.skin_axial
    return CutWall(*(float(value) for value in (
        wall.radius, 1 / axial, wall.stretch, wall.modulus, wall.strength, wall.poisson)))


def cutout_outcomes(
    body: PlacedBody, events: tuple[EventForces, ...], cutouts: Sequence[WallCutout],
    wall: JointWall,
) -> tuple[CutoutOutcome, ...]:
    """Each cut-out under the largest line force at its place, in its worst event.

    The far stresses are those of the skin, which ribs relieve of axial load and, where they run
    aslant, of shear.

    Args:
        body: laid out.
        events: forces of each.
        cutouts: in the tube, positions from its fore end.
        wall: round them.
    """
    round_it = cut_wall(wall)
    axial = 1 / round_it.thickness
    shear = axial if wall.skin_shear is None else float(wall.skin_shear)
    found = []
    for index, cut in enumerate(cutouts, start=1):
        options = []
        for event in events:
            at = 2 * body.station(body.tube.fore + cut.position)
            for side in (at, at + 1):
                here = _section_loads(event, side)
                tension, compression, flow = edge_line_forces(here, wall.radius)
                most = float(max(tension, compression))
                result = assess_cutout(
                    cut, round_it, most * axial, hoop=most * float(wall.skin_hoop),
                    shear=float(flow) * shear, factor=float(here.factor),
                )
                options.append(CutoutOutcome(f"cut-out {index}, {cut.shape}", event.event.name,
                                             result))
        found.append(min(options, key=lambda one: one.result.margin))
    return tuple(sorted(found, key=lambda one: one.result.margin))
