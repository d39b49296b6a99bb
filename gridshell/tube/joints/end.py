"""Joints between the sections of a tube: stress, flexibility, play."""

from __future__ import annotations

import numpy as np

from gridshell.define.tables.joints import Bond, EndJoint
from gridshell.define.types import Quantity
from gridshell.tube.joints.lap import (
    SHORT_LAP,
    Overlap,
    SingleLap,
    single_lap,
    volkersen_compliance,
    volkersen_peak,
)
from gridshell.tube.joints.line_forces import (
    JointWall,
    SectionLoads,
    bond_numbers,
    edge_line_forces,
    joint_check,
)
from gridshell.tube.result import Check


def bolt_flexibility(
    *, diameter: Quantity, bolt_modulus: Quantity, thickness_one: Quantity,
    modulus_one: Quantity, thickness_two: Quantity, modulus_two: Quantity,
    bolt_poisson: Quantity = 0.3,
) -> Quantity:
    """Slip per force of one bolt in single shear, m/N: shear and bending of the bolt, bearing.

    32 (1 + v)(t1 + t2)/(9 pi E d^2) + 8 (t2^3 + 5 t2^2 t1 + 5 t2 t1^2 + t1^3)/(5 pi E d^4)
    + 1/(E t1) + 1/(E t2) + 1/(E1 t1) + 1/(E2 t2). Source: Tate, M. B. and Rosenfeld, S. J.,
    NACA TN 1051 (1946), from memory. Close-fitting bolts; clearance is counted apart.

    Args:
        diameter: of the bolt, m.
        bolt_modulus: Pa.
        thickness_one: of the first piece, m.
        modulus_one: of the first piece, Pa.
        thickness_two: of the second piece, m.
        modulus_two: of the second piece, Pa.
        bolt_poisson: Poisson's ratio of the bolt.
    """
    d, e, t1, t2 = diameter, bolt_modulus, thickness_one, thickness_two
    return (
        32 * (1 + bolt_poisson) * (t1 + t2) / (9 * np.pi * e * d**2)
        + 8 * (t2**3 + 5 * t2**2 * t1 + 5 * t2 * t1**2 + t1**3) / (5 * np.pi * e * d**4)
        + 1 / (e * t1) + 1 / (e * t2) + 1 / (modulus_one * t1) + 1 / (modulus_two * t2)
    )


def _ring(end: EndJoint, wall: JointWall) -> tuple[Quantity, Quantity]:
    """Thickness (m) and modulus (Pa) of the sleeve or ring; the wall's where not given."""
    thickness = wall.thickness if end.ring_thickness is None else end.ring_thickness
    return thickness, wall.modulus if end.ring_modulus is None else end.ring_modulus


def end_compliance(end: EndJoint, bond: Bond, wall: JointWall) -> Quantity:
    """Opening of the joint per line force across it, m/(N/m), over that of the plain wall.

    Args:
        end: as stated.
        bond: as stated.
        wall: at the joint.
    """
    used = bond_numbers(bond, wall)
    stretch = wall.modulus * wall.thickness
    if end.kind == "butt":
        return bond.thickness / (used.modulus * wall.thickness)
    ring, ring_modulus = _ring(end, wall)
    if end.held_by == "bolts":
        pitch = 2 * np.pi * wall.radius / end.bolts
        one = bolt_flexibility(
            diameter=end.bolt_diameter, bolt_modulus=end.bolt_modulus,
            thickness_one=wall.thickness, modulus_one=wall.modulus, thickness_two=ring,
            modulus_two=ring_modulus,
        )
        return 2 * one * pitch
    if bond.thickness == 0:
        return 0.0
    lap = volkersen_compliance(Overlap(
        end.engagement, stretch, ring_modulus * ring, used.shear_modulus, bond.thickness))
    return np.maximum(2 * lap - 2 * end.engagement / stretch, 0.0)


def joint_rotation(compliance: Quantity, radius: Quantity) -> Quantity:
    """Rotation per moment of a joint, rad/(N m).

    The line force M cos/(pi r^2) opens the joint by c M/(pi r^2) at the extreme fiber, which is
    r times the rotation: c/(pi r^3). Derived; plane ends stay plane.

    Args:
        compliance: c, opening per line force, m/(N/m).
        radius: m.
    """
    return compliance / (np.pi * np.asarray(radius) ** 3)


def play_angle(clearance: Quantity, radius: Quantity) -> Quantity:
    """Angle by which free play lets the joint lean to either side, clearance/(2 r), rad.

    Args:
        clearance: along the axis, m.
        radius: m.
    """
    answer: Quantity = np.asarray(clearance) / (2 * np.asarray(radius))
    return answer


