"""Seams along the tube, joints between its sections: stress, flexibility, best rotation.

Everything takes plain numbers or arrays; `seam_checks` and `end_checks` take the tables of the
definition file. Angles are measured round the tube from the bending plane: 0 at the most
compressed or stretched fiber, 90 deg on the neutral axis.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.joints import Bond, EndJoint, Seam
from gridshell.define.types import Array, Quantity
from gridshell.tube.joints.lap import (
    edge_peel,
    single_lap,
    volkersen_compliance,
    volkersen_peak,
)
from gridshell.tube.result import Check, margin_of

LARGE_FLATTENING = 0.1  # of the radius


@dataclass(frozen=True)
class SectionLoads:
    """Forces in the tube at a section; compression positive, all unfactored.

    ``pressure`` is external less internal, Pa; ``hoop_moment`` a bending moment of the wall round
    the tube brought in from outside (straps, a point load), per length, N.
    """

    compression: Quantity = 0.0
    moment: Quantity = 0.0
    shear: Quantity = 0.0
    torque: Quantity = 0.0
    pressure: Quantity = 0.0
    hoop_moment: Quantity = 0.0
    factor: Quantity = 1.4


@dataclass(frozen=True)
class JointWall:
    """What the joints need to know of the wall, SI.

    Attributes:
        radius: of the skin's middle surface.
        thickness: of the wall at the joint (the solid land).
        modulus, poisson, strength: of its material.
        stretch: axial stiffness A11 of the smeared wall, N/m.
        EI: of the tube, N m2.
        hoop_bending: D22 of the smeared wall, N m; None leaves the flattening unchecked.
    """

    radius: float
    thickness: float
    modulus: float
    poisson: float
    strength: float
    stretch: float
    EI: float
    hoop_bending: float | None = None


def _check(
    name: str, allowable: Quantity, applied: Quantity, factor: Quantity, source: str,
    notes: tuple[str, ...] = (), kind: str = "pressure",
) -> Check:
    return Check(name, kind, allowable, applied, 1.0, source,
                 margin_of(allowable, applied, factor), notes)


def bending_shear_flow(shear: Quantity, angle: Quantity, radius: Quantity) -> Quantity:
    """Shear flow V Q/I of a thin round tube at an angle from the bending plane, N/m.

    V sin(angle)/(pi r): twice the mean on the neutral axis, none at the extreme fibers.
    Source: Timoshenko, Strength of Materials, shear in thin tubes (V Q/I; from memory).

    >>> round(float(bending_shear_flow(100.0, np.pi/2, 0.05)) / (100.0/(2*np.pi*0.05)), 12)
    2.0
    """
    return np.abs(shear * np.sin(angle)) / (np.pi * radius)


def torsion_shear_flow(torque: Quantity, radius: Quantity) -> Quantity:
    """Shear flow of torsion, T/(2 pi r^2), N/m. Source: Bredt (1896), thin closed tube."""
    return np.abs(torque) / (2 * np.pi * np.asarray(radius) ** 2)


def ovalizing_moment(
    moment: Quantity, EI: Quantity, stretch: Quantity, radius: Quantity, angle: Quantity
) -> Quantity:
    """Hoop bending moment per length as bending flattens the tube, A11 r^3 C^2 cos(2 angle)/4, N.

    C = M/EI is the curvature. The axial stresses on the curved tube press it flat with
    A11 C^2 r cos(angle); the ring's moment follows from the flattening that minimizes the energy,
    C^2 A11 r^4/(12 D22) (Brazier, L. G., Proc. Royal Society A 116, 1927), in which D22 cancels.
    For small flattening.
    """
    return stretch * np.asarray(radius) ** 3 * (moment / EI) ** 2 * np.cos(
        2 * np.asarray(angle)) / 4


def ring_moment(force: Quantity, radius: Quantity, angle: Quantity) -> Quantity:
    """Hoop moment of a ring pinched by two opposite forces, at an angle from one of them, N m.

    W r (1/pi - |sin|/2): the published 0.318 W r under the force and -0.182 W r a quarter round.
    Source: Roark's Formulas for Stress and Strain, circular rings, case 1.

    >>> [round(float(ring_moment(1.0, 1.0, a)), 3) for a in (0.0, np.pi/2)]
    [0.318, -0.182]
    """
    return force * radius * (1 / np.pi - np.abs(np.sin(angle)) / 2)


def _bond(bond: Bond, wall: JointWall) -> tuple[float, float, float, float]:
    """Modulus, shear modulus, shear and peel strength of the bond; the wall's where not given."""
    modulus = bond.modulus if bond.modulus is not None else wall.modulus
    shear = wall.strength / 2 if bond.shear_strength is None else bond.shear_strength
    peel = wall.strength / 2 if bond.peel_strength is None else bond.peel_strength
    return modulus, modulus / (2 * (1 + bond.poisson)), shear, peel


