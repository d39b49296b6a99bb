"""`gridshell loads`: everything about the body in one result."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from gridshell.define.body import read_body
from gridshell.define.errors import InputError
from gridshell.define.joints import Joints, read_joints
from gridshell.define.model import Case, Design
from gridshell.define.mold import mold_of
from gridshell.loads.events import EventForces, event_forces
from gridshell.loads.flexible import FlexibleResult, flexible_body
from gridshell.loads.placed import CELLS, PlacedBody, place_body
from gridshell.tube.cutouts import (
    Cutout,
    CutoutResult,
    assess_cutout,
    piecewise_stiffness,
    stated_cutouts,
)
from gridshell.tube.joints import (
    JointWall,
    SectionLoads,
    best_seam_rotation,
    edge_line_forces,
    end_checks,
    end_compliance,
    joint_rotation,
    play_angle,
    seam_checks,
    seam_flexibility,
    staggered_rotations,
)
from gridshell.tube.result import Check

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
        length, diameter, radius: outside diameter and radius of the skin's middle.
        mass: of the whole tube.
        EI, GA: as a beam.
        wall: what the joints need, or None: no joint checks.
    """

    length: float
    diameter: float
    radius: float
    mass: float
    EI: float
    GA: float
    wall: JointWall | None = None


def tube_numbers(design: Design) -> TubeNumbers:
    """Mass and stiffness of one design's tube, from `gridshell.tube.assess`.

    Raises:
        InputError: an array of designs.
    """
    from gridshell.tube.assess import assess

    tube = assess(design, needed=())
    if np.ndim(tube.mass) != 0:
        raise InputError("loads: one design at a time; an array of designs was given")
    built, made = tube.wall, tube.wall.properties
    strength = made.strength
    wall = None
    if strength is not None:
        wall = JointWall(
            float(built.grid.radius), float(built.depth), float(made.modulus),
            float(made.poisson), float(strength), float(built.A[0, 0]), float(tube.stiffness.EI),
            float(built.D[1, 1]),
        )
    return TubeNumbers(
        float(design.tube.length), float(design.tube.outside_diameter),
        float(built.grid.radius), float(tube.mass), float(tube.stiffness.EI),
        float(tube.stiffness.GA), wall,
    )


@dataclass(frozen=True)
class WorstSection:
    """The section of the tube with the largest line force, N/m, in one event.

    Attributes:
        position: from the body's fore end, m.
        compression: N, tension negative. moment: N m. shear: largest anywhere in the tube, N.
        edge_compression, edge_tension: largest line forces round that section, N/m.
    """

    position: float
    compression: float
    moment: float
    shear: float
    edge_compression: float
    edge_tension: float


@dataclass(frozen=True)
class JointResult:
    """Checks of one joint or seam in the event that is worst for it."""

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
    """A cut-out in the event that is worst for it."""

    where: str
    event: str
    result: CutoutResult