def end_checks(
    end: EndJoint, bond: Bond, wall: JointWall, loads: SectionLoads
) -> tuple[Check, ...]:
    """Checks of a joint between two sections under axial force, moment, shear and torque.

    Args:
        end: as stated.
        bond: as stated.
        wall: at the joint.
        loads: of the section.
    """
    tension, compression, flow = edge_line_forces(loads, wall.radius)
    used = bond_numbers(bond, wall)
    t, factor, notes = wall.thickness, loads.factor, used.notes
    squares = "sum of squares (common practice, no source)"
    if end.kind == "butt":
        shut = ("the joint stays in compression all round",) if np.all(tension <= 0) else ()
        both = np.hypot(tension / t / used.peel_strength, flow / t / used.shear_strength)
        return (
            joint_check("joint tension", used.peel_strength, tension / t, factor, source="N/t",
                        notes=notes + shut),
            joint_check("joint tension and shear", 1.0, both, factor, source=squares, notes=notes,
                        kind="ratio"),
        )
    ring, ring_modulus = _ring(end, wall)
    worst = np.maximum(tension, compression)
    if end.held_by != "bolts" and np.any(np.asarray(end.engagement) < t):
        notes += (SHORT_LAP,)
    if end.held_by == "bolts":
        return _bolt_checks(end, wall, ring, (worst, flow), factor)
    if bond.thickness == 0:
        shear = np.hypot(worst, flow) / end.engagement
        return (joint_check(
            "joint shear", used.shear_strength, shear, factor, source="mean over the engagement",
            notes=(*notes, "fused: stress peaks at the ends are not in the mean")),)
    layer = (used.shear_modulus, bond.thickness)
    shear_of = 1 / (2 * (1 + wall.poisson))
    one, two = wall.modulus * t, ring_modulus * ring
    across = volkersen_peak(Overlap(end.engagement, one, two, *layer), worst)
    along = volkersen_peak(
        Overlap(end.engagement, one * shear_of, two * shear_of, *layer), flow)
    _, peel, _ = single_lap(
        SingleLap(t, wall.modulus, end.engagement, used.modulus, *layer, wall.poisson), worst)
    shear = np.hypot(across, along)
    both = np.hypot(shear / used.shear_strength, peel / used.peel_strength)
    calm = "the ring's hoop stiffness holds the lap straight: peel is an upper bound"
    return (
        joint_check("joint shear", used.shear_strength, shear, factor, source="Volkersen (1938)",
                    notes=notes),
        joint_check("joint peel", used.peel_strength, peel, factor,
                    source="Goland and Reissner (1944)", notes=(*notes, calm)),
        joint_check("joint shear and peel", 1.0, both, factor, source=squares, notes=notes,
                    kind="ratio"),
    )


def _bolt_checks(
    end: EndJoint, wall: JointWall, ring: Quantity, line: tuple[Quantity, Quantity],
    factor: Quantity,
) -> tuple[Check, ...]:
    """Checks of a bolted ring under a line force across it and a shear flow, N/m."""
    worst, flow = line
    pitch = 2 * np.pi * wall.radius / end.bolts
    force = np.hypot(worst, flow) * pitch
    d, t = end.bolt_diameter, np.minimum(wall.thickness, ring)
    edge = end.engagement / 2 if end.edge_distance is None else end.edge_distance
    notes: tuple[str, ...] = ()
    if np.any(edge < 2 * d):
        notes += ("holes nearer than two diameters to the edge (common practice, no source)",)
    if np.any(pitch < 3 * d):
        notes += ("holes nearer than three diameters to each other (common practice, no source)",)
    left = np.maximum(1 - d / pitch, 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        net = np.where(left > 0, worst / (wall.thickness * left), np.inf)
    return (
        joint_check("bolt bearing", end.bearing_ratio * wall.strength, force / (d * t), factor,
                    source="P/(d t)", notes=notes),
        joint_check("bolt shear", end.bolt_shear_strength, force / (np.pi / 4 * d**2), factor,
                    source="P/A, single shear"),
        joint_check("wall shear-out", wall.strength / 2, force / (2 * edge * t), factor,
                    source="P/(2 e t); shear strength half of the tensile (no source)",
                    notes=notes),
        joint_check("wall between bolts", wall.strength, net, factor,
                    source="net section, ductile wall",
                    notes=("a brittle wall sees about three times this at the holes (Kirsch 1898)",
                           )),
    )
