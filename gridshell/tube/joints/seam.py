"""Seams along the tube: shear, peel, flexibility, and how to turn them.

Angles are measured round the tube from the bending plane.
"""

from __future__ import annotations

import numpy as np

from gridshell.define.tables.joints import Bond, Seam
from gridshell.define.types import Array, Quantity
from gridshell.tube.joints.lap import (
    SHORT_LAP,
    Overlap,
    SingleLap,
    edge_peel,
    single_lap,
    volkersen_peak,
)
from gridshell.tube.joints.line_forces import (
    BondNumbers,
    JointWall,
    SectionLoads,
    bending_shear_flow,
    bond_numbers,
    joint_check,
    torsion_shear_flow,
)
from gridshell.tube.result import Check

LARGE_FLATTENING = 0.1  # of the radius


def ovalizing_moment(
    moment: Quantity, EI: Quantity, stretch: Quantity, radius: Quantity, angle: Quantity
) -> Quantity:
    """Hoop bending moment per length as bending flattens the tube, A11 r^3 C^2 cos(2 angle)/4, N.

    C = M/EI is the curvature. The axial stresses on the curved tube press it flat with
    A11 C^2 r cos(angle); the ring's moment follows from the flattening that minimizes the energy,
    C^2 A11 r^4/(12 D22) (Brazier, L. G., Proc. Royal Society A 116, 1927), in which D22 cancels.
    For small flattening.

    Args:
        moment: N m.
        EI: of the tube, N m2.
        stretch: A11 of the wall, N/m.
        radius: m.
        angle: from the bending plane, rad.
    """
    answer: Quantity = stretch * np.asarray(radius) ** 3 * (moment / EI) ** 2 * np.cos(
        2 * np.asarray(angle)) / 4
    return answer


def _flattening_notes(wall: JointWall, moment: Quantity) -> tuple[str, ...]:
    if wall.hoop_bending is None:
        return ()
    flattening = (np.asarray(moment) / wall.EI) ** 2 * (
        wall.stretch * (wall.radius**2) ** 2 / (12 * wall.hoop_bending))
    if not np.any(flattening > LARGE_FLATTENING):
        return ()
    return (f"bending flattens the tube by {np.max(flattening):.0%} of its radius: "
            "beyond the small flattening of this formula",)


def _overlap_stresses(
    seam: Seam, bond: Bond, used: BondNumbers, wall: JointWall,
    line: tuple[Quantity, Quantity, Quantity],
) -> tuple[Quantity, Quantity, Quantity, str, tuple[str, ...]]:
    """Shear along, shear across, peel (Pa), source and notes of a lap or strip seam.

    ``line`` is shear flow, pull (N/m) and hoop moment (N) per length of seam.
    """
    flow, pull, moment = line
    t, overlap = wall.thickness, seam.overlap
    thin = t if seam.kind == "lap" else np.minimum(t, seam.strip_thickness or t)
    if not bond.thickness > 0:
        peel = 6 * (pull * thin / 2 + moment) / np.asarray(overlap) ** 2
        return (flow / overlap, pull / overlap, peel, "mean over the overlap; fused, no layer",
                ("fused overlap: stress peaks at its ends are not in the mean",))
    layer = (used.shear_modulus, bond.thickness)
    wall_shear = wall.modulus / (2 * (1 + wall.poisson))
    along = volkersen_peak(Overlap(overlap, wall_shear * t, wall_shear * thin, *layer), flow)
    if seam.kind == "lap":
        lap = SingleLap(thin, wall.modulus, overlap, used.modulus, *layer, wall.poisson)
        across, peel, _ = single_lap(lap, pull, moment)
        return (along, across, peel,
                "Goland and Reissner (1944); Volkersen (1938) for shear along", ())
    # A single cover strip: nothing relieves its eccentric pull, so the factor is 1.
    across = volkersen_peak(Overlap(overlap, wall.modulus * t, wall.modulus * thin, *layer), pull)
    eccentric = pull * (t + thin) / 2 + moment
    strip = SingleLap(
        thin, wall.modulus / (1 - wall.poisson**2), overlap, used.modulus, *layer, wall.poisson)
    return (along, across, edge_peel(strip, eccentric, 0.0),
            "Volkersen (1938); edge moment N (t + t_strip)/2 on an elastic bed",
            ("the edges under the strip are taken as not bonded",))