@dataclass(frozen=True)
class LoadsResult:
    """Loads along the body.

    Attributes:
        title: of the design. body: laid out. tube: as used.
        events: forces in each. worst: section of the tube in each, same order.
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


def _in_tube(body: PlacedBody, position: Any) -> slice:
    """The doubled stations of the tube: aft side of its fore end to fore side of its aft end."""
    first = 2 * body.station(body.tube.fore) + 1
    return slice(first, 2 * body.station(body.tube.aft) + 1)


def worst_section(body: PlacedBody, found: EventForces, radius: float, compressed: bool = False
                  ) -> WorstSection:
    """The section of the tube with the largest tension or compression per length round it.

    ``compressed`` looks at the compressed side only. Line force P/(2 pi r) +- M/(pi r^2).
    """
    inside, forces = _in_tube(body, found.forces.position), found.forces
    mean = forces.compression[inside] / (2 * np.pi * radius)
    bending = np.abs(forces.moment[inside]) / (np.pi * radius**2)
    squeeze, pull = bending + mean, bending - mean
    at = int(np.argmax(squeeze if compressed else np.maximum(squeeze, pull)))
    return WorstSection(
        float(forces.position[inside][at]), float(forces.compression[inside][at]),
        float(abs(forces.moment[inside][at])), float(np.abs(forces.shear[inside]).max()),
        max(float(squeeze[at]), 0.0), max(float(pull[at]), 0.0),
    )


def event_cases(body: PlacedBody, events: tuple[EventForces, ...], radius: float
                ) -> tuple[Case, ...]:
    """Load cases of the tube from the events: axial force and moment at the worst section, the
    largest shear force anywhere in the tube.

    An event whose worst section is in tension gets a second case where the tube is squeezed most,
    because tension at one place does not spare another from buckling.
    """
    cases = []
    for found in events:
        worst = worst_section(body, found, radius)
        cases.append(_case(found, worst, found.event.name))
        squeezed = worst_section(body, found, radius, compressed=True)
        if squeezed.edge_compression > worst.edge_compression * (1 + 1e-6):
            cases.append(_case(found, squeezed, f"{found.event.name} (squeezed)"))
    return tuple(cases)


def _case(found: EventForces, at: WorstSection, name: str) -> Case:
    event = found.event
    return Case(
        name=name, compression=at.compression, moment=at.moment, shear=at.shear,
        torque=float(event.torque), factor=float(event.factor),
    )


def cases_toml(cases: tuple[Case, ...], digits: int = 4) -> str:
    """The cases as text to paste into a definition file.

    >>> print(cases_toml((Case(name="boost", compression=12.0, moment=0.3, factor=1.5),)))
    [[case]]
    name = "boost"
    compression = "12 N"
    moment = "0.3 N m"
    factor = 1.5
    <BLANKLINE>
    """
    lines = []
    for case in cases:
        name = case.name.replace("\\", "\\\\").replace('"', '\\"')
        lines += ["[[case]]", f'name = "{name}"']
        for key, unit in (("compression", "N"), ("moment", "N m"), ("shear", "N"),
                          ("torque", "N m")):
            value = float(getattr(case, key))
            if value:
                lines.append(f'{key} = "{value:.{digits}g} {unit}"')
        lines += [f"factor = {float(case.factor):g}", ""]
    return "\n".join(lines)


def with_cases(design: Design, cases: tuple[Case, ...], keep: bool = True) -> Design:
    """The design with the cases of its events added to its own (or instead of them).

    An event's case replaces one of the same name.
    """
    names = {case.name for case in cases}
    kept = tuple(case for case in design.case if case.name not in names) if keep else ()
    return dataclasses.replace(design, case=kept + cases)


def _section_loads(found: EventForces, at: int) -> SectionLoads:
    forces, event = found.forces, found.event
    return SectionLoads(
        compression=float(forces.compression[at]), moment=float(abs(forces.moment[at])),
        shear=float(abs(forces.shear[at])), torque=float(event.torque), factor=float(event.factor),
    )


def _joint_results(
    body: PlacedBody, events: tuple[EventForces, ...], design: Design, joints: Joints,
    wall: JointWall,
) -> tuple[JointResult, ...]:
    """Every joint between sections, and the seams of every section, in their worst event."""
    sections, segments = int(design.tube.sections), int(design.tube.segments)
    end_wall = wall if joints.end.thickness is None else dataclasses.replace(
        wall, thickness=joints.end.thickness)
    seam_wall = wall if joints.seam.thickness is None else dataclasses.replace(
        wall, thickness=joints.seam.thickness)
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


def _cutout_outcomes(
    body: PlacedBody, events: tuple[EventForces, ...], cutouts: Sequence[Cutout],
    wall: JointWall,
) -> tuple[CutoutOutcome, ...]:
    """Each cut-out under the largest line force at its place, in its worst event.

    The far stress is the line force over the wall's stretching thickness A11/E: the skin's stress
    where ribs help.
    """
    thickness = wall.stretch / wall.modulus
    found = []
    for index, cut in enumerate(cutouts, start=1):
        options = []
        for event in events:
            at = 2 * body.station(body.tube.fore + cut.position)
            for side in (at, at + 1):
                here = _section_loads(event, side)
                tension, compression, flow = edge_line_forces(here, wall.radius)
                result = assess_cutout(
                    cut, float(max(tension, compression)) / thickness, 0.0,
                    float(flow) / thickness, wall.radius, thickness, wall.stretch, wall.modulus,
                    wall.strength, here.factor, wall.poisson,
                )
                options.append(CutoutOutcome(f"cut-out {index}, {cut.shape}", event.event.name,
                                             result))
        found.append(min(options, key=lambda one: one.result.margin))
    return tuple(sorted(found, key=lambda one: one.result.margin))


def loads(
    design: Design, tube: TubeNumbers | None = None, cells: int = CELLS,
    cutouts: Sequence[Cutout] | None = None,
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
        if count:
            wall = dataclasses.replace(tube.wall, thickness=joints.end.thickness
                                       or tube.wall.thickness)
            flexibility = float(joint_rotation(end_compliance(joints.end, joints.bond, wall),
                                               tube.radius))
            play = float(play_angle(joints.end.clearance, tube.radius))
        if segments > 1:
            angles = 2 * np.pi * np.arange(segments) / segments + np.pi / 4
            added, _ = seam_flexibility(joints.bond, tube.wall, joints.seam, angles)
            GA = 1 / (1 / GA + added)
            rotations = tuple(staggered_rotations(count + 1, segments).tolist())
        checked = _joint_results(body, events, design, joints, tube.wall)
        if cutouts is None:
            cutouts = stated_cutouts(mold_of(design), tube.wall.thickness)
        if cutouts:
            opened = _cutout_outcomes(body, events, cutouts, tube.wall)
            tube_EI = piecewise_stiffness(
                cutouts, body.mass.stations - body.tube.fore, tube.EI, tube.radius,
                tube.wall.stretch, tube.wall.modulus,
            )
    governing = int(np.argmax([max(one.edge_compression, one.edge_tension) for one in worst]))
    if segments > 1 and tube.wall is not None:
        at = worst[governing]
        best = best_seam_rotation(
            joints.seam, joints.bond, tube.wall,
            SectionLoads(at.compression, at.moment, at.shear,
                         float(events[governing].event.torque),
                         factor=float(events[governing].event.factor)),
            segments,
        )
    return LoadsResult(
        design.title, body, tube, events, worst, envelope, governing,
        event_cases(body, events, tube.radius),
        flexible_body(body, events, tube.EI, GA, flexibility, play, count, tube_EI), checked,
        opened, rotations, best, tuple(notes),
    )
