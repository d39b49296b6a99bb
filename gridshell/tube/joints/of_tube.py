"""The joints and seams of a tube: how much softer they make it, and their checks in a load case."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.joints import Joints, read_joints
from gridshell.define.types import Array, Quantity
from gridshell.tube.joints.end import end_checks, end_compliance, joint_rotation
from gridshell.tube.joints.line_forces import JointWall, SectionLoads, joint_wall
from gridshell.tube.joints.seam import seam_checks, seam_flexibility
from gridshell.tube.result import Check
from gridshell.tube.section.column import JointSprings
from gridshell.tube.section.stiffness import BeamStiffness
from gridshell.wall.assess import Wall

NO_LAND = "no solid land there: the skin alone was taken as the wall at the joint"


@dataclass(frozen=True)
class TubeJoints:
    """What the joints of a tube are, and what they do to it.

    Attributes:
        stated: the table of the definition file, or its defaults.
        seams: how many run along the tube; 0 for a tube in one piece.
        springs: joints between sections.
        shear_flexibility: 1/GA that the seams add, 1/N.
        seam_wall: wall beside the seams.
        end_wall: wall at the joints between sections.
        seam_notes: what was assumed for the seams.
        end_notes: what was assumed for the joints between sections.
    """

    stated: Joints
    seams: int
    springs: JointSprings
    shear_flexibility: Quantity
    seam_wall: JointWall
    end_wall: JointWall
    seam_notes: tuple[str, ...] = ()
    end_notes: tuple[str, ...] = ()

    @property
    def present(self) -> bool:
        """Whether the tube has any seam or joint."""
        return self.seams > 0 or self.springs.count > 0


def land_thickness(wall: Wall, stated: Quantity | None, land: Quantity) -> Quantity:
    """Thickness of the wall at a joint: as stated, else of the solid land, else of the skin, m.

    Args:
        wall: one or many.
        stated: in ``[joints]``, m.
        land: width of the solid land, m; 0 is none.
    """
    if stated is not None:
        return stated
    return np.where(np.asarray(land) > 0, wall.depth, wall.design.skin.thickness)[()]


def seam_angles(joints: Joints, segments: int) -> Array:
    """Angles of the seams from the bending plane to look at, (n,) rad.

    Where the file does not say, 90 deg: shear flow is largest there, and the moment that flattening
    brings as large as anywhere.

    Args:
        joints: as stated.
        segments: round the tube.
    """
    if joints.seam.angles is None:
        return np.array([np.pi / 2])
    around = 2 * np.pi * np.arange(segments) / segments
    return (np.asarray(joints.seam.angles, float)[:, None] + around).ravel()


def tube_joints(wall: Wall, stiffness: BeamStiffness) -> TubeJoints:
    """The joints and seams of an assessed wall.

    Args:
        wall: one or many.
        stiffness: of the tube without them.
    Raises:
        DefinitionError: ``[joints]`` contradicts itself.
    """
    design, stated = wall.design, read_joints(wall.design.joints)
    sections, segments = int(design.tube.sections), int(design.tube.segments)
    seam_wall = joint_wall(wall, stiffness.EI, land_thickness(
        wall, stated.seam.thickness, design.tube.seam_land))
    end_wall = joint_wall(wall, stiffness.EI, land_thickness(
        wall, stated.end.thickness, design.tube.end_land))
    flexibility: Quantity = 0.0
    if sections > 1:
        flexibility = joint_rotation(
            end_compliance(stated.end, stated.bond, end_wall), end_wall.radius)
    added: Quantity = 0.0
    if segments > 1:
        # The plane of bending that the seams soften most: one or two of them across it.
        worst = np.full(segments, np.pi / 2) if segments < 3 else (
            2 * np.pi * np.arange(segments) / segments)
        added = seam_flexibility(stated.bond, seam_wall, stated.seam, worst)[0]

    def landless(width: Quantity, given: Quantity | None) -> tuple[str, ...]:
        bare = given is None and design.has_ribs and not np.all(np.asarray(width) > 0)
        return (NO_LAND,) if bare else ()

    return TubeJoints(
        stated=stated, seams=segments if segments > 1 else 0,
        springs=JointSprings(flexibility, sections - 1), shear_flexibility=added,
        seam_wall=seam_wall, end_wall=end_wall,
        seam_notes=landless(design.tube.seam_land, stated.seam.thickness),
        end_notes=landless(design.tube.end_land, stated.end.thickness),
    )


def with_joints(stiffness: BeamStiffness, joints: TubeJoints) -> BeamStiffness:
    """Stiffness of the tube with the slip of its seams in its shear stiffness.

    Args:
        stiffness: of the tube without seams.
        joints: of the tube.
    """
    return dataclasses.replace(
        stiffness, GA=1 / (1 / stiffness.GA + joints.shear_flexibility))


def _worst(options: list[tuple[Check, ...]]) -> list[Check]:
    """Each check in the state that is worst for it."""
    found = []
    for alike in zip(*options, strict=True):
        best = alike[0]
        for other in alike[1:]:
            worse = ~(np.asarray(other.margin) >= np.asarray(best.margin))
            best = dataclasses.replace(
                best,
                applied=np.where(worse, other.applied, best.applied)[()],
                margin=np.where(worse, other.margin, best.margin)[()],
                notes=tuple(dict.fromkeys((*best.notes, *other.notes))),
            )
        found.append(best)
    return found


def _over_angles(checks: tuple[Check, ...]) -> tuple[Check, ...]:
    """Each check at the angle, last axis, where its margin is least (NaN counts as least)."""
    found = []
    for check in checks:
        applied, margin = np.broadcast_arrays(check.applied, check.margin)
        at = np.argmin(np.where(np.isnan(margin), -np.inf, margin), axis=-1, keepdims=True)
        found.append(dataclasses.replace(
            check, applied=np.take_along_axis(applied, at, -1)[..., 0][()],
            margin=np.take_along_axis(margin, at, -1)[..., 0][()],
            allowable=np.asarray(check.allowable)[..., 0][()] if np.ndim(check.allowable)
            else check.allowable,
        ))
    return tuple(found)


def _stacked(values: JointWall | SectionLoads) -> dict[str, Quantity | None]:
    """The fields with a last axis for the angles."""
    return {
        key: None if value is None else np.asarray(value, float)[..., None]
        for key, value in vars(values).items()
    }


def case_joint_checks(
    joints: TubeJoints, squeezed: SectionLoads, stretched: SectionLoads, strength: Quantity,
    modulus_ratio: Quantity = 1.0,
) -> list[Check]:
    """Seams and joints between sections under the forces of a load case.

    The largest moment and shear force of the case are taken to act at every joint.

    Args:
        joints: of the tube.
        squeezed: forces of the compressed state of the section.
        stretched: forces of its stretched state.
        strength: of the material in this case, Pa.
        modulus_ratio: modulus in this case over that of the wall.
    """
    found: list[Check] = []
    states = (squeezed, stretched)

    def lasting(wall: JointWall) -> JointWall:
        bending = wall.hoop_bending
        return dataclasses.replace(
            wall, strength=strength, modulus=wall.modulus * modulus_ratio,
            stretch=wall.stretch * modulus_ratio, EI=wall.EI * modulus_ratio,
            hoop_bending=None if bending is None else bending * modulus_ratio)

    if joints.springs.count:
        wall = lasting(joints.end_wall)
        found += _worst([
            end_checks(joints.stated.end, joints.stated.bond, wall, state) for state in states])
        found = _noted(found, joints.end_notes)
    if joints.seams:
        wall = lasting(joints.seam_wall)
        many = JointWall(**_stacked(wall))  # type: ignore[arg-type]
        angles = seam_angles(joints.stated, joints.seams)
        found += _noted(_worst([
            _over_angles(seam_checks(
                joints.stated.seam, joints.stated.bond, many,
                SectionLoads(**_stacked(state)), angles))  # type: ignore[arg-type]
            for state in states
        ]), joints.seam_notes)
    return found


def _noted(checks: list[Check], notes: tuple[str, ...]) -> list[Check]:
    return [dataclasses.replace(check, notes=(*check.notes, *notes)) for check in checks]
