"""Stress at the extreme fiber of a tube's section: bending and torsion by the distance from the
axis, pressure on the face that it acts on, and the skin that bows between its ribs."""

from __future__ import annotations

import dataclasses

import numpy as np

from gridshell.define.types import Array, Quantity
from gridshell.tube.joints.line_forces import SectionLoads
from gridshell.wall.assess import Wall, found_once
from gridshell.wall.stress import WallStress, strain_of, stress_of

_BENT, _TURNED = 0, 2  # which strain the section imposes: axial, or shear


def pressed_outside(wall: Wall) -> Quantity:
    """Largest hoop stress of pressure over p R/t, R of the skin's middle: (outer radius/R)^2.

    2 p b^2/(b^2 - a^2) at the inner face under external pressure on the outer radius b: Lame, in
    Timoshenko, Strength of Materials, thick-walled cylinder. Internal pressure gives less.

    Args:
        wall: one or many.
    """
    return (1 + wall.design.skin.thickness / (2 * wall.grid.radius)) ** 2


@found_once
def _imposed(wall: Wall) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """Strain and curvature at the fiber of a unit moment, and of a unit torque, each (..., 3).

    A point at z of the wall strains by (R + z) times the tube's curvature or twist, the other
    strains are free: ribs outside, and the outer face of a thick wall, have more than the middle.
    """
    A, B, D = wall.thin_rib
    radius = np.asarray(wall.grid.radius, float)
    found = []
    for way in (_BENT, _TURNED):
        free = [k for k in range(3) if k != way]
        pull = A[..., free, way] * radius[..., None] + B[..., free, way]
        let = -np.linalg.solve(A[..., free, :][..., free], pull[..., None])[..., 0]
        strain = np.empty((*let.shape[:-1], 3))
        strain[..., way], strain[..., free] = radius, let
        curvature = np.zeros(strain.shape)
        curvature[..., way] = 1.0
        force = (A[..., way, :] * strain).sum(-1) + B[..., way, way]
        moment = (B[..., way, :] * strain).sum(-1) + D[..., way, way]
        # Round the tube bending has the mean of cos^2, torsion all of it.
        whole = np.pi * radius * (1 if way == _BENT else 2) * (force * radius + moment)
        found.append((strain / whole[..., None], curvature / whole[..., None]))
    return found[0], found[1]


def fiber_stress(
    wall: Wall, section: SectionLoads, sign: float, way: float = 1.0
) -> WallStress:
    """Stress at the extreme fiber of a state of the section.

    Axial force, pressure and shear force strain the wall evenly through its depth. Under pressure
    skin between ribs bows: with the share w of its hoop stiffness lost to that it carries
    w p R + (1 - w) of what it carries beside ribs (derived: q = p - N/R bows it by w R N/(q A)).

    Args:
        wall: one or many.
        section: its forces.
        sign: of the bending stress there.
        way: of the shear flow.
    """
    radius, thickness = wall.grid.radius, wall.design.skin.thickness

    def line(axial: Quantity, hoop: Quantity, flow: Quantity) -> Array:
        return np.stack(np.broadcast_arrays(
            *(np.asarray(f, float) for f in (axial, hoop, flow))), axis=-1)

    def grown(part: Array, by: Quantity) -> Array:
        answer: Array = part * np.asarray(by, float)[..., None]
        return answer

    hoop = -section.pressure * radius * pressed_outside(wall)
    even = line(-section.compression / (2 * np.pi * radius), hoop,
                way * section.shear / (np.pi * radius))
    strain, _ = strain_of(wall, even)
    bent, turned = _imposed(wall)
    moment, torque = sign * section.moment, way * section.torque
    state = stress_of(
        wall, strain + grown(bent[0], moment) + grown(turned[0], torque),
        grown(bent[1], moment) + grown(turned[1], torque))
    bowing = wall.bowing.hoop_loss
    if not np.any(np.asarray(bowing) > 0) or not np.any(np.asarray(section.pressure) != 0):
        return state
    beside = stress_of(wall, *strain_of(wall, line(0.0, hoop, 0.0))).skin_middle[..., 1]
    more = line(0.0, bowing * (hoop / thickness - beside), 0.0)
    return dataclasses.replace(
        state, skin_rib_side=state.skin_rib_side + more,
        skin_smooth_side=state.skin_smooth_side + more)