_UNKNOWN = "bond strength not given: half of the wall's was taken (no source); test a coupon"


def _notes(bond: Bond) -> tuple[str, ...]:
    return (_UNKNOWN,) if bond.shear_strength is None or bond.peel_strength is None else ()


def seam_checks(seam: Seam, bond: Bond, wall: JointWall, loads: SectionLoads, angle: Quantity
                ) -> tuple[Check, ...]:
    """Shear, peel and both together in a seam along the tube at an angle from the bending plane.

    Returns three checks: shear along and across, tension across (peel), and their interaction
    (sum of squares of the ratios; common practice, no source).
    """
    flow = bending_shear_flow(loads.shear, angle, wall.radius) + torsion_shear_flow(
        loads.torque, wall.radius)
    hoop = -np.asarray(loads.pressure, dtype=float) * wall.radius  # tension positive, N/m
    moment = np.abs(ovalizing_moment(loads.moment, wall.EI, wall.stretch, wall.radius, angle)
                    ) + np.abs(loads.hoop_moment)
    pull = np.maximum(hoop, 0.0)
    modulus, rigidity, shear_limit, peel_limit = _bond(bond, wall)
    notes = _notes(bond)
    if wall.hoop_bending is not None:
        flattening = (np.asarray(loads.moment) / wall.EI) ** 2 * (
            wall.stretch * wall.radius**4 / (12 * wall.hoop_bending))
        if np.any(flattening > LARGE_FLATTENING):
            notes += (f"bending flattens the tube by {np.max(flattening):.0%} of its radius: "
                      "beyond the small flattening of this formula",)
    t = wall.thickness
    along: Quantity
    across: Quantity
    peel: Quantity
    if seam.kind == "butt":
        along, across = flow / t, np.zeros_like(flow)
        peel = pull / t + 6 * moment / t**2
        source = "stress on the edge, N/t + 6 m/t^2"
    else:
        thin = t if seam.kind == "lap" else min(t, seam.strip_thickness or t)
        overlap = seam.overlap
        plates = 1 - wall.poisson**2
        if bond.thickness > 0:
            wall_shear = wall.modulus / (2 * (1 + wall.poisson))
            along = volkersen_peak(flow, overlap, wall_shear * t, wall_shear * thin, rigidity,
                                   bond.thickness)
            if seam.kind == "lap":
                across, peel, _ = single_lap(pull, thin, wall.modulus, overlap, modulus, rigidity,
                                             bond.thickness, wall.poisson, moment)
                source = "Goland and Reissner (1944); Volkersen (1938) for shear along"
            else:
                # A single cover strip: nothing relieves its eccentric pull, so the factor is 1.
                across = volkersen_peak(pull, overlap, wall.modulus * t, wall.modulus * thin,
                                        rigidity, bond.thickness)
                eccentric = pull * (t + thin) / 2 + moment
                peel = edge_peel(eccentric, 0.0, thin, wall.modulus / plates, overlap, modulus,
                                 bond.thickness)
                source = "Volkersen (1938); edge moment N (t + t_strip)/2 on an elastic bed"
                notes += ("the edges under the strip are taken as not bonded",)
        else:
            along, across = flow / overlap, pull / overlap
            peel = 6 * (pull * thin / 2 + moment) / np.asarray(overlap) ** 2
            source = "mean over the overlap; fused, no layer"
            notes += ("fused overlap: stress peaks at its ends are not in the mean",)
        if np.any(hoop < 0):
            notes += ("pressure closes the seam: no peel from it was counted",)
    shear = np.hypot(along, across)
    both = np.hypot(shear / shear_limit, peel / peel_limit)
    return (
        _check("seam shear", shear_limit, shear, loads.factor, source, notes),
        _check("seam peel", peel_limit, peel, loads.factor, source, notes),
        _check("seam shear and peel", 1.0, both, loads.factor,
                   "sum of squares (common practice, no source)", notes, "ratio"),
    )


