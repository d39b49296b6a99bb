"""What joints are loaded by: forces of a section, and the line forces they make round a thin tube.

Angles are measured round the tube from the bending plane: 0 at the most compressed or stretched
fiber, 90 deg on the neutral axis.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from gridshell.define.tables.joints import Bond
from gridshell.define.types import Quantity
from gridshell.tube.result import Check, margin_of
from gridshell.wall.assess import Wall
from gridshell.wall.stress import skin_per_force


@dataclass(frozen=True)
class SectionLoads:
    """Forces in the tube at a section, all unfactored.

    Attributes:
        compression: axial force, compression positive, N.
        moment: bending moment, N m.
        shear: shear force, N.
        torque: N m.
        pressure: external less internal, Pa.
        hoop_moment: bending moment of the wall round the tube brought in from outside (straps, a
            point load), per length, N.
        factor: design factor on all of them.
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
    """What the joints need to know of the wall.

    Attributes:
        radius: of the skin's middle surface, m.
        thickness: of the wall at the joint (the solid land), m.
        modulus: of its material, Pa.
        poisson: of its material.
        strength: of its material, Pa.
        stretch: axial stiffness of the smeared wall, free to contract round the tube, N/m.
        EI: of the tube, N m2.
        hoop_bending: D22 of the smeared wall, N m; None leaves the flattening unchecked.
        skin_axial: axial stress of the skin per axial line force, 1/m; None: that of the stretch.
        skin_hoop: hoop stress of the skin per axial line force, 1/m.
        skin_shear: shear stress of the skin per shear flow, 1/m; None: as ``skin_axial``.
    """

    radius: Quantity
    thickness: Quantity
    modulus: Quantity
    poisson: Quantity
    strength: Quantity
    stretch: Quantity
    EI: Quantity
    hoop_bending: Quantity | None = None
    skin_axial: Quantity | None = None
    skin_hoop: Quantity = 0.0
    skin_shear: Quantity | None = None


def joint_wall(wall: Wall, EI: Quantity, thickness: Quantity | None = None) -> JointWall:
    """What the joints need to know of an assessed wall.

    Args:
        wall: one or many.
        EI: of the tube, N m2.
        thickness: of the wall at the joint, m; None: its full depth, a solid land.
    """
    known, A = wall.properties, wall.A
    pulled, sheared = skin_per_force(wall, 0), skin_per_force(wall, 2)
    return JointWall(
        radius=wall.grid.radius,
        thickness=wall.depth if thickness is None else thickness,
        modulus=known.modulus,
        poisson=known.poisson,
        strength=np.nan if known.strength is None else known.strength,
        # As EI has it: bending pulls a tube whose wall is free to contract.
        stretch=A[..., 0, 0] - A[..., 0, 1] ** 2 / A[..., 1, 1],
        EI=EI,
        hoop_bending=wall.D[..., 1, 1],
        skin_axial=pulled[..., 0], skin_hoop=pulled[..., 1], skin_shear=sheared[..., 2],
    )


@dataclass(frozen=True)
class BondNumbers:
    """The bond as it is used: the wall's own numbers where it states none.

    Attributes:
        modulus: Pa.
        shear_modulus: Pa.
        shear_strength: Pa.
        peel_strength: Pa.
        notes: what was assumed.
    """

    modulus: Quantity
    shear_modulus: Quantity
    shear_strength: Quantity
    peel_strength: Quantity
    notes: tuple[str, ...]


_UNKNOWN = "bond strength not given: half of the wall's was taken (no source); test a coupon"


def bond_numbers(bond: Bond, wall: JointWall) -> BondNumbers:
    """Modulus, shear modulus and strengths of the bond; the wall's where not given."""
    modulus = bond.modulus if bond.modulus is not None else wall.modulus
    given = bond.shear_strength is not None and bond.peel_strength is not None
    return BondNumbers(
        modulus, modulus / (2 * (1 + bond.poisson)),
        wall.strength / 2 if bond.shear_strength is None else bond.shear_strength,
        wall.strength / 2 if bond.peel_strength is None else bond.peel_strength,
        () if given else (_UNKNOWN,),
    )


def joint_check(
    name: str, allowable: Quantity, applied: Quantity, factor: Quantity, *, source: str,
    notes: tuple[str, ...] = (), kind: str = "pressure",
) -> Check:
    """One check of a joint, without a knockdown.

    Args:
        name: what fails.
        allowable: in the unit of its kind.
        applied: unfactored, in the same unit.
        factor: design factor.
        source: of the formula.
        notes: its limits.
        kind: of quantity.
    """
    return Check(
        name=name, kind=kind, allowable=allowable, applied=applied, knockdown=1.0, source=source,
        margin=margin_of(allowable, applied, factor), notes=notes, subject="joint",
    )


def bending_shear_flow(shear: Quantity, angle: Quantity, radius: Quantity) -> Quantity:
    """Shear flow V Q/I of a thin round tube, N/m.

    V sin(angle)/(pi r): twice the mean on the neutral axis, none at the extreme fibers.
    Source: Timoshenko, Strength of Materials, shear in thin tubes (V Q/I; from memory).

    >>> round(float(bending_shear_flow(100.0, np.pi/2, 0.05)) / (100.0/(2*np.pi*0.05)), 12)
    2.0

    Args:
        shear: shear force, N.
        angle: from the bending plane, rad.
        radius: m.
    """
    return np.abs(shear * np.sin(angle)) / (np.pi * radius)


def torsion_shear_flow(torque: Quantity, radius: Quantity) -> Quantity:
    """Shear flow of torsion, T/(2 pi r^2), N/m. Source: Bredt (1896), thin closed tube.

    Args:
        torque: N m.
        radius: m.
    """
    return np.abs(torque) / (2 * np.pi * np.asarray(radius) ** 2)


def edge_line_forces(loads: SectionLoads, radius: Quantity) -> tuple[Quantity, Quantity, Quantity]:
    """Largest tension and compression per length round a section, and shear flow, N/m.

    M/(pi r^2) -+ P/(2 pi r); V/(pi r) + T/(2 pi r^2). Thin tube.

    Args:
        loads: of the section.
        radius: m.
    """
    bending = np.abs(loads.moment) / (np.pi * np.asarray(radius) ** 2)
    mean = np.asarray(loads.compression) / (2 * np.pi * np.asarray(radius))
    flow = bending_shear_flow(loads.shear, np.pi / 2, radius) + torsion_shear_flow(
        loads.torque, radius)
    return np.maximum(bending - mean, 0.0), np.maximum(bending + mean, 0.0), flow