def seam_checks(
    seam: Seam, bond: Bond, wall: JointWall, loads: SectionLoads, angle: Quantity
) -> tuple[Check, ...]:
    """Shear, peel and both together in a seam along the tube.

    Three checks: shear along and across, tension across (peel), and their interaction (sum of
    squares of the ratios; common practice, no source).

    Args:
        seam: as stated.
        bond: as stated.
        wall: beside the seam.
        loads: of the section.
        angle: of the seam from the bending plane, rad.
    """
    flow = bending_shear_flow(loads.shear, angle, wall.radius) + torsion_shear_flow(
        loads.torque, wall.radius)
    hoop = -np.asarray(loads.pressure, dtype=float) * wall.radius  # tension positive, N/m
    moment = np.abs(ovalizing_moment(loads.moment, wall.EI, wall.stretch, wall.radius, angle)
                    ) + np.abs(loads.hoop_moment)
    pull = np.maximum(hoop, 0.0)
    used = bond_numbers(bond, wall)
    notes = used.notes + _flattening_notes(wall, loads.moment)
    t = wall.thickness
    along: Quantity
    across: Quantity
    peel: Quantity
    if seam.kind == "butt":
        along, across = flow / t, np.zeros_like(flow)
        peel = pull / t + 6 * moment / t**2
        source = "stress on the edge, N/t + 6 m/t^2"
    else:
        along, across, peel, source, more = _overlap_stresses(
            seam, bond, used, wall, (flow, pull, moment))
        notes += more
        if np.any(np.asarray(seam.overlap) < t):
            notes += (SHORT_LAP,)
        if np.any(hoop < 0):
            notes += ("pressure closes the seam: no peel from it was counted",)
    shear = np.hypot(along, across)
    both = np.hypot(shear / used.shear_strength, peel / used.peel_strength)
    return (
        joint_check("seam shear", used.shear_strength, shear, loads.factor, source=source,
                    notes=notes),
        joint_check("seam peel", used.peel_strength, peel, loads.factor, source=source,
                    notes=notes),
        joint_check("seam shear and peel", 1.0, both, loads.factor,
                    source="sum of squares (common practice, no source)", notes=notes,
                    kind="ratio"),
    )


def seam_flexibility(
    bond: Bond, wall: JointWall, seam: Seam, angles: Array
) -> tuple[Quantity, Quantity]:
    """Added shear flexibility 1/GA (1/N) and torsion flexibility 1/GJ (1/(N m2)) of seams.

    The layer slips by q eta/(G b) under the shear flow q, b the bonded width; the slip's energy is
    that of the added flexibility: sum of (sin/(pi r))^2 eta/(G b) and n eta/(G b)/(2 pi r^2)^2.
    Derived; zero for a fused seam.

    Args:
        bond: as stated.
        wall: beside the seams.
        seam: as stated.
        angles: (n,) of the seams from the bending plane, rad.
    """
    if bond.thickness == 0:
        return 0.0, 0.0
    width = wall.thickness if seam.kind == "butt" else seam.overlap
    slip = bond.thickness / (bond_numbers(bond, wall).shear_modulus * width)
    slip = slip * (2 if seam.kind == "strip" else 1)
    bending = np.sum(np.sin(angles) ** 2) / (np.pi * wall.radius) ** 2 * slip
    return bending, len(angles) * slip / (2 * np.pi * wall.radius**2) ** 2


def best_seam_rotation(
    seam: Seam, bond: Bond, wall: JointWall, loads: SectionLoads, seams: int
) -> tuple[float, float, float]:
    """Where to put the seams of one section when the bending plane is known.

    Tries whole degrees over the spacing of the seams and takes the one with the largest of the
    least margins.

    Args:
        seam: as stated.
        bond: as stated.
        wall: of one design.
        loads: of the section.
        seams: how many there are round the tube.
    Returns:
        angle of the first seam from the bending plane (rad), its margin, and the margin of the
        worst angle.
    """
    spacing = 2 * np.pi / seams
    tried = np.arange(0.0, np.degrees(spacing)) * np.pi / 180
    around = tried[:, None] + spacing * np.arange(seams)
    checks = seam_checks(seam, bond, wall, loads, around)
    margins = np.min([np.broadcast_to(check.margin, around.shape).min(axis=1) for check in checks],
                     axis=0)
    best = margins.max()
    # Of angles equally good, the middle one, farthest from trouble.
    equal = tried[np.isclose(margins, best, rtol=1e-9)] if np.isfinite(best) else tried[
        np.isinf(margins)]
    return float(equal[len(equal) // 2]), float(best), float(margins.min())


def staggered_rotations(sections: int, seams: int) -> Array:
    """Rotation of each section when the bending plane may be any, rad.

    Successive sections differ by half the spacing of the seams (360 deg/seams): the farthest that
    neighbors' seams can be from each other, so no seam runs on across a joint. Two halves: 0, 90,
    0 ... deg.

    >>> np.degrees(staggered_rotations(3, 2)).tolist()
    [0.0, 90.0, 0.0]

    Args:
        sections: cast lengths joined end to end.
        seams: round the tube.
    """
    return (np.arange(sections) % 2) * np.pi / max(seams, 1)
