"""What one load case does to the section of the tube: forces, with the growth of bending under
axial load.

All moments and shear forces are those at the loads times the design factor, divided by it again:
bending grows faster than the loads, so that the check at the factored loads is the one that counts.
The deflection is that at the stated loads.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.design import Case
from gridshell.define.types import Quantity
from gridshell.material.properties import Properties
from gridshell.material.resolve import properties as resolve
from gridshell.tube.joints.end import play_angle
from gridshell.tube.joints.line_forces import SectionLoads
from gridshell.tube.joints.of_tube import TubeJoints
from gridshell.tube.section.beam_column import AcrossLoads, BeamAnswer, beam_column, bow_arm
from gridshell.tube.section.column import JointSprings, Member
from gridshell.tube.section.stiffness import BeamStiffness
from gridshell.wall.assess import Wall


@dataclass(frozen=True)
class CaseForces:
    """Forces of one load case, unfactored.

    Attributes:
        pushed: axial compression that is applied, N; the column carries this, whatever the
            pressure.
        compression: of the wall in the compressed state: applied, less the pull of internal
            pressure on closed ends, N.
        ends: push of external pressure on closed ends, N.
        tension: applied tension and the pull of internal pressure on closed ends, N.
        moment: largest, grown by the axial load, N m.
        shear: largest, grown by the axial load, N.
        flow: largest shear flow of torque and shear force, N/m.
        external: external pressure over internal, at least 0, Pa.
        member: the tube as a column in this case.
        beam: at the stated loads; None without a support.
        growth: moment over its first order, at the loads times the factor.
        modulus_ratio: modulus under the case's duration over that of the wall.
        strength: of the material under the case's duration, Pa; None where not known.
        notes: what was assumed of the material in this case.
    """

    pushed: Quantity
    compression: Quantity
    ends: Quantity
    tension: Quantity
    moment: Quantity
    shear: Quantity
    flow: Quantity
    external: Quantity
    member: Member
    beam: BeamAnswer | None
    growth: Quantity
    modulus_ratio: Quantity
    strength: Quantity | None
    notes: tuple[str, ...]

    def squeezed(self, case: Case) -> SectionLoads:
        """Forces of the section in its compressed state."""
        return self._section(case, self.compression + self.ends)

    def stretched(self, case: Case) -> SectionLoads:
        """Forces of the section in its stretched state.

        Compression relieves it, and a relieving load is not multiplied by the design factor."""
        return self._section(case, (self.pushed + self.ends) / case.factor - self.tension)

    def _section(self, case: Case, compression: Quantity) -> SectionLoads:
        return SectionLoads(
            compression=compression, moment=self.moment, shear=self.shear, torque=case.torque,
            pressure=case.pressure, factor=case.factor,
        )


def _lasting(
    case: Case, wall: Wall
) -> tuple[Quantity, Quantity | None, tuple[str, ...]]:
    """Modulus over that of the wall, and strength, for the duration of the case."""
    known = wall.properties
    if case.duration is None:
        return 1.0, known.strength, ()
    stated, folder = wall.design.material, wall.design.folder

    def under(duration: Quantity) -> Properties:
        return resolve(dataclasses.replace(stated, load_duration=duration), folder,
                       known.temperature)

    usual, lasting = under(stated.load_duration), under(case.duration)
    strength = known.strength
    if strength is not None and usual.strength is not None and lasting.strength is not None:
        strength = strength * (lasting.strength / usual.strength)
    new = tuple(note for note in lasting.notes if note not in known.notes)
    return lasting.modulus / usual.modulus, strength, new


def case_forces(
    case: Case, wall: Wall, stiffness: BeamStiffness, line_mass: Quantity, joints: TubeJoints
) -> CaseForces:
    """Forces of one load case.

    Args:
        case: as stated.
        wall: one or many.
        stiffness: of the tube, with its seams.
        line_mass: kg/m.
        joints: of the tube.
    """
    radius, length = wall.grid.radius, wall.design.tube.length
    ratio, strength, notes = _lasting(case, wall)
    springs = JointSprings(joints.springs.flexibility / ratio, joints.springs.count)
    member = Member(case.support, length, stiffness.EI * ratio, stiffness.GA * ratio, springs)
    # Joints with play may all lean to one side.
    lean = play_angle(joints.stated.end.clearance, radius) * length * member.lean_of_joints
    loads = AcrossLoads(
        force=case.transverse, load=line_mass * case.acceleration, moment=case.moment,
        shear=case.shear, bow=wall.design.tube.straightness * length + lean / bow_arm(member),
    )
    pushed = np.maximum(case.compression, 0.0) + 0.0 * radius
    # The answer is linear in the loads across at a given axial load, and the bow's part goes with
    # the axial load, so with the bow over the factor it is that of the factored loads, over the
    # factor.
    grown = beam_column(
        member, dataclasses.replace(loads, bow=loads.bow / case.factor), pushed * case.factor)
    stated = None if case.support == "none" else beam_column(member, loads, pushed)
    if stated is not None:
        stated = dataclasses.replace(stated, deflection=stated.deflection + lean)
    # Pressure acts on the ends up to the face of the skin that it wets.
    half = wall.design.skin.thickness / 2
    outer, inner = (np.pi * (radius + face) ** 2 * float(case.pressure_on_ends)
                    for face in (half, -half))
    external = np.maximum(case.pressure, 0.0)
    internal = np.maximum(-np.asarray(case.pressure), 0.0)
    # Internal pressure on closed ends pulls the wall and so relieves its compression, for buckling
    # of the wall; a relieving load is not multiplied by the design factor (NASA/SP-8007-2020/REV
    # 2, 3.0). The column is not relieved: the pressure on the bent tube's wall cancels the pull of
    # its ends, so a closed tube buckles as a column at the same applied force whatever the
    # pressure (the "effective force" of pipe mechanics).
    return CaseForces(
        pushed=pushed,
        compression=np.maximum(pushed - internal * inner / case.factor, 0.0),
        ends=external * outer,
        tension=np.maximum(-np.asarray(case.compression), 0.0) + internal * inner,
        moment=grown.moment,
        shear=grown.shear,
        flow=case.torque / (2 * np.pi * radius**2) + grown.shear / (np.pi * radius),
        external=external,
        member=member,
        beam=stated,
        growth=grown.growth,
        modulus_ratio=ratio,
        strength=strength,
        notes=notes,
    )