def seam_flexibility(bond: Bond, wall: JointWall, seam: Seam, angles: Array) -> tuple[float, float]:
    """Added shear flexibility 1/GA (1/N) and torsion flexibility 1/GJ (1/(N m2)) of seams.

    The layer slips by q eta/(G b) under the shear flow q, b the bonded width; the slip's energy is
    that of the added flexibility: sum of (sin/(pi r))^2 eta/(G b) and n eta/(G b)/(2 pi r^2)^2.
    Derived; zero for a fused seam.
    """
    if bond.thickness == 0:
        return 0.0, 0.0
    width = wall.thickness if seam.kind == "butt" else seam.overlap
    slip = bond.thickness / (_bond(bond, wall)[1] * width)
    slip *= 2 if seam.kind == "strip" else 1
    bending = float(np.sum((np.sin(angles) / (np.pi * wall.radius)) ** 2) * slip)
    return bending, len(angles) * slip / (2 * np.pi * wall.radius**2) ** 2


def edge_line_forces(loads: SectionLoads, radius: Quantity) -> tuple[Quantity, Quantity, Quantity]:
    """Largest tension and compression per length round a section, and shear flow, N/m.

    M/(pi r^2) -+ P/(2 pi r); V/(pi r) + T/(2 pi r^2). Thin tube.
    """
    bending = np.abs(loads.moment) / (np.pi * np.asarray(radius) ** 2)
    mean = np.asarray(loads.compression) / (2 * np.pi * np.asarray(radius))
    flow = bending_shear_flow(loads.shear, np.pi / 2, radius) + torsion_shear_flow(
        loads.torque, radius)
    return np.maximum(bending - mean, 0.0), np.maximum(bending + mean, 0.0), flow


def bolt_flexibility(
    diameter: Quantity, bolt_modulus: Quantity, thickness_one: Quantity, modulus_one: Quantity,
    thickness_two: Quantity, modulus_two: Quantity, bolt_poisson: Quantity = 0.3,
) -> Quantity:
    """Slip per force of one bolt in single shear, m/N: shear and bending of the bolt, bearing.

    32 (1 + v)(t1 + t2)/(9 pi E d^2) + 8 (t2^3 + 5 t2^2 t1 + 5 t2 t1^2 + t1^3)/(5 pi E d^4)
    + 1/(E t1) + 1/(E t2) + 1/(E1 t1) + 1/(E2 t2). Source: Tate, M. B. and Rosenfeld, S. J.,
    NACA TN 1051 (1946), from memory. Close-fitting bolts; clearance is counted apart.
    """
    d, e, t1, t2 = diameter, bolt_modulus, thickness_one, thickness_two
    return (
        32 * (1 + bolt_poisson) * (t1 + t2) / (9 * np.pi * e * d**2)
        + 8 * (t2**3 + 5 * t2**2 * t1 + 5 * t2 * t1**2 + t1**3) / (5 * np.pi * e * d**4)
        + 1 / (e * t1) + 1 / (e * t2) + 1 / (modulus_one * t1) + 1 / (modulus_two * t2)
    )


def _ring(end: EndJoint, wall: JointWall) -> tuple[float, float]:
    thickness = wall.thickness if end.ring_thickness is None else end.ring_thickness
    return thickness, wall.modulus if end.ring_modulus is None else end.ring_modulus


def end_compliance(end: EndJoint, bond: Bond, wall: JointWall) -> float:
    """Opening of the joint per line force across it, m/(N/m), over that of the plain wall."""
    modulus, rigidity, _, _ = _bond(bond, wall)
    stretch = wall.modulus * wall.thickness
    if end.kind == "butt":
        return bond.thickness / (modulus * wall.thickness)
    ring, ring_modulus = _ring(end, wall)
    if end.held_by == "bolts":
        pitch = 2 * np.pi * wall.radius / end.bolts
        one = bolt_flexibility(end.bolt_diameter, end.bolt_modulus, wall.thickness, wall.modulus,
                               ring, ring_modulus)
        return float(2 * one * pitch)
    if bond.thickness == 0:
        return 0.0
    lap = volkersen_compliance(end.engagement, stretch, ring_modulus * ring, rigidity,
                               bond.thickness)
    return max(float(2 * lap - 2 * end.engagement / stretch), 0.0)


def joint_rotation(compliance: Quantity, radius: Quantity) -> Quantity:
    """Rotation per moment of a joint that opens by ``compliance`` per line force, rad/(N m).

    The line force M cos/(pi r^2) opens the joint by c M/(pi r^2) at the extreme fiber, which is
    r times the rotation: c/(pi r^3). Derived; plane ends stay plane.
    """
    return compliance / (np.pi * np.asarray(radius) ** 3)


def play_angle(clearance: Quantity, radius: Quantity) -> Quantity:
    """Angle by which free play lets the joint lean to either side, clearance/(2 r), rad."""
    return np.asarray(clearance) / (2 * np.asarray(radius))


def end_checks(end: EndJoint, bond: Bond, wall: JointWall, loads: SectionLoads
               ) -> tuple[Check, ...]:
    """Checks of a joint between two sections under axial force, moment, shear and torque."""
    tension, compression, flow = edge_line_forces(loads, wall.radius)
    modulus, rigidity, shear_limit, peel_limit = _bond(bond, wall)
    t, factor, notes = wall.thickness, loads.factor, _notes(bond)
    if end.kind == "butt":
        shut = ("the joint stays in compression all round",) if np.all(tension <= 0) else ()
        both = np.hypot(tension / t / peel_limit, flow / t / shear_limit)
        return (
            _check("joint tension", peel_limit, tension / t, factor, "N/t", notes + shut),
            _check("joint tension and shear", 1.0, both, factor,
                       "sum of squares (common practice, no source)", notes, "ratio"),
        )
    ring, ring_modulus = _ring(end, wall)
    worst = np.maximum(tension, compression)
    if end.held_by == "bolts":
        return _bolt_checks(end, wall, ring, worst, flow, factor)
    if bond.thickness == 0:
        shear = np.hypot(worst, flow) / end.engagement
        return (_check("joint shear", shear_limit, shear, factor, "mean over the engagement",
                           (*notes, "fused: stress peaks at the ends are not in the mean")),)
    across = volkersen_peak(worst, end.engagement, wall.modulus * t, ring_modulus * ring, rigidity,
                            bond.thickness)
    shear_of = 1 / (2 * (1 + wall.poisson))
    along = volkersen_peak(flow, end.engagement, wall.modulus * t * shear_of,
                           ring_modulus * ring * shear_of, rigidity, bond.thickness)
    _, peel, _ = single_lap(worst, t, wall.modulus, end.engagement, modulus, rigidity,
                            bond.thickness, wall.poisson)
    shear = np.hypot(across, along)
    both = np.hypot(shear / shear_limit, peel / peel_limit)
    calm = "the ring's hoop stiffness holds the lap straight: peel is an upper bound"
    return (
        _check("joint shear", shear_limit, shear, factor, "Volkersen (1938)", notes),
        _check("joint peel", peel_limit, peel, factor, "Goland and Reissner (1944)",
                   (*notes, calm)),
        _check("joint shear and peel", 1.0, both, factor,
                   "sum of squares (common practice, no source)", notes, "ratio"),
    )


def _bolt_checks(end: EndJoint, wall: JointWall, ring: float, worst: Quantity, flow: Quantity,
                 factor: Quantity) -> tuple[Check, ...]:
    pitch = 2 * np.pi * wall.radius / end.bolts
    force = np.hypot(worst, flow) * pitch
    d, t = end.bolt_diameter, min(wall.thickness, ring)
    edge = end.engagement / 2 if end.edge_distance is None else end.edge_distance
    notes: tuple[str, ...] = ()
    if edge < 2 * d:
        notes += ("holes nearer than two diameters to the edge (common practice, no source)",)
    if pitch < 3 * d:
        notes += ("holes nearer than three diameters to each other (common practice, no source)",)
    net = worst / (wall.thickness * (1 - d / pitch)) if d < pitch else np.full_like(worst, np.inf)
    return (
        _check("bolt bearing", end.bearing_ratio * wall.strength, force / (d * t), factor,
                   "P/(d t)", notes),
        _check("bolt shear", end.bolt_shear_strength, force / (np.pi / 4 * d**2), factor,
                   "P/A, single shear"),
        _check("wall shear-out", wall.strength / 2, force / (2 * edge * t), factor,
                   "P/(2 e t); shear strength half of the tensile (no source)", notes),
        _check("wall between bolts", wall.strength, net, factor, "net section, ductile wall",
                   ("a brittle wall sees about three times this at the holes (Kirsch 1898)",)),
    )


def best_seam_rotation(
    seam: Seam, bond: Bond, wall: JointWall, loads: SectionLoads, seams: int, step: float = 1.0
) -> tuple[float, float, float]:
    """Where to put the seams of one section when the bending plane is known.

    Tries every ``step`` degrees over the spacing of the seams and takes the angle of the first
    seam, from the bending plane, with the largest of the least margins. Returns that angle (rad),
    its margin and the margin of the worst angle.
    """
    spacing = 2 * np.pi / seams
    tried = np.arange(0.0, np.degrees(spacing), step) * np.pi / 180
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
    """
    return (np.arange(sections) % 2) * np.pi / max(seams, 1)
